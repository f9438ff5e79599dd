"""How a shop wants preflight to look. Enters: `preflight:` of campaign and brand; leaves: `Settings`."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from handbill.base.errors import Mistake, nearest
from handbill.base.frozen import dataclass
from handbill.base.source import Node, find, key_place, place
from handbill.preflight.contract import Rule, Severity
from handbill.resolve.mail import Mail


@dataclass(frozen=True, slots=True)
class Silence:
    """A rule that is not to speak, and why. `owner` is campaign or brand."""

    rule: str
    reason: str
    owner: str


@dataclass(frozen=True, slots=True)
class Settings:
    """Severities other than the rules' own, and silences; the campaign's before the brand's."""

    severity: Mapping[str, Severity]
    silences: tuple[Silence, ...]

    def weigh(self, rule: Rule) -> Severity:
        """How much the rule's findings weigh in this shop."""
        return self.severity.get(rule.slug, rule.severity)

    def silence(self, slug: str) -> Silence | None:
        """What keeps the rule `slug` from speaking."""
        return next((one for one in self.silences if one.rule == slug), None)


def settings(mail: Mail, known: Iterable[str]) -> tuple[Settings, list[Mistake]]:
    """The settings for a mail, and a mistake for each name in them that is no rule."""
    names = list(known)
    campaign, brand = mail.campaign.preflight, mail.shop.brand.preflight
    wrong = [
        *_unknown(mail.root, "allow", campaign.allow, names),
        *_unknown(mail.shop.brand_node, "allow", brand.allow, names),
        *_unknown(mail.shop.brand_node, "severity", brand.severity, names),
    ]
    silences = [
        *(Silence(rule, reason, "campaign") for rule, reason in campaign.allow.items()),
        *(Silence(rule, reason, "brand") for rule, reason in brand.allow.items()),
    ]
    weights = {rule: Severity.of(word) for rule, word in brand.severity.items()}
    return Settings(weights, tuple(silences)), wrong


def _unknown(root: Node, part: str, given: Mapping[str, str], known: list[str]) -> Iterator[Mistake]:
    for name in given:
        if name not in known:
            way = ("preflight", part, name)
            at = key_place(root, way) if find(root, way)[1] else place(root)
            expected = "a name that `handbill rules list` shows"
            yield Mistake(at, ".".join(way), f"no rule {name}", expected, nearest(name, known))
