"""Runs rules. Enters: a specimen and the shop's settings; leaves: findings with lines, and what was not run.

A rule that crashes becomes a finding, and the run goes on. What a rule says of one section is kept, so that
the same section in the next variant costs nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from handbill.base.frozen import dataclass
from handbill.preflight.contract import Finding, Hit, NotRun, Rule, Where, brand, head
from handbill.preflight.part import Part
from handbill.preflight.places import located
from handbill.preflight.settings import Settings, Silence
from handbill.preflight.specimen import Specimen

#: Pseudo-rules: the runner itself speaks through them.
FAILED, UNUSED, UNREAD = "rule-failed", "unused-silence", "not-measured"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a run found in one mail. `silenced` are findings that were kept from speaking, and by what."""

    findings: tuple[Finding, ...]
    silenced: tuple[tuple[Finding, Silence], ...]
    not_run: tuple[NotRun, ...]
    rules: int


class Seen:
    """What rules said of sections before: by rule, and by what the section holds."""

    def __init__(self) -> None:
        self._hits: dict[tuple[object, ...], tuple[Hit, ...]] = {}
        self._parts: dict[tuple[object, ...], Part] = {}  # holding a section keeps its identity its own

    def hits(self, rule: Rule, part: Part) -> tuple[Hit, ...]:
        """What the rule says of the section. Raises whatever the rule raises."""
        assert rule.each is not None
        key = rule.slug, id(part.spoken), part.piece.html, part.piece.sample_html
        found = self._hits.get(key)
        if found is None:
            found = self._hits[key] = tuple(rule.each(part))
            self._parts[key] = part
        return found


def run(
    specimen: Specimen, rules: Iterable[Rule], settings: Settings, pseudo: Mapping[str, Rule],
    seen: Seen | None = None,
) -> Outcome:  # fmt: skip
    """Every rule over one mail. `pseudo` are the rules that the runner itself speaks through, by name."""
    seen = seen if seen is not None else Seen()
    spoken: list[Finding] = []
    silenced: list[tuple[Finding, Silence]] = []
    not_run: list[NotRun] = []
    count = 0

    def say(rule: Rule, hit: Hit, of: Specimen | None = None) -> None:
        found = _finding(rule, hit, of or specimen, settings)
        silence = settings.silence(rule.slug)
        if silence is None:
            spoken.append(found)
        elif found not in [one for one, _by in silenced]:
            silenced.append((found, silence))

    unread: set[str] = set()
    asked: set[str] = {*pseudo}
    for rule in rules:
        asked.add(rule.slug)
        if rule.check is None and rule.each is None:
            continue
        lacking = next((facet for facet in sorted(rule.needs) if not specimen.has(facet)), None)
        if lacking is not None:
            reason = specimen.missing[lacking].reason
            not_run.append(NotRun(rule.slug, lacking, reason))
            if lacking not in unread:
                unread.add(lacking)
                say(pseudo[UNREAD], Hit(f"the {lacking} of this mail cannot be read: {reason}"))
            continue
        count += 1
        try:
            if rule.check is not None:
                for hit in rule.check(specimen):
                    say(rule, hit)
        except Exception as error:  # a fault of the rule's must not keep the others from looking
            say(pseudo[FAILED], Hit(_failed(rule, error)))
        try:
            for hit in _unseen(specimen, rule):
                say(rule, hit, specimen.others)
        except Exception as error:
            say(pseudo[FAILED], Hit(_failed(rule, error)))
        for part in specimen.parts if rule.each is not None else ():
            try:
                for hit in seen.hits(rule, part):
                    say(rule, _in(part, hit))
            except Exception as error:
                say(pseudo[FAILED], Hit(_failed(rule, error), Where(section=part.id)))
    for id, reason in specimen.unmeasured.items():
        message = f"this section cannot be measured ({reason}); the rest was"
        say(pseudo[UNREAD], Hit(message, Where(section=id)))
    looked = asked - {one.rule for one in not_run}
    used = {by for _found, by in silenced}
    for silence in settings.silences:
        if silence not in used and silence.rule in looked:
            at = head if silence.owner == "campaign" else brand
            message = f"{silence.rule} is silenced, but has nothing to say"
            say(pseudo[UNUSED], Hit(message, at("preflight", "allow", silence.rule)))
    return Outcome(tuple(dict.fromkeys(spoken)), tuple(silenced), tuple(not_run), count)


def _unseen(specimen: Specimen, rule: Rule) -> Iterator[Hit]:
    """What a rule about boxes or markup says of sections that only recipients other than the sample get."""
    others = specimen.others
    if others is None or rule.check is None or rule.needs.isdisjoint(("html", "layout")):
        return
    if all(others.has(facet) for facet in rule.needs):
        for hit in rule.check(others):
            if located(hit.where, others)[1] in specimen.unseen:
                yield hit


def _in(part: Part, hit: Hit) -> Hit:
    """`hit`, in the section that was looked at where it names no place itself."""
    if hit.where != Where():
        return hit
    return Hit(hit.message, Where(section=part.id), hit.also, hit.remedy)


def _failed(rule: Rule, error: Exception) -> str:
    return f"the rule {rule.slug} failed here ({type(error).__name__}: {error}); the others went on"


def _finding(rule: Rule, hit: Hit, specimen: Specimen, settings: Settings) -> Finding:
    where, section = located(hit.where, specimen)
    return Finding(
        rule.slug, settings.weigh(rule), where, section, hit.message, hit.remedy or rule.remedy,
        tuple(located(one, specimen)[0] for one in hit.also), (specimen.variant,),
    )  # fmt: skip
