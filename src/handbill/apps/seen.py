"""What a reader sees of a section. Enters: a section's fields and its rendered piece; leaves: named values.

Fields that the block's template does not show are left out: their words do not stand in the piece.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit, urlunsplit

from handbill.base.frozen import dataclass
from handbill.render.render import Piece
from handbill.resolve.copy import Copy
from handbill.resolve.mail import Mail, Spoken
from handbill.resolve.text import Text
from handbill.resolve.values import Address, Cell, Fields

_CODES = ("sku", "id")  # by which an entry of a list is known
_UNSEEN = dict.fromkeys(map(ord, "\u2066\u2067\u2068\u2069\u200e\u200f"))  # they steer the direction
_PRICES = ("price", "was")
_NAMES = {"was": "old price", "alt": "alt text", "link": "link", "who": "name", "quoted": "quote"}
# sizes that follow from the rest, parts of a picture, and what a picture or name says already
_PASSED_OVER = frozenset({
    "width", "tone", "sku", "id", "colours", "star_marks", "star_twins", "mark", "stars_words", "glyph",
    "logo_small", "colours_word",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Seen:
    """One value: its way in the section, how it is called, what kind it is and how it reads.

    Kinds: words, price, link, picture, look, entry (of a list; its value is how the entry is called), part (a
    button; its value is the label). `exact` tells apart what reads alike, pictures made of one file in
    different ways, and is the same for what differs in the shop's address alone. Inside an entry, `of` is how
    that is called and `field` the rest of the name; of an entry `field` is its list.
    """

    path: tuple[str, ...]
    name: str
    kind: str
    value: str
    exact: str = ""
    of: str = ""
    field: str = ""


def seen(section: Spoken, mail: Mail, piece: Piece) -> tuple[Seen, ...]:
    """A section's values in the order of its fields: as the sample recipient gets them, else with tags.

    What the other recipients get comes after them, called `otherwise`.
    """
    own, other = (True, False) if section.in_sample else (False, True)
    found = [*_Walk(mail, piece.sample_html if own else piece.branches[0]).fields(
        section.sampled if own else section.tagged, (), ()
    )]  # fmt: skip
    rest = section.otherwise
    if rest is not None:
        html = piece.sample_html if other else piece.branches[1]
        walk = _Walk(mail, html)
        found += walk.fields(rest.sampled if other else rest.tagged, ("otherwise",), ("otherwise",))
    return tuple(found)


def stands(words: str, html: str) -> bool:
    """Whether a piece of HTML holds these words, not as a part of longer ones."""
    at = html.find(words)
    while at >= 0:
        edges = ((html[at - 1 : at], words[:1]), (html[at + len(words) :][:1], words[-1:]))
        if not any(_cased(outer) and _cased(inner) for outer, inner in edges):
            return True
        at = html.find(words, at + 1)
    return False


def _cased(character: str) -> bool:
    """Whether it is a letter of a script that parts words by spaces, as far as capitals tell."""
    return character.lower() != character.upper()


def _plain(name: str) -> str:
    return name.replace("_", " ")


def _parts(fields: Mapping[str, Any]) -> Iterator[Mapping[str, Any]]:
    """A picture, the parts of it that are files of their own, and its twins."""
    yield fields
    for name in ("over", "under", "dark", "phone"):
        if fields.get(name) is not None:
            yield from _parts(vars(fields[name]))


class _Walk:
    def __init__(self, mail: Mail, html: str) -> None:
        self.html = html
        self.of = ""  # the entry that is walked
        self.site = mail.shop.brand.site.rstrip("/")
        self.tags = frozenset(mail.shop.brand.link_tags)
        where = mail.shop.pictures.where
        self.names = {where(plan.name): plan.name for plan in mail.plans}
        self.files = {plan.name: plan.source.path.name for plan in mail.plans}

    def fields(
        self, fields: Mapping[str, Any], path: tuple[str, ...], called: tuple[str, ...]
    ) -> Iterator[Seen]:
        for name, value in fields.items():
            if name in _PASSED_OVER or value is None:
                continue
            if name == "word":  # house words go by what they say in the block
                for key, word in vars(value).items():
                    if "." in key:  # its forms for numbers
                        continue
                    yield from self.value(
                        "", word, (*path, name, key), (*called, "the word for", _plain(key))
                    )
                continue
            if called == () and path == ("brand",) and name == "name" and fields.get("logo") is not None:
                continue  # the logo says it
            named = called if name == "brand" else (*called, _NAMES.get(name, _plain(name)))
            yield from self.value(name, value, (*path, name), named)

    def value(self, name: str, value: Any, path: tuple[str, ...], called: tuple[str, ...]) -> Iterator[Seen]:
        if isinstance(value, Address):
            if value.html in self.html or value.url in self.html:
                bare = self.bare(value.plain)
                yield self.seen(path, called, "link", bare, bare.removeprefix(self.site))
        elif isinstance(value, Text):
            if value and (stands(value.html, self.html) or stands(value.attr, self.html)):
                yield self.seen(path, called, "price" if name in _PRICES else "words", value.plain)
        elif isinstance(value, Copy):
            said = value.plain.strip()
            yield self.seen(path, called, "words", said, said.replace(self.site, ""))
        elif isinstance(value, Fields):
            yield from self.compound(vars(value), path, called)
        elif isinstance(value, tuple):
            yield from self.entries(value, path, called)
        elif isinstance(value, bool):
            yield self.seen(path, called, "look", "yes" if value else "no")
        elif isinstance(value, str | int):
            yield self.seen(path, called, "look", str(value))

    def seen(
        self, path: tuple[str, ...], called: tuple[str, ...], kind: str, value: str, exact: str = ""
    ) -> Seen:
        value = value.translate(_UNSEEN)
        return Seen(path, " ".join(called), kind, value, exact, self.of, " ".join(called[bool(self.of) :]))

    def compound(
        self, fields: Mapping[str, Any], path: tuple[str, ...], called: tuple[str, ...]
    ) -> Iterator[Seen]:
        if "src" not in fields:
            found = list(self.fields(fields, path, called))
            label = fields.get("label")
            if isinstance(label, Text) and any(one.kind == "words" for one in found):
                yield self.seen(path, called, "part", label.plain)
            yield from found
            return
        parts = list(_parts(fields))
        if not any(part["src"].url in self.html for part in parts):
            return
        exact = " ".join(self.name(part) for part in parts)
        yield self.seen(path, called, "picture", self.picture(fields), exact)
        yield from self.fields({"alt": fields["alt"], "link": fields["link"]}, path, called)

    def picture(self, fields: Mapping[str, Any]) -> str:
        """`ridge.jpg, 600 × 400 px`, with its twins for dark and for narrow screens."""
        whole = [fields, *(vars(fields[name]) for name in ("over", "under") if fields.get(name) is not None)]
        text = f"{self.file(fields)}, {fields['width']} × {sum(one['height'] for one in whole)} px"
        for name, where in (("dark", "dark screens"), ("phone", "narrow screens")):
            if fields.get(name) is not None:
                text += f", {self.file(vars(fields[name]))} on {where}"
        return text

    def file(self, fields: Mapping[str, Any]) -> str:
        name = self.name(fields)
        return self.files.get(name, name)

    def name(self, fields: Mapping[str, Any]) -> str:
        """A finished picture's name, wherever it is hosted."""
        address = str(fields["src"].plain)
        return self.names.get(address, address.rpartition("/")[2])

    def entries(
        self, values: Sequence[Any], path: tuple[str, ...], called: tuple[str, ...]
    ) -> Iterator[Seen]:
        """Entries of a list go by their code, so that one left out does not change all that follow."""
        used: set[str] = set()
        listed = " ".join(called)
        for number, value in enumerate(values):
            fields = (
                value.fields if isinstance(value, Cell) else vars(value) if isinstance(value, Fields) else {}
            )
            code = next((str(fields[name]) for name in _CODES if isinstance(fields.get(name), str)), "")
            key = code if code and code not in used else str(number + 1)
            used.add(key)
            name = self.entry_name(fields) or f"{called[-1].removesuffix('s') if called else ''} {number + 1}"
            outer, self.of = self.of, name.strip()
            found = list(self.fields(fields, (*path, key), (name.strip(),)))
            self.of = outer
            hidden = any(isinstance(one, Text) and one for one in fields.values())
            if hidden and all(one.kind == "look" for one in found):
                continue  # the block shows nothing of it
            one = " ".join((*called[:-1], called[-1].removesuffix("s"))) if called else ""
            yield Seen((*path, key), one, "entry", name.strip(), field=listed)
            yield from found

    def entry_name(self, fields: Mapping[str, Any]) -> str:
        for name in ("name", "who", "label"):
            if isinstance(fields.get(name), Text):
                return str(fields[name].plain)
        return ""

    def bare(self, link: str) -> str:
        """A link without the tags that every link of the mail carries."""
        parts = urlsplit(link)
        if not parts.query:
            return link
        kept = [(name, value) for name, value in parse_qsl(parts.query, True) if name not in self.tags]
        return urlunsplit(parts._replace(query=urlencode(kept)))
