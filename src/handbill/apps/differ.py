"""Two mails compared. Enters: two resolved mails of one campaign; leaves: what a reader would see differ.

Sections are compared by their ids, and only those that render otherwise. What is said stays within what the
sample recipient reads; figures and addresses are given whole.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from handbill.apps.seen import Seen, seen
from handbill.base.errors import MistakesError
from handbill.base.frozen import dataclass
from handbill.pipeline import renderer_for
from handbill.render.render import Piece, Renderer, pieces
from handbill.resolve.mail import Mail, Spoken

MOST_NAMED = 4  # fields of a section on the one line of a summary
LANGUAGE = "language"
_SPOKEN = ("words", "price")
HEAD = ""  # the section that a mail's own fields stand under


@dataclass(frozen=True, slots=True)
class Change:
    """One difference. `kind` is added, dropped, moved, order, words, picture, link, price, look or condition;
    `field` is empty for a section as a whole; `said` is the sentence."""

    kind: str
    field: str
    before: str
    after: str
    said: str


@dataclass(frozen=True, slots=True)
class Part:
    """What differs in one section, or with an empty `id` in the mail's head."""

    id: str
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class Side:
    """A mail and its sections rendered."""

    mail: Mail
    pieces: Mapping[str, Piece]


def side(mail: Mail, renderer: Renderer | None = None) -> Side:
    """A mail ready to compare. Raises MistakesError for a block that fails."""
    made, wrong = pieces(mail, renderer or renderer_for(mail))
    if wrong:
        raise MistakesError(wrong)
    return Side(mail, {piece.id: piece for piece in made})


def differences(before: Side, after: Side) -> tuple[Part, ...]:
    """Head first, then sections in the order a reader meets them; sections left out stand where they were."""
    parts = [Part(HEAD, tuple(_head(before.mail, after.mail)))]
    old = {section.id: section for section in before.mail.sections}
    new = {section.id: section for section in after.mail.sections}
    moved = _moved([one for one in old if one in new], [one for one in new if one in old])
    for name in _merged(list(old), list(new)):
        if name not in new:
            changes = [_whole("dropped", old[name], "the section is left out")]
        elif name not in old:
            changes = [_whole("added", new[name], f"a new section, {_after(name, list(new))}")]
        else:
            changes = []
            if name in moved:
                changes.append(Change("moved", "", _after(name, list(old)), _after(name, list(new)),
                                      f"moved: now {_after(name, list(new))}"))  # fmt: skip
            changes += _section(before, after, old[name], new[name])
        parts.append(Part(name, tuple(changes)))
    return tuple(part for part in parts if part.changes)


def summary(parts: Sequence[Part]) -> str:
    """All of it on one line, fields by name: `subject; top: headline, picture; without closing`.

    In another language every word and price differs: `in de-DE`, and what differs beside them.
    """
    said = []
    language = next((one.after for part in parts for one in part.changes if one.field == LANGUAGE), "")
    for part in parts:
        changes = [one for one in part.changes if not (language and one.kind in _SPOKEN)]
        kinds = {change.kind for change in changes if not change.field}
        fields = list(dict.fromkeys(change.field for change in changes if change.field))
        if "dropped" in kinds:
            said.append(f"without {part.id}")
        elif "added" in kinds:
            said.append(f"with {part.id}")
        elif changes:
            more = [f"{len(fields) - MOST_NAMED} more"] if len(fields) > MOST_NAMED + 1 else []
            listed = [
                *(["moved"] if "moved" in kinds else []), *(fields[:MOST_NAMED] if more else fields), *more,
            ]  # fmt: skip
            said.append(", ".join(listed) if part.id == HEAD else f"{part.id}: {', '.join(listed)}")
    return "; ".join([f"in {language}", *said] if language else said)


def _head(before: Mail, after: Mail) -> Iterator[Change]:
    for name, old, new in (
        ("shop", before.shop.brand.name, after.shop.brand.name),
        (LANGUAGE, before.language, after.language),
        ("subject", before.subject.sampled.plain, after.subject.sampled.plain),
        ("preheader", before.preheader.sampled.plain, after.preheader.sampled.plain),
    ):
        if old != new:
            yield _words(name, old, new)
    old_tags, new_tags = before.shop.brand.link_tags, after.shop.brand.link_tags
    for name in dict.fromkeys((*old_tags, *new_tags)):
        old, new = old_tags.get(name, ""), new_tags.get(name, "")
        if old != new:
            said = f"every link carries {name}={new} instead of {old or 'none'}"
            yield Change("link", "link tags", old, new, said)


def _section(before: Side, after: Side, old: Spoken, new: Spoken) -> list[Change]:
    was, now = before.pieces[old.id], after.pieces[new.id]
    if was.html == now.html and was.sample_html == now.sample_html and was.text == now.text:
        return []
    changes = list(_conditions(old, new))
    if old.block != new.block:
        said = f"the block {new.block} instead of {old.block}"
        return [*changes, Change("look", "block", old.block, new.block, said)]
    if old.tone != new.tone:
        changes.append(_look("tone", old.tone, new.tone))
    was_seen, now_seen = seen(old, before.mail, was), seen(new, after.mail, now)
    changes += _lists(was_seen, now_seen)
    first = {one.path: one for one in was_seen}
    second = {one.path: one for one in now_seen}
    for path in dict.fromkeys((*first, *second)):
        made = _one(first.get(path), second.get(path))
        if made is not None and not _covered(path, first, second):
            changes.append(made)
    if changes or old.language != new.language:
        return changes
    # a house style or the width of a cell shows, and has no field
    return [Change("look", "look", "", "", "says the same, and is set otherwise")]


