"""The languages of send-time values. Enters: a field's names, a context; leaves: a tag or a sample's value.

A dialect is data. Mustache and Handlebars have no filters: they cannot percent-encode (`url` is unsupported
there), and whoever builds the headers must refuse line breaks in values, as mail libraries do. Given a
fallback, each language decides what counts as empty: the empty string in all, the number 0 in some.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cached_property

from handbill.base.errors import Fault, nearest
from handbill.base.frozen import dataclass, field
from handbill.resolve.text import Context, escape_attribute, escape_html, escape_url_value, one_line

#: The contexts a dialect has patterns for, and those of them that lie in HTML.
CONTEXTS: tuple[Context, ...] = ("html", "attribute", "url", "plain", "header")
IN_HTML: tuple[Context, ...] = ("html", "attribute", "url")

#: A recipient field in dots.
FIELD = re.compile(r"recipient(?:\.[a-z][a-z0-9_]*)+")

# Characters that may end or change a quoted string, break the HTML around a tag, or open a tag.
_QUOTE_SPECIALS = frozenset("'\"\\<>&`{}\n")


@dataclass(frozen=True, slots=True)
class Pattern:
    """How one context writes a field: `tag` holds `{name}`; `fallback` also `{fallback}`, the words as the
    inside of a quoted string. Without `fallback` the dialect's condition writes it."""

    tag: str
    fallback: str = ""


