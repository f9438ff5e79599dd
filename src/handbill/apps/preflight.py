"""Preflight of whole campaigns. Enters: a campaign file; leaves: a `Letter` with everything found in it.

Each variant is resolved and rendered as compile would, and nothing is written.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

from handbill.base.errors import Mistake, MistakesError
from handbill.base.source import Doc
from handbill.load import MARK, Loader
from handbill.pipeline import campaign_file, produce, renderer_for, resolve_doc
from handbill.preflight.contract import Rule
from handbill.preflight.registry import every
from handbill.preflight.runner import FAILED, UNREAD, UNUSED, Kept, Outcome, run
from handbill.preflight.settings import settings
from handbill.preflight.specimen import Specimen
from handbill.render.render import assemble, pieces
from handbill.report.model import Letter, letter
from handbill.report.readings import read
from handbill.write.files import MAIN


class Examiner:
    """Examines campaigns of one workspace; what was said of a section serves wherever it stands again."""

    def __init__(self, loader: Loader, only: Sequence[str] = ()) -> None:
        self.loader = loader
        known = every()
        self.known: Mapping[str, Rule] = known
        self.rules = [rule for slug, rule in known.items() if not only or slug in only]
        self.pseudo = {slug: known[slug] for slug in (FAILED, UNREAD, UNUSED)}
        self.kept = Kept()

    def examine(self, path: Path, *, brand: str | None = None, variant: str | None = None) -> Letter:
        """One campaign's report. Raises MistakesError for a campaign that does not compile."""
        return self.examine_doc(campaign_file(self.loader, path), brand=brand, variant=variant)

    def examine_doc(self, doc: Doc, *, brand: str | None = None, variant: str | None = None) -> Letter:
        """As `examine`, from nodes."""
        outcomes: list[Outcome] = []
        variants: list[str] = []
        first: Specimen | None = None
        for specimen in self.specimens(doc, brand, variant):
            chosen, wrong = settings(specimen.mail, self.known)
            if wrong:
                raise MistakesError(wrong)
            outcomes.append(run(specimen, self.rules, chosen, self.pseudo, self.kept))
            variants.append(specimen.variant)
            first = first or specimen
        assert first is not None  # a campaign has one variant at least
        mail = first.mail
        sections = dict.fromkeys(part.id for part in first.parts)
        return letter(
            doc.name, mail.campaign.campaign, first.subject, outcomes, variants, tuple(sections), read(first)
        )

    def specimens(self, doc: Doc, brand: str | None, variant: str | None) -> Iterator[Specimen]:
        """Every variant that is asked for, made as compile makes it."""
        mail = resolve_doc(self.loader, doc, brand=brand)
        produce(mail, self.loader.cache)
        renderer = renderer_for(mail)
        made, wrong = pieces(mail, renderer)
        if wrong:
            raise MistakesError(wrong)
        workspace = self.loader.read(self.loader.root / MARK).root
        yield Specimen(
            mail, made, assemble(mail, made, renderer), self.loader.workspace, workspace,
            f"brand={brand}" if brand else MAIN,
        )  # fmt: skip


def unknown_rules(names: Sequence[str]) -> list[Mistake]:
    """A mistake for each name that is no rule."""
    from handbill.base.errors import Fault, Place
    from handbill.preflight.registry import pick

    wrong = []
    for name in names:
        try:
            pick(name)
        except Fault as fault:
            wrong.append(fault.at(Place("--rule")))
    return wrong
