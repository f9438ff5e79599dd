"""Small workspaces for tests: a shop with two products, a review, a picture, and a campaign that compiles."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner
from PIL import Image

from handbill.cli.main import cli

WORKSPACE = """\
handbill: 1
fields: {first_name: {}, vip: {}}
"""
BRAND = """\
handbill: 1
brand: orrowby
name: Orrowby
site: https://orrowby.example
pictures_at: https://pictures.orrowby.example/
languages: [en-IE]
timezone: Europe/Dublin
sender: {name: Orrowby, address: letters@orrowby.example}
postal_address: 4 Tin Lane, Harrowmere
products: {file: products.csv}
reviews: {file: reviews.csv}
tones:
  ink: {ground: "#1a2335", text: "#e8e9f2", title: "#ffffff"}
"""
PRODUCTS = """\
sku,name,price,was,picture,alt,link
K-101,Tarn,45,90,one.png,A kettle,/tarn
K-102,Fell,30,,one.png,A pot,/fell
"""
REVIEWS = "id,product,name,text\nR-1,K-101,Ada,It boils.\n"
HEAD = """\
handbill: 1
campaign: x
brand: orrowby
send: 2027-01-15T08:00
subject: Last days
offer: {kind: markdown, ends: 2027-01-17T23:59}
stack:
  - block: masthead
"""  # the stack goes on at line 9
FOOT = "  - block: footer-nav\n"


@dataclass(frozen=True)
class Result:
    """What `handbill compile` said and did."""

    code: int
    lines: list[str]
    output: str
    files: list[str]


def picture(width: int = 8, height: int = 4) -> bytes:
    """A small PNG."""
    out = io.BytesIO()
    Image.new("RGB", (width, height), "#a05030").save(out, "PNG")
    return out.getvalue()


def make(root: Path, files: dict[str, str | bytes | None] | None = None) -> Path:
    """A workspace at `root`; `files` are written over it, None takes a file away."""
    content: dict[str, str | bytes | None] = {
        "handbill.yaml": WORKSPACE,
        "brands/orrowby/brand.yaml": BRAND,
        "brands/orrowby/products.csv": PRODUCTS,
        "brands/orrowby/reviews.csv": REVIEWS,
        "brands/orrowby/pictures/one.png": picture(),
        "campaigns/x.yaml": HEAD + FOOT,
        **(files or {}),
    }
    for name, data in content.items():
        if data is not None:
            path = root / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return root


def compile_files(root: Path, *names: str, options: tuple[str, ...] = ()) -> Result:
    """`handbill compile` as a shell in `root` would run it."""
    run = CliRunner().invoke(
        cli, ["compile", *(names or ("campaigns/x.yaml",)), *options], catch_exceptions=False
    )
    out = root / "out"
    files = sorted(str(path.relative_to(out)) for path in out.rglob("*") if path.is_file())
    return Result(run.exit_code, run.stderr.splitlines(), run.stdout, files)


BLOCK = {
    "block.yaml": """\
handbill: 1
block: jotting
about: A line.
fields:
  words: {type: text, required: true}
""",
    "block.html.j2": '<p class="words">{{ words }}</p>\n',
    "block.css": ".words { --type: text; color: var(--text); }\n",
    "block.txt.j2": "{{ words }}\n",
}


def block(folder: str = "library/blocks/jotting", **parts: str | None) -> dict[str, str | bytes | None]:
    """The files of a block `jotting`; `yaml`, `html`, `css` and `txt` replace its parts, None drops one."""
    names = {"yaml": "block.yaml", "html": "block.html.j2", "css": "block.css", "txt": "block.txt.j2"}
    files: dict[str, str | None] = {**BLOCK, **{names[part]: text for part, text in parts.items()}}
    return {f"{folder}/{name}": text for name, text in files.items()}