@dataclass(frozen=True, eq=False)
class Dialect:
    """A template language as data. Compared by identity.

    patterns     per context; None where the dialect has no safe way (a Fault, unless a field is pre-encoded)
    openers      what starts a tag; never found in CSS we emit, guarded in literal text
    shield       pattern with `{text}` that shows text as it is in plain text and headers; empty: unsupported
    condition    open, otherwise, close, with `{name}`; None when there is none; an empty otherwise when the
                 language has no way to say it
    quotes       how a character is written inside a quoted fallback
    names        the language's own spelling of a dotted name
    pre_encoded  dotted recipient fields whose values come percent-encoded for URLs, and encoded for any other
                 context that the dialect does not support
    tails, heads what spoils a tag by standing right before it, or after it; `shield_head` shows the latter
    by_key       names that an attribute of the same name would shadow; written as subscripts
    """

    name: str
    patterns: Mapping[str, Pattern | None]
    openers: tuple[str, ...]
    shield: str
    condition: tuple[str, str, str] | None = None
    quotes: Mapping[str, str] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    pre_encoded: frozenset[str] = frozenset()
    tails: tuple[str, ...] = ()
    heads: tuple[str, ...] = ()
    shield_head: str = ""
    by_key: frozenset[str] = frozenset()

    def tag(self, names: tuple[str, ...], context: Context, fallback: str | None) -> str:
        """The tag for a field or system link; it holds no line break, and in HTML no double quote.

        Raises a Fault where the context is unsupported and the field is not pre-encoded, and where a fallback
        cannot be written.
        """
        dotted = ".".join(names)
        encoded = names[0] == "link" or dotted in self.pre_encoded
        place = context
        if context == "url" and encoded:
            place = "attribute"
        elif context == "plain_url":
            place = "plain" if encoded else "url"
        pattern = self.patterns[place]
        if pattern is None and dotted in self.pre_encoded:
            pattern = self.patterns["plain"]
        if pattern is None:
            raise Fault(
                f"the dialect {self.name} cannot write `{dotted}` in the context `{place}`",
                expected=f"another place for it, or `{names[-1]}: {{encoded: true}}` under `fields:` in "
                "handbill.yaml (pre_encoded in a dialect of your own) if its values come encoded",
            )
        name = self._spelled(names)
        if not fallback:
            return pattern.tag.replace("{name}", name)
        if pattern.fallback:
            quoted = self._quoted(fallback)
            if quoted is not None:
                return pattern.fallback.replace("{name}", name).replace("{fallback}", quoted)
        if self.condition is None or not self.condition[1]:
            raise Fault(
                f'the dialect {self.name} cannot write the fallback "{fallback}" of `{dotted}`',
                expected="plain words in the fallback, or `quotes` or `when` in the dialect",
            )
        opened, otherwise, close = self._condition(name)
        words = self.literal(_encode(fallback, context, encoded), context)
        return opened + pattern.tag.replace("{name}", name) + otherwise + words + close

    def literal(self, text: str, context: Context) -> str:
        """The author's `text`, escaped for `context` already, with the dialect's openers made harmless.

        In HTML the first character of an opener becomes a character reference, elsewhere `shield` shows it.
        Raises a Fault where there is no `shield`.
        """
        if not self._guard.search(text):
            return text
        if context in IN_HTML:
            return self._guard.sub(lambda found: f"&#{ord(found[0])};", text)
        if not self.shield:
            raise Fault(
                f"the dialect {self.name} would read a part of the text `{text}` as its own",
                expected=f"text without {' or '.join(self.openers)}, or `literal` in the dialect",
            )
        return self._guard.sub(self._shown, text)

    def reads(self, text: str) -> bool:
        """Whether the language would read something in the author's `text`."""
        return self._guard.search(text) is not None

    def when(self, dotted: str) -> tuple[str, str, str]:
        """What stands before, between and after two texts: for recipients with `dotted`, and for the others.

        Raises a Fault when the dialect has no conditions or `dotted` is no recipient field.
        """
        if not FIELD.fullmatch(dotted):
            raise Fault(f"`{dotted}` is not a recipient field", expected="a field like recipient.vip")
        if self.condition is None:
            expected = "no `when`, or `when` in the dialect"
            raise Fault(f"the dialect {self.name} has no conditions", expected=expected)
        return self._condition(self._spelled(tuple(dotted.split("."))))

    @cached_property
    def tags(self) -> re.Pattern[str]:
        """Matches each piece of this language that we write, so that no line is broken inside one.

        The words of a fallback that a condition writes are text, and may be broken.
        """
        patterns = [pattern for pattern in self.patterns.values() if pattern]
        shapes = {pattern.tag for pattern in patterns} | {pattern.fallback for pattern in patterns}
        shapes |= {*(self.condition or ()), self.shield, self.shield_head}
        own = map(re.escape, sorted(self.names.values(), key=lambda name: (-len(name), name)))
        holes = {"name": f"(?:{'|'.join([*own, '[^ {}]+?'])})", "fallback": ".*?", "text": "."}

        def shape_pattern(shape: str) -> str:
            pieces = re.split(r"\{(name|fallback|text)\}", shape)
            return "".join(holes[piece] if at % 2 else re.escape(piece) for at, piece in enumerate(pieces))

        ordered = sorted(shapes - {""}, key=lambda shape: (-len(shape), shape))
        return re.compile("|".join(map(shape_pattern, ordered)))

    @cached_property
    def _guard(self) -> re.Pattern[str]:
        """Finds each character that must not stay: the first of an opener, also of one cut off by the text's
        end (a tag may follow), and what spoils a tag next to it."""
        found: list[str] = []
        for opener in self.openers:
            first, rest = re.escape(opener[0]), opener[1:]
            found.append(first + (f"(?={re.escape(rest)})" if rest else ""))
            found.extend(rf"{first}(?={re.escape(rest[:count])}\Z)" for count in range(len(rest)))
        found.extend(rf"{re.escape(tail)}(?=\Z)" for tail in self.tails)
        found.extend(rf"\A{re.escape(head)}" for head in self.heads)
        return re.compile("|".join(dict.fromkeys(found)))

    @cached_property
    def _specials(self) -> frozenset[str]:
        return _QUOTE_SPECIALS.union(*self.openers)

    def _shown(self, found: re.Match[str]) -> str:
        pattern = self.shield_head if found.start() == 0 and found[0] in self.heads else self.shield
        return pattern.replace("{text}", found[0])

    def _condition(self, name: str) -> tuple[str, str, str]:
        opened, otherwise, close = self.condition or ("", "", "")
        return (
            opened.replace("{name}", name),
            otherwise.replace("{name}", name),
            close.replace("{name}", name),
        )

    def _spelled(self, names: tuple[str, ...]) -> str:
        dotted = ".".join(names)
        if dotted in self.names:
            return self.names[dotted]
        if self.by_key.isdisjoint(names):
            return dotted
        return names[0] + "".join(f"['{name}']" if name in self.by_key else f".{name}" for name in names[1:])

    def _quoted(self, words: str) -> str | None:
        """`words` as the inside of a quoted string, or None when one of them cannot be written there."""
        specials = self._specials.intersection(words)
        if not specials:
            return words
        if not specials <= self.quotes.keys():
            return None
        return "".join(self.quotes.get(character, character) for character in words)


def _encode(value: str, context: Context, encoded: bool) -> str:
    """`value` escaped for `context`; `encoded` values are URLs, or parts of one, already."""
    if context in ("url", "plain_url") and not encoded:
        return escape_url_value(value)
    if context == "html":
        return escape_html(value)
    if context in ("attribute", "url"):
        return escape_attribute(value)
    return one_line(value) if context == "header" else value


