"""Two mails compared. Enters: two resolved mails of one campaign; leaves: what a reader would see differ.

Sections are compared by their ids, and only those that render otherwise. What is said stays within what the
sample recipient reads; figures and addresses are given whole.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence

from handbill.apps.seen import Seen, seen
from handbill.base.errors import MistakesError
from handbill.base.frozen import dataclass
from handbill.pipeline import renderer_for
from handbill.render.render import Piece, Renderer, pieces
from handbill.resolve.mail import Mail, Spoken

MOST_NAMED = 4  # fields of a section on the one line of a summary
LANGUAGE, SHOP, SITE, DIRECTION = "language", "shop", "site", "direction"
_SPOKEN = ("words", "price")
_HEADINGS = ("headline", "title", "kicker")
_GROUPS = ("entry", "part")
LONG = 80  # characters of a text that is cut down to what differs
AROUND = 4  # words left on either side of that
SHORTER = 0.7  # of both texts, or they are told whole
HINT = 60  # characters of what a section says
OTHERWISE = "otherwise"
HEAD = ""  # the section that a mail's own fields stand under


@dataclass(frozen=True, slots=True)
class Change:
    """One difference. `kind` is added, dropped, moved, order, words, picture, link, price, look or condition;
    `field` is empty for a section as a whole; `said` is the sentence. Inside an entry of a list `entry` is
    how that is called and `part` the rest of the field's name; of an entry itself `part` is the list."""

    kind: str
    field: str
    before: str
    after: str
    said: str
    entry: str = ""
    part: str = ""


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
            changes = [_whole("dropped", old[name], before, "the section is left out")]
        elif name not in old:
            changes = [_whole("added", new[name], after, f"a new section, {_after(name, list(new))}")]
        else:
            changes = []
            if name in moved:
                way = "up" if _rises(name, list(old), list(new)) else "down"
                changes.append(Change("moved", "", _after(name, list(old)), _after(name, list(new)),
                                      f"moved {way}: now {_after(name, list(new))}"))  # fmt: skip
            changes += _section(before, after, old[name], new[name])
        parts.append(Part(name, tuple(changes)))
    return tuple(part for part in parts if part.changes)


def summary(parts: Sequence[Part]) -> str:
    """All of it on one line, fields by name: `subject; top: headline, picture; without closing`.

    For another shop, `for` its name. In another language every word and price differs: `in de-DE`, and what
    differs beside them. In another country's form of one, words are compared.
    """
    head = {one.field: one.after for part in parts if part.id == HEAD for one in part.changes}
    language, shop = head.get(LANGUAGE, ""), head.get(SHOP, "")
    spoken = {
        one.before for part in parts if part.id == HEAD for one in part.changes if one.field == LANGUAGE
    }
    other = language.partition("-")[0] not in {one.partition("-")[0] for one in ("", *spoken)}
    said = [f"in {language}"] if language else []
    said += [f"for {shop}"] if shop else []
    for part in parts:
        changes = [one for one in part.changes if not (other and one.kind in _SPOKEN)]
        said_so = (SHOP, LANGUAGE, SITE, *((DIRECTION,) if language else ()))
        changes = [one for one in changes if part.id != HEAD or one.field not in said_so]
        kinds = {change.kind for change in changes if not change.field}
        if "dropped" in kinds:
            said.append(f"without {part.id}")
        elif "added" in kinds:
            said.append(f"with {part.id}")
        elif changes:
            fields = ["moved"] if "moved" in kinds else []
            fields += _fields([change for change in changes if change.field])
            if len(fields) > MOST_NAMED + 1:
                fields[MOST_NAMED:] = [f"{len(fields) - MOST_NAMED} more"]
            said.append(", ".join(fields) if part.id == HEAD else f"{part.id}: {', '.join(fields)}")
    return "; ".join(said)


def _fields(changes: Sequence[Change]) -> list[str]:
    """What changed, by name; what several entries of a list share, once."""
    by_part: dict[str, list[str]] = {}
    for change in changes:
        key, entry = change.part, change.entry
        if change.kind in ("dropped", "added") and not entry and change.part:  # an entry itself
            key, entry = "without" if change.kind == "dropped" else "with", change.before or change.after
        elif not entry:
            key = change.field
        if change.kind in ("dropped", "added") and change.field.startswith(OTHERWISE):
            key, entry = OTHERWISE, ""
        found = by_part.setdefault(key, [])
        if entry and entry not in found:
            found.append(entry)
    made = []
    for key, names in by_part.items():
        if key in ("with", "without"):
            made.append(f"{key} {', '.join(names[:MOST_NAMED])}" + (" …" if len(names) > MOST_NAMED else ""))
        else:
            made.append(
                f"{names[0]} {key}" if len(names) == 1 else f"{key} of {len(names)}" if names else key
            )
    return made


