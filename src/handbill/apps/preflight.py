"""Preflight of whole campaigns. Enters: a campaign file; leaves: a `Letter` with everything found in it.

Each variant is resolved and rendered as compile would, and nothing is written.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from handbill.base.errors import Fault, Mistake, MistakesError, Place
from handbill.base.kept import Kept
from handbill.base.source import Doc
from handbill.loader import MARK, Loader
from handbill.pipeline import Desk, campaign_file, produce, renderer_for
from handbill.preflight.contract import Rule
from handbill.preflight.registry import every
from handbill.preflight.runner import FAILED, UNREAD, UNUSED, Outcome, Seen, run
from handbill.preflight.settings import settings
from handbill.preflight.specimen import Specimen
from handbill.render.render import Piece, Renderer, assemble, pieces
from handbill.report.measured import measured
from handbill.report.model import Gathered, Letter, in_order, letter
from handbill.report.readings import boxes, read
from handbill.write.coded import MOST


class Examiner:
    """Examines campaigns of one workspace; what was said of a section serves wherever it stands again."""

    def __init__(self, loader: Loader, only: Sequence[str] = ()) -> None:
        self.loader = loader
        known = every()
        self.known: Mapping[str, Rule] = known
        self.rules = [rule for slug, rule in known.items() if not only or slug in only]
        self.pseudo = {slug: known[slug] for slug in (FAILED, UNREAD, UNUSED)}
        self.seen = Seen()

    def examine(self, path: Path, *, brand: str | None = None, variant: str | None = None) -> Letter:
        """One campaign's report. Raises MistakesError for a campaign that does not compile."""
        return self.examine_doc(campaign_file(self.loader, path), brand=brand, variant=variant)

    def examine_doc(self, doc: Doc, *, brand: str | None = None, variant: str | None = None) -> Letter:
        """As `examine`, from nodes."""
        outcomes: list[Outcome] = []
        variants: list[str] = []
        gathered = Gathered()
        stacks: list[list[str]] = []
        first: Specimen | None = None
        for specimen in self.specimens(doc, brand, variant):
            chosen, wrong = settings(specimen.mail, self.known)
            if wrong:
                raise MistakesError(wrong)
            _ = specimen.history  # mistakes in it are the shop's, and no rule has failed
            outcomes.append(run(specimen, self.rules, chosen, self.pseudo, self.seen))
            variants.append(specimen.variant)
            stacks.append([part.id for part in specimen.parts])
            gathered.add(specimen.variant, read(specimen), measured(specimen))
            if specimen.others is not None and specimen.others.has("layout"):
                name = f"{specimen.variant} for other recipients"
                gathered.add(name, tuple(boxes(specimen.others)), measured(specimen.others))
            first = first or specimen
        assert first is not None  # a campaign has one variant at least
        mail = first.mail
        return letter(
            doc.name, mail.campaign.campaign, first.subject, outcomes, variants, in_order(stacks), gathered
        )

    def specimens(self, doc: Doc, brand: str | None, variant: str | None) -> Iterator[Specimen]:
        """Every variant that is asked for, made as compile makes it. Raises MistakesError."""
        desk = Desk(self.loader, doc, brand=brand)
        numbers = range(len(desk)) if variant is None else desk.numbers([variant])
        workspace = self.loader.read(self.loader.root / MARK).root
        kept: Kept[Piece] = Kept(MOST)
        renderers: dict[str, Renderer] = {}
        for number in numbers:
            mail = desk.mail(number)
            produce(mail, self.loader.cache, desk.coder)
            renderer = renderers.setdefault(mail.library.digest, renderer_for(mail))
            made, mistakes = pieces(mail, renderer, kept)
            if mistakes:
                raise MistakesError(mistakes)
            rendered = assemble(mail, made, renderer)
            found = Specimen(mail, made, rendered, self.loader.workspace, workspace, desk.id(number))
            if found.unseen:
                found.others = others_of(found, renderer)
            yield found


def others_of(found: Specimen, renderer: Renderer) -> Specimen:
    """The mail as recipients get it who have what the sample lacks, and lack what it has."""
    sections = tuple(
        one if one.condition is None else replace(one, in_sample=not one.in_sample)
        for one in found.mail.sections
    )
    mail = replace(found.mail, sections=sections)
    made, wrong = pieces(mail, renderer)
    if wrong:
        raise MistakesError(wrong)
    rendered = assemble(mail, made, renderer)
    return Specimen(mail, made, rendered, found.workspace, found.workspace_node, found.variant)


def unknown_rules(names: Sequence[str]) -> list[Mistake]:
    """A mistake for each name that is no rule."""
    from handbill.preflight.registry import pick

    wrong = []
    for name in names:
        try:
            pick(name)
        except Fault as fault:
            wrong.append(fault.at(Place("--rule")))
    return wrong