def _conditions(old: Spoken, new: Spoken) -> Iterator[Change]:
    was, now = (one.condition[0] if one.condition else "" for one in (old, new))
    if was != now:
        said = f"shown where {now} holds" if now else "shown to every recipient"
        yield Change("condition", "when", was, now, said + (f", instead of {was}" if was and now else ""))


def _one(old: Seen | None, new: Seen | None) -> Change | None:
    """The difference in one field, if there is one."""
    if old is None or new is None:
        one = old or new
        assert one is not None
        if one.kind == "look":
            return _look(one.name, old.value if old else "", new.value if new else "")
        kind = "dropped" if new is None else "added"
        said = f"{one.name} {_quoted(one)} is {'left out' if new is None else 'new'}"
        return Change(kind, one.name, old.value if old else "", new.value if new else "", said)
    if old.value == new.value and old.kind == new.kind:
        if old.exact == new.exact:
            return None
        said = f"{new.name}: {new.value} as before, but cut, coloured or drawn otherwise"
        return Change(new.kind, new.name, old.exact, new.exact, said)
    if new.kind == "look":
        return _look(new.name, old.value, new.value)
    if new.kind == "link":
        said = f"{new.name} leads to {new.value} instead of {old.value}"
        return Change("link", new.name, old.value, new.value, said)
    said = f"{new.name}: {_quoted(old)} becomes {_quoted(new)}"
    if " ".join(old.value.split()) == " ".join(new.value.split()):
        said = f"{new.name}: {_quoted(new)} as before, with other spaces or line breaks"
    return Change(new.kind, new.name, old.value, new.value, said)


def _covered(path: tuple[str, ...], *sides: Mapping[tuple[str, ...], Seen]) -> bool:
    """Whether the entry of a list that `path` lies in is missing on one side: said once, for the entry."""
    for length in range(1, len(path)):
        held = [path[:length] in one for one in sides]
        if held.count(True) == 1:
            return True
    return False


def _lists(old: Sequence[Seen], new: Sequence[Seen]) -> Iterator[Change]:
    """Entries of a list that both sides have, in another order."""
    was, now = _entries(old), _entries(new)
    for way in was:
        first = [one for one in was[way] if one in now.get(way, {})]
        second = [one for one in now.get(way, {}) if one in was[way]]
        if first != second:
            name = way[-1].replace("_", " ")
            before, after = ([entries[one] for one in order] for entries, order in (
                (was[way], first), (now[way], second)))  # fmt: skip
            said = f"{name} in another order: {', '.join(after)}; was {', '.join(before)}"
            yield Change("order", name, ", ".join(before), ", ".join(after), said)


def _entries(found: Sequence[Seen]) -> dict[tuple[str, ...], dict[tuple[str, ...], str]]:
    lists: dict[tuple[str, ...], dict[tuple[str, ...], str]] = {}
    for one in found:
        if one.kind == "entry":
            lists.setdefault(one.path[:-1], {})[one.path] = one.value
    return lists


def _words(name: str, old: str, new: str) -> Change:
    if not old or not new:
        said = f"{name} “{old or new}” is {'new' if new else 'left out'}"
        return Change("added" if new else "dropped", name, old, new, said)
    return Change("words", name, old, new, f"{name}: “{old}” becomes “{new}”")


def _look(name: str, old: str, new: str) -> Change:
    return Change("look", name, old, new, f"{name}: {new or 'none'} instead of {old or 'none'}")


def _whole(kind: str, section: Spoken, said: str) -> Change:
    old, new = (section.block, "") if kind == "dropped" else ("", section.block)
    return Change(kind, "", old, new, f"{said} ({section.block})")


def _quoted(one: Seen) -> str:
    return f"“{one.value}”" if one.kind in ("words", "entry") else one.value


def _after(name: str, order: Sequence[str]) -> str:
    at = order.index(name)
    return f"after {order[at - 1]}" if at else "at the beginning"


def _merged(old: Sequence[str], new: Sequence[str]) -> list[str]:
    """The new order, with what is left out where it was: after what stood before it."""
    order = list(new)
    for at, name in enumerate(old):
        if name not in new:
            before = next((one for one in reversed(old[:at]) if one in order), None)
            order.insert(order.index(before) + 1 if before is not None else 0, name)
    return order


def _moved(old: Sequence[str], new: Sequence[str]) -> frozenset[str]:
    """The fewest ids whose move makes one order of the other: all but a longest common run in order."""
    rank = {name: at for at, name in enumerate(old)}
    best: list[list[str]] = []  # by length, the run that ends earliest in the old order
    for name in new:
        run = [name]
        for kept in reversed(best):
            if rank[kept[-1]] < rank[name]:
                run = [*kept, name]
                break
        if len(run) > len(best):
            best.append(run)
        elif rank[name] < rank[best[len(run) - 1][-1]]:
            best[len(run) - 1] = run
    still = set(best[-1]) if best else set()
    return frozenset(name for name in new if name not in still)