def _head(before: Mail, after: Mail) -> Iterator[Change]:
    for name, old, new in (
        (SHOP, before.shop.brand.name, after.shop.brand.name),
        (LANGUAGE, before.language, after.language),
        ("subject", before.subject.sampled.plain, after.subject.sampled.plain),
        ("preheader", before.preheader.sampled.plain, after.preheader.sampled.plain),
    ):
        if old != new:
            yield _words(name, old, new)
    was, now = (f"{one.campaign.send:%Y-%m-%d %H:%M}" for one in (before, after))
    if was != now:
        yield _look("sent", was, now)
    if before.rtl != after.rtl:
        yield _look(
            "direction", *("right to left" if one.rtl else "left to right" for one in (before, after))
        )
    if (old := before.shop.brand.site) != (new := after.shop.brand.site):
        yield Change("link", SITE, old, new, f"the shop's links lead to {new} instead of {old}")
    old_tags, new_tags = before.shop.brand.link_tags, after.shop.brand.link_tags
    for name in dict.fromkeys((*old_tags, *new_tags)):
        old, new = old_tags.get(name, ""), new_tags.get(name, "")
        if old != new:
            said = f"every link carries {name}={new} instead of {old or 'none'}"
            yield Change("link", "link tags", old, new, said)


def _section(before: Side, after: Side, old: Spoken, new: Spoken) -> list[Change]:
    was, now = before.pieces[old.id], after.pieces[new.id]
    if any(
        (as_in(now.html), as_in(now.sample_html), as_in(now.text)) == (was.html, was.sample_html, was.text)
        for as_in in _in_other_shop(before.mail, after.mail)
    ):
        return []
    changes = list(_conditions(old, new))
    if old.block != new.block:
        said = f"the block {new.block} instead of {old.block}"
        changes.append(Change("look", "block", old.block, new.block, said))
    if old.tone != new.tone:
        changes.append(_look("tone", old.tone, new.tone))
    if old.language != new.language and before.mail.language == after.mail.language:
        changes.append(_look("language", old.language, new.language))
    was_seen, now_seen = seen(old, before.mail, was), seen(new, after.mail, now)
    if (old.otherwise is None) != (new.otherwise is None):
        was_seen, now_seen = (
            tuple(value for value in one if value.kind != "look" or value.path[0] != OTHERWISE)
            for one in (was_seen, now_seen)
        )
    if old.block != new.block:  # another block is set otherwise all through
        was_seen, now_seen = (tuple(filter(_tells, one)) for one in (was_seen, now_seen))
    changes += _lists(was_seen, now_seen)
    first = {one.path: one for one in was_seen}
    second = {one.path: one for one in now_seen}
    for path in dict.fromkeys((*first, *second)):
        made = _one(first.get(path), second.get(path))
        if made is not None and not _covered(path, first, second):
            changes.append(made)
    if changes or old.language != new.language or old.rtl != new.rtl:
        return changes
    # a house style or the width of a cell shows, and has no field
    return [Change("look", "look", "", "", "says the same, and is set otherwise")]


def _in_other_shop(before: Mail, after: Mail) -> Iterator[Callable[[str], str]]:
    """Ways to write the text of one mail with the other's address and name of the shop: that these differ,
    the head says. A name may stay, in a logo that the shops share."""
    yield lambda text: text
    theirs, own = after.shop.brand, before.shop.brand
    if theirs.site != own.site or theirs.name != own.name:
        sites = theirs.site.rstrip("/"), own.site.rstrip("/")
        yield lambda text: text.replace(*sites)
        yield lambda text: text.replace(*sites).replace(theirs.name, own.name)


def _tells(one: Seen) -> bool:
    """Whether a value says something by itself, apart from how its block is made."""
    return one.kind != "look" and "word" not in one.path and not one.path[-1].endswith("_word")


def _conditions(old: Spoken, new: Spoken) -> Iterator[Change]:
    was, now = (one.condition[0] if one.condition else "" for one in (old, new))
    if was != now:
        said = f"shown where {now} holds" if now else "shown to every recipient"
        yield Change("condition", "when", was, now, said + (f", instead of {was}" if was and now else ""))


