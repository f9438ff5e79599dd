"""Enters: the built-in blocks and the demo shops; leaves: docs/blocks/, a page with pictures for each block.

A test holds the text to the blocks. Pictures need Chromium; they show each sample on a desktop and a phone.
usage: python tests/tools/block_docs.py [--text]     (--text leaves the pictures as they are)
"""

from __future__ import annotations

import io
import sys
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests"))

from handbill.apps.describe import field_rows, measure_rows, word_rows  # noqa: E402
from handbill.apps.samples import FILE, Sample, compile_sample, visible  # noqa: E402
from handbill.base.cache import Cache  # noqa: E402
from handbill.base.source import read_yaml  # noqa: E402
from handbill.library.find import Found, blocks  # noqa: E402
from handbill.library.spec import BlockSpec  # noqa: E402
from handbill.loader import Loader  # noqa: E402
from handbill.models.check import validate  # noqa: E402
from handbill.pictures.produce import produced  # noqa: E402

DOCS = ROOT / "docs" / "blocks"
PICTURES = DOCS / "pictures"
BRANDS = {"orrowby": "Orrowby", "quillfern": "Quillfern"}
WIDEST, GAP, MOST = 860, 24, 40_000  # px, px, bytes
GROUND = "#e9e6e0"
# A shop with nothing of its own, so that the pages say what the blocks say.
PLAIN = """\
handbill: 1
brand: plain
name: The Shop
site: https://shop.example
pictures_at: https://pictures.shop.example/
sender: {name: The Shop, address: letters@shop.example}
postal_address: 1 Example Street, Exampletown
legal: You get this letter because you asked for it.
navigation:
  - {label: Everything, link: /all}
  - {label: Repairs, link: /repairs}
"""


def spec_of(found: Found) -> BlockSpec:
    spec, _wrong = validate(BlockSpec, read_yaml(found.folder / "block.yaml", found.name).root)
    assert spec is not None
    return spec


def pages() -> dict[str, str]:
    """Every page of docs/blocks by file name."""
    found = blocks(())
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder)
        (root / "brands/plain").mkdir(parents=True)
        (root / "handbill.yaml").write_text("handbill: 1\n")
        (root / "brands/plain/brand.yaml").write_text(PLAIN)
        loader = Loader(root, Cache())
        texts = {name: compile_sample(loader, "plain", one).text for name, one in found.items()}
    specs = {name: spec_of(one) for name, one in found.items()}
    made = {
        f"{name}.md": page(specs[name], (one.folder / FILE).read_text("utf-8"), texts[name])
        for name, one in found.items()
    }
    rows = [[f"[{name}]({name}.md)", spec.about] for name, spec in specs.items()]
    lines = [
        "# Blocks",
        "",
        "What is built in: each block with its fields, and its sample in two of the demo shops. On a",
        "terminal, `handbill blocks show NAME` says the same; `handbill blocks sheet FILE.html` makes a page",
        "of your own workspace's blocks in your own shops. To write one: [Writing",
        "blocks](../writing-blocks.md).",
        "",
        *table(("block", "what it is"), rows),
        "",
    ]
    return {"README.md": "\n".join(lines), **made}


def page(spec: BlockSpec, sample: str, text: str) -> str:
    """The page of one block in Markdown."""
    name = spec.block
    lines = [f"# {name}", "", spec.about]
    if spec.use:
        lines += ["", f"**Use.** {spec.use}"]
    for brand, shop in BRANDS.items():
        alt = f"The sample of {name} in {shop}, on a desktop and on a phone"
        lines += ["", f"![{alt}](pictures/{name}-{brand}.jpg)"]
    fields = [[f"`{one}`", kind, about] for one, kind, about in field_rows(spec.fields, {}, step="· ")]
    if fields:
        lines += ["", "## Fields", "", *table(("field", "what it takes", "what it is for"), fields)]
    measures = [[f"`{one}`", f"`{size}`"] for one, size in measure_rows(spec, {})]
    if measures:
        first = next(iter(spec.measures))
        lines += [
            "",
            "## Measures",
            "",
            f"Sizes in px. A brand sets its own in brand.yaml: `blocks: {{{name}: {{{first}: …}}}}`.",
            "",
            *table(("measure", "default"), measures),
        ]
    words = [list(row) for row in word_rows(spec)]
    if words:
        lines += ["", "## Words", "", *table(("language", "word", "text"), words)]
    lines += ["", "## Sample", "", "```yaml", sample.rstrip("\n"), "```"]
    lines += ["", "As text:", "", "```", text or "(nothing)", "```", ""]
    return "\n".join(lines)


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> list[str]:
    lines = ["| " + " | ".join(heads) + " |", "|" + "---|" * len(heads)]
    return lines + ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows]


def samples() -> Iterator[Sample]:
    loader = Loader(ROOT / "demo", Cache())
    for brand in BRANDS:
        for found in visible(loader, brand).values():
            if found.label == "built in":
                yield compile_sample(loader, brand, found)


def draw() -> Mapping[Path, int]:
    """Take every picture; their sizes in bytes."""
    from PIL import Image

    from outside.browser import View, start_reader
    from tools.shots import STAND_IN

    sizes = {}
    PICTURES.mkdir(parents=True, exist_ok=True)
    with start_reader() as reader, tempfile.TemporaryDirectory() as folder:
        shots = Path(folder)
        for sample in samples():
            for plan in sample.mail.plans:
                (shots / plan.name).write_bytes(produced(plan, sample.mail.shop.pictures.cache))
            parts = []
            for width in (600, 375):
                with reader.open(sample.html, shots, View(width)) as opened:
                    opened.page.add_style_tag(content=STAND_IN)
                    opened.page.evaluate("document.fonts.ready")
                    # a block without height of its own would be shown as tall as the window
                    height = max(8, opened.page.evaluate("document.body.getBoundingClientRect().height"))
                    opened.page.set_viewport_size({"width": width, "height": int(height)})
                    parts.append(
                        Image.open(io.BytesIO(opened.page.screenshot(full_page=True))).convert("RGB")
                    )
            tall = max(part.height for part in parts)
            whole = Image.new("RGB", (sum(part.width for part in parts) + 3 * GAP, tall + 2 * GAP), GROUND)
            left = GAP
            for part in parts:
                whole.paste(part, (left, GAP))
                left += part.width + GAP
            scale = min(1, WIDEST / whole.width, 1100 / whole.height)
            whole = whole.resize(
                (round(whole.width * scale), round(whole.height * scale)), Image.Resampling.LANCZOS
            )
            target = PICTURES / f"{sample.block}-{sample.brand}.jpg"
            sizes[target] = save(whole, target)
    return sizes


def save(picture: object, target: Path) -> int:
    """A JPEG of at most MOST bytes, as good as that allows."""
    for quality in range(82, 20, -6):
        data = io.BytesIO()
        picture.save(data, "JPEG", quality=quality, optimize=True, progressive=True)  # type: ignore[attr-defined]
        if data.tell() <= MOST:
            break
    target.write_bytes(data.getvalue())
    return data.tell()


def main(arguments: Sequence[str]) -> int:
    made = pages()
    DOCS.mkdir(parents=True, exist_ok=True)
    for path in DOCS.glob("*.md"):
        if path.name not in made:
            path.unlink()
    for name, text in made.items():
        (DOCS / name).write_text(text, "utf-8")
    print(f"{len(made)} pages in {DOCS}")
    if "--text" not in arguments:
        sizes = draw()
        for path in PICTURES.glob("*.jpg"):
            if path not in sizes:
                path.unlink()
        print(f"{len(sizes)} pictures, the largest {max(sizes.values()):,} bytes")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
