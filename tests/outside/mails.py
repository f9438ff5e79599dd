"""Enters: the demo's campaigns and brands; leaves: their mails, read back from the files that were written.

A campaign is compiled by the installed command. A composed mail holds the sample of every block that a brand
sees, in one direction, so that one look at it covers the library.
"""

from __future__ import annotations

import json
import subprocess
import sys
from dataclasses import dataclass
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from pathlib import Path

from tests.composing import Spot, document, every_sample, resolved, rewrite, specs, write

from handbill.base.cache import Cache
from handbill.base.source import Node, child, entries, read_yaml, scalar
from handbill.loader import Loader
from handbill.models.limits import MAX_LABEL

ROOT = Path(__file__).resolve().parents[2]
CAMPAIGNS = tuple(sorted((ROOT / "demo" / "campaigns").glob("*.yaml")))
BRANDS = tuple(sorted(path.parent.name for path in ROOT.glob("demo/brands/*/brand.yaml")))
COMPOSED = tuple((brand, rtl) for brand in BRANDS for rtl in (False, True))
TOOLS = ROOT / ".tools" / "node" / "node_modules"


@dataclass(frozen=True)
class Mail:
    """One compiled mail; `folder` is the variant's folder in the output tree.

    `buttons` are the labels of its buttons, … for a fact and the rest; `preheader` goes up to its first fact.
    """

    folder: Path
    buttons: tuple[str, ...]
    preheader: str

    @property
    def name(self) -> str:
        return self.folder.parent.name

    @property
    def eml(self) -> bytes:
        return (self.folder / "email.eml").read_bytes()

    @property
    def message(self) -> EmailMessage:
        message = message_from_bytes(self.eml, policy=default)
        assert isinstance(message, EmailMessage)
        return message

    @property
    def html(self) -> str:
        """The HTML as the sample recipient gets it."""
        part = self.message.get_body(("html",))
        assert part is not None, f"{self.folder}/email.eml has no HTML part"
        content = part.get_content()
        assert isinstance(content, str)
        return content

    @property
    def pictures(self) -> Path:
        return self.folder.parent / "pictures"


def compile_campaign(campaign: Path, out: Path, pictures: str | None = None) -> Mail:
    """The campaign's main mail, or the first of its variants, compiled into `out`.

    `pictures` is as the command's option takes it.
    """
    command = [str(Path(sys.executable).with_name("handbill")), "compile", str(campaign), "--out", str(out)]
    if pictures is not None:
        command += ["--pictures", pictures]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=600, check=False)
    assert done.returncode == 0, f"{' '.join(command)}\n{done.stdout}{done.stderr}"
    root = read_yaml(campaign, campaign.name).root
    brand = scalar(child(root, "brand")) or ""
    sections = [node for node in entries(child(root, "stack")) if child(node, "block") is not None]
    preheader = plain_start(scalar(child(root, "preheader")) or "")
    return Mail(variants(out / campaign.stem)[0], labels(sections, brand), preheader)


def variants(folder: Path) -> list[Path]:
    """The folders of a compiled campaign's variants, the main mail first where there is one."""
    listed = json.loads((folder / "manifest.json").read_text("utf-8"))["variants"]
    return [folder / name for name in sorted((one["id"] for one in listed), key=lambda name: name != "main")]


def compose(brand: str, rtl: bool, out: Path, sections: list[Node] | None = None, name: str = "all") -> Mail:
    """The samples of every block in one mail of `brand`, or the sections given."""
    loader = demo()
    stack = every_sample(loader, brand) if sections is None else sections
    doc = document(brand, stack, rtl=rtl, name=f"{name}-{brand}-{'rtl' if rtl else 'ltr'}")
    folder = write(loader, resolved(loader, doc), out)
    return Mail(folder, labels(stack, brand), scalar(child(doc.root, "preheader")) or "")


def demo() -> Loader:
    return Loader(ROOT / "demo", Cache())


def labels(sections: list[Node], brand: str) -> tuple[str, ...]:
    """What the buttons say, a fact and what follows it as …; those that start with one are left out."""
    found: list[str] = []

    def note(spot: Spot, text: str) -> str:
        if spot.kind == "label" and spot.most == MAX_LABEL:
            found.append(plain_start(text) + "…" * ("${" in text))
        return text

    known = specs(demo(), brand)
    for section in sections:
        rewrite(section, known, note)
    return tuple(label for label in found if label not in ("", "…"))


def plain_start(text: str) -> str:
    return text.partition("${")[0].strip()