def _one(old: Seen | None, new: Seen | None) -> Change | None:
    """The difference in one field, if there is one."""
    one = new or old
    assert one is not None
    kind, was, now, said = one.kind, old.value if old else "", new.value if new else "", ""
    if old is not None and new is not None and one.kind in _GROUPS:
        return None  # what differs in it is said of its fields
    if kind == "look":
        said = "" if was == now else f"{one.name}: {now or 'none'} instead of {was or 'none'}"
    elif old is None or new is None:
        kind = "dropped" if new is None else "added"
        said = f"{one.name} {_quoted(one)} is {'left out' if new is None else 'new'}"
    elif kind == "link":
        same = was == now or old.exact == new.exact
        said = "" if same else f"{new.name} leads to {now} instead of {was}"
    elif was == now and old.kind == kind:
        was, now = old.exact, new.exact
        if was != now:
            said = f"{new.name}: {new.value} as before, but cut, coloured or drawn otherwise"
    elif " ".join(was.split()) == " ".join(now.split()):
        said = f"{new.name}: {_quoted(new)} as before, with other spaces or line breaks"
    elif kind == "words" == old.kind and old.exact and old.exact == new.exact:
        return None  # the shop's address alone
    elif kind == "words" == old.kind:
        first, second = apart(was, now)
        said = f"{new.name}: “{first}” becomes “{second}”"
    else:
        said = f"{new.name}: {_quoted(old)} becomes {_quoted(new)}"
    inside = one.field if one.of or one.kind == "entry" else ""
    return Change(kind, one.name, was, now, said, one.of, inside) if said else None


def apart(old: str, new: str) -> tuple[str, str]:
    """Two texts, cut down to where they differ when they are long and much of them is the same."""
    first, second = old.split(), new.split()
    shorter = min(len(first), len(second))
    head = next((at for at in range(shorter) if first[at] != second[at]), shorter)
    tail = next((at for at in range(shorter - head) if first[-1 - at] != second[-1 - at]), shorter - head)
    start, end = max(0, head - AROUND), max(0, tail - AROUND)
    made = [
        " ".join([*(["…"] if start else []), *words[start : len(words) - end], *(["…"] if end else [])])
        for words in (first, second)
    ]
    short = sum(map(len, made)) <= SHORTER * (len(old) + len(new))
    return (made[0], made[1]) if short and max(len(old), len(new)) > LONG else (old, new)


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


def _rises(name: str, old: Sequence[str], new: Sequence[str]) -> bool:
    """Whether a section stands above more of the others than it did."""
    both = [one for one in old if one in new]
    return [one for one in new if one in both].index(name) < both.index(name)


def _look(name: str, old: str, new: str) -> Change:
    return Change("look", name, old, new, f"{name}: {new or 'none'} instead of {old or 'none'}")


def _whole(kind: str, section: Spoken, one: Side, said: str) -> Change:
    old, new = (section.block, "") if kind == "dropped" else ("", section.block)
    hint = _hint(section, one)
    return Change(kind, "", old, new, f"{said} ({section.block}{': ' if hint else ''}{hint})")


def _hint(section: Spoken, one: Side) -> str:
    """By what a reader knows a section: its heading, the names in it, or how it begins."""
    found = [value for value in seen(section, one.mail, one.pieces[section.id]) if value.path[0] != "brand"]
    for name in _HEADINGS:
        heading = next(
            (value.value for value in found if value.path == (name,) and value.kind == "words"), ""
        )
        if heading:
            return f"“{_shortened(heading)}”"
    names = [value.value for value in found if value.kind == "entry"]
    if names:
        return ", ".join(names[:MOST_NAMED]) + (" …" if len(names) > MOST_NAMED else "")
    said = (one for one in found if one.kind in ("part", "words") and "word" not in one.path)
    begins = next((one.value for one in said if any(map(str.isalpha, one.value))), "")
    return f"“{_shortened(begins)}”" if begins else ""


def _shortened(text: str) -> str:
    words = " ".join(text.split())
    return words if len(words) <= HINT else words[:HINT].rpartition(" ")[0].rstrip(",;:–—") + " …"


def _quoted(one: Seen) -> str:
    return f"“{one.value}”" if one.kind in ("words", *_GROUPS) else one.value


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
