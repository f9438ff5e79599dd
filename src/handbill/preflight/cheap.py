"""What compile says by the way. Enters: a mail's sections as they were rendered; leaves: findings with lines.

Only rules that look at one section's source and HTML are run, once for each section that is new: what they
said of a section is kept by its content, so that a warm run brings in no rule at all.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Sequence
from functools import lru_cache
from hashlib import blake2b
from pathlib import Path
from typing import TYPE_CHECKING, Any

from handbill.base.cache import Cache, code_stamp
from handbill.base.kept import Kept
from handbill.base.source import plain
from handbill.preflight.brief import Brief
from handbill.preflight.part import Part, parts_of

if TYPE_CHECKING:
    from handbill.preflight.contract import Rule
    from handbill.render.render import Piece
    from handbill.resolve.mail import Mail

_FORMAT = 1  # raise when what is kept, or what it means, changes
MOST = 200  # sections kept at a time, and looked at by the way: ten rules take longer than a whole mail
Said = list[list[Any]]  # of one section: rule, weight, message, remedy, way, near; as JSON holds it


class Glance:
    """Looks at the sections of one campaign's mails; those it met before cost nothing."""

    def __init__(self, cache: Cache, every: bool = False) -> None:
        """Unless `every` section is asked for, a process looks at the first `MOST` new ones."""
        self.cache, self.every = cache, every
        self._met: Kept[tuple[Brief, ...]] = Kept(MOST)
        self._new = 0
        self._rules: list[Rule] | None = None

    def findings(self, mail: Mail, pieces: Sequence[Piece]) -> Iterator[Brief]:
        """What the cheap rules say of a mail, weighed and silenced as campaign and brand want it."""
        campaign, brand = mail.campaign.preflight, mail.shop.brand.preflight
        for part in parts_of(mail, pieces):
            for one in self._of(part):
                if one.rule in campaign.allow or one.rule in brand.allow:
                    continue
                weight = brand.severity.get(one.rule, one.weight)
                yield one._replace(weight=weight)

    def _of(self, part: Part) -> tuple[Brief, ...]:
        return self._met.of(part.spoken, lambda: self._looked(part))

    def _looked(self, part: Part) -> tuple[Brief, ...]:
        self._new += 1
        return tuple(self._placed(part)) if self.every or self._new <= MOST else ()

    def _placed(self, part: Part) -> Iterator[Brief]:
        key = f"glance {_FORMAT} {_stamp()} {_digest(part)}"
        kept = self.cache.get(key)
        said: Said
        try:
            said = json.loads(kept) if kept is not None else self._asked(part)
        except ValueError:  # a damaged entry is a miss
            kept, said = None, self._asked(part)
        if kept is None and self._new <= MOST:  # a cache is no place for thousands of variants
            self.cache.put(key, json.dumps(said).encode())
        if said:
            from handbill.preflight.contract import Where
            from handbill.preflight.places import in_part

            for rule, weight, message, remedy, way, near in said:
                place = in_part(Where(section=part.id, way=tuple(way), near=near), part)
                yield Brief(place.file, place.line, place.column, part.id, rule, weight, message, remedy)

    def _asked(self, part: Part) -> Said:
        """What the rules say now. One that fails says nothing here: preflight tells of it."""
        said: Said = []
        for rule in self._known():
            assert rule.each is not None
            try:
                hits = list(rule.each(part))
            except Exception:
                continue
            said += [
                [rule.slug, rule.severity.word, hit.message, hit.remedy or rule.remedy,
                 list(hit.where.way), hit.where.near]
                for hit in hits
            ]  # fmt: skip
        return said

    def _known(self) -> list[Rule]:
        if self._rules is None:
            from handbill.preflight.registry import cheap

            self._rules = cheap(self.cache, _stamp())
        return self._rules


@lru_cache(maxsize=1)
def _stamp() -> str:
    """Changes with every edit of handbill's code, that of the rules included."""
    digest = blake2b(code_stamp().encode(), digest_size=16)
    with os.scandir(Path(__file__).parent / "rules") as found:
        for entry in sorted(found, key=lambda one: one.name):
            if entry.name.endswith(".py"):
                status = entry.stat()
                digest.update(f"{entry.name} {status.st_size} {status.st_mtime_ns};".encode())
    return digest.hexdigest()


def _digest(part: Part) -> str:
    """What the rules can tell a section by: its words as written and as made, its shop, its sample."""
    spoken, piece, shop = part.spoken, part.piece, part.mail.shop
    known = [
        part.id, part.branch, part.shown, spoken.language, spoken.when, shop.site,
        dict(shop.brand.link_tags), dict(part.mail.sample.links), plain(spoken.node),
    ]  # fmt: skip
    digest = blake2b(json.dumps(known, sort_keys=True).encode(), digest_size=16)
    for text in (piece.sample_html, piece.sample_text, *piece.branches):
        digest.update(text.encode())
        digest.update(b"\0")
    return digest.hexdigest()
