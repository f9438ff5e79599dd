"""What a compile came to, as data: kept for the next run, printed by the command line, given to callers."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple

from handbill.base.frozen import dataclass
from handbill.preflight.brief import Brief


@dataclass(frozen=True, slots=True)
class CompiledVariant:
    """One mail compiled: its subject as the sample reads it, sizes in bytes, whether any file was written.

    `html` and `text` are sizes after decoding, `eml` is that of the message, `pictures` that of all pictures
    of the mail together.
    """

    id: str
    campaign_folder: Path
    subject: str
    html: int
    text: int
    eml: int
    pictures: int
    written: bool

    @property
    def folder(self) -> Path:
        """Where email.html, email.txt, email.eml and manifest.json lie."""
        return self.campaign_folder / self.id


class Hosting(NamedTuple):
    """What a brand's map of hosted pictures, `file`, leaves open: pictures it does not name, which the mail
    seeks at `base`, and those it names that no mail in the output folder has."""

    file: str
    base: str
    missing: tuple[str, ...]
    unknown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class CompiledCampaign:
    """A campaign compiled: its variants in order, the ids of those removed, and whether any file changed.

    Pictures lie in `folder`/pictures. `html_limit` and `pictures_limit` are the workspace's budgets for
    the HTML and the pictures of a mail in bytes, `findings` what preflight's cheap rules say of any variant,
    each once, `hosting` what the brands' maps of hosted pictures leave open.
    """

    campaign: str
    folder: Path
    variants: tuple[CompiledVariant, ...]
    removed: tuple[str, ...]
    changed: bool
    html_limit: int
    pictures_limit: int
    findings: tuple[Brief, ...] = ()
    hosting: tuple[Hosting, ...] = ()

    def lines(self) -> Iterator[str]:
        """As text to keep, a line at a time."""
        head = {
            "campaign": self.campaign, "folder": str(self.folder), "html_limit": self.html_limit,
            "pictures_limit": self.pictures_limit,
            "findings": self.findings, "hosting": self.hosting,
        }  # fmt: skip
        yield json.dumps(head) + "\n"
        for one in self.variants:
            yield json.dumps([one.id, one.subject, one.html, one.text, one.eml, one.pictures]) + "\n"


def unchanged(lines: Iterator[str]) -> CompiledCampaign:
    """What was kept, now that nothing was written."""
    head: Mapping[str, Any] = json.loads(next(lines))
    folder = Path(head["folder"])
    variants = tuple([_variant(folder, *json.loads(line)) for line in lines])
    findings = tuple([Brief(*one) for one in head["findings"]])
    limits = head["html_limit"], head["pictures_limit"]
    hosting = tuple([Hosting(file, base, *map(tuple, rest)) for file, base, *rest in head["hosting"]])
    return CompiledCampaign(head["campaign"], folder, variants, (), False, *limits, findings, hosting)


def _variant(
    folder: Path, name: str, subject: str, html: int, text: int, eml: int, pictures: int
) -> CompiledVariant:
    return CompiledVariant(name, folder, subject, html, text, eml, pictures, False)