@dataclass(frozen=True, eq=False)
class Sample:
    """An example recipient: `fields` by name without `recipient.`, `links` by name without `link.`.

    An empty or missing field gives the fallback. Fields in `pre_encoded` (dotted) go into URLs as they are.
    """

    fields: Mapping[str, str]
    links: Mapping[str, str]
    pre_encoded: frozenset[str] = frozenset()

    def tag(self, names: tuple[str, ...], context: Context, fallback: str | None) -> str:
        """The example value, escaped for `context`. Raises a Fault for a link that the sample lacks."""
        rest = ".".join(names[1:])
        is_link = names[0] == "link"
        value = (self.links if is_link else self.fields).get(rest) or fallback
        if value is None:
            if is_link:
                raise Fault(f"the sample has no link `{rest}`", nearest=nearest(rest, self.links))
            return ""
        return _encode(value, context, is_link or ".".join(names) in self.pre_encoded)

    def literal(self, text: str, context: Context) -> str:
        """`text` as it is: nothing reads a sample again."""
        return text

    def reads(self, text: str) -> bool:
        """False: nothing reads a sample again."""
        return False

    def has(self, dotted: str) -> bool:
        """Whether the sample has a value for the field of a `when:` (``recipient.vip``)."""
        return bool(self.fields.get(dotted.removeprefix("recipient.")))


def collisions(css: str, dialect: Dialect) -> list[str]:
    """The dialect's openers that occur in `css`: ``@media{#id…`` holds Jinja's comment opener."""
    return [opener for opener in dialect.openers if opener in css]


# Jinja: every tag gives the same text with autoescaping on and off; None shows as nothing, 0 as 0. A
# mapping's own methods would shadow keys of the same name.
_JINJA_FIRST = "'' if {name} is none else {name}"
_JINJA_OR = "{name}|default('{fallback}', true)"


def _jinja(filters: str) -> Pattern:
    return Pattern("{{ " + _JINJA_FIRST + filters + " }}", "{{ " + _JINJA_OR + filters + " }}")


JINJA = Dialect(
    name="jinja",
    patterns={
        "html": _jinja("|e"),
        "attribute": _jinja("|e"),
        "url": _jinja("|string|urlencode|replace('/', '%2F')"),
        "plain": _jinja("|safe"),
        "header": Pattern(
            "{{ '' if {name} is none else ({name}|string).splitlines()|join(' ')|safe }}",
            "{{ (" + _JINJA_OR + "|string).splitlines()|join(' ')|safe }}",
        ),
    },
    openers=("{{", "{%", "{#"),
    shield="{{ '{text}' }}",
    condition=("{% if {name} %}", "{% else %}", "{% endif %}"),
    quotes={character: f"\\x{ord(character):02x}" for character in sorted(_QUOTE_SPECIALS | set("%#"))},
    by_key=frozenset(name for name in dir(dict) if not name.startswith("_")),
)


# Liquid: strings have no escapes, so a fallback with a quote in it is written by the condition; an empty
# string is true; `url_encode` writes a space as `+`, which means a space in form data only.
def _liquid(filters: str) -> Pattern:
    return Pattern("{{ {name}" + filters + " }}", "{{ {name} | default: '{fallback}'" + filters + " }}")


LIQUID = Dialect(
    name="liquid",
    patterns={
        "html": _liquid(" | escape"),
        "attribute": _liquid(" | escape"),
        "url": _liquid(" | url_encode | replace: '+', '%20'"),
        "plain": _liquid(""),
        "header": _liquid(" | strip_newlines"),
    },
    openers=("{{", "{%"),
    shield="{{ '{text}' }}",
    condition=("{% if {name} and {name} != '' %}", "{% else %}", "{% endif %}"),
)

# Handlebars: a backslash before a tag switches it off, and `}` after one is read as a part of it. The shields
# are empty comments whose `~` eats the space that parts brace and comment.
HANDLEBARS = Dialect(
    name="handlebars",
    patterns={
        "html": Pattern("{{{name}}}"),
        "attribute": Pattern("{{{name}}}"),
        "url": None,
        "plain": Pattern("{{{{name}}}}"),
        "header": Pattern("{{{{name}}}}"),
    },
    openers=("{{",),
    shield="{text} {{~!}}",
    condition=("{{#if {name}}}", "{{else}}", "{{/if}}"),
    tails=("\\",),
    heads=("}",),
    shield_head="{{!~}} {text}",
)

# Mustache (manual, mustache(5)): text is shown by changing the delimiters around it.
MUSTACHE = Dialect(
    name="mustache",
    patterns={
        "html": Pattern("{{{name}}}"),
        "attribute": Pattern("{{{name}}}"),
        "url": None,
        "plain": Pattern("{{&{name}}}"),
        "header": Pattern("{{&{name}}}"),
    },
    openers=("{{",),
    shield="{{=<% %>=}}{text}<%={{ }}=%>",
    condition=("{{#{name}}}", "{{/{name}}}{{^{name}}}", "{{/{name}}}"),
)

SHIPPED: Mapping[str, Dialect] = {each.name: each for each in (JINJA, LIQUID, HANDLEBARS, MUSTACHE)}
