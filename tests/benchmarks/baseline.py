"""The honest baseline. Enters: handbill's own blocks and values; leaves: what a careful script makes of them.

The same block templates, their class attributes left in place, compiled once and filled by plain Jinja with
autoescape; the same CSS with house values put in, parsed once; a general inliner over every mail, premailer
in its fastest settings or css-inline; the standard library's EmailMessage. Where a script could do less than
handbill does, it is let off: docs/performance.md lists what.
"""

from __future__ import annotations

import os

os.environ.setdefault("PREMAILER_CACHE", "LRU")
os.environ.setdefault("PREMAILER_CACHE_MAXSIZE", "100000")  # its default forgets selectors between two mails

import re
from binascii import b2a_qp
from collections.abc import Callable, Mapping, Sequence
from email.message import EmailMessage
from email.policy import SMTP
from typing import Any, NamedTuple

import css_inline
import lxml.html
from jinja2 import DictLoader, Environment, StrictUndefined
from markupsafe import Markup
from premailer import Premailer

from handbill.brand.style import BASE
from handbill.library.block import local_measures
from handbill.library.build import Library
from handbill.library.css import parse_css, physical
from handbill.library.find import SHARED, built_in
from handbill.library.splice import PROSE_KEYS
from handbill.library.tokens import ALL, PHONE, Rule, substitute
from handbill.pipeline import renderer_for
from handbill.render import shell
from handbill.render.render import pieces
from handbill.resolve.copy import Copy
from handbill.resolve.dialects import Dialect, Sample
from handbill.resolve.mail import Mail, Spoken
from handbill.resolve.text import Context, Send, Text
from handbill.resolve.values import Address, Fields, Lines
from handbill.write.flowed import flow
from handbill.write.headers import date

from .demo import mapped

INLINER = Callable[[str], str]

_CLASS = re.compile(r'class="((?:[^"{]|\{\{.*?\}\})*)"')
_WORD = re.compile(r"\{\{.*?\}\}|[^\s{]+")
_VAR = re.compile(r"var\(--([a-z0-9-]+)\)")
_PROSE = re.compile(r"\{\{ *([\w.]+)\|(?:prose|inline)\('([a-z-]+)'\) *\}\}")
# a width that only wide screens know stands in the head
_WIDTHS = re.compile(r' style="(?:[^"{]|\{\{ *width\.[\w.]+ *\}\})*\{\{ *width\.[\w.]+ *\}\}[^"{]*"')
_TABLE = re.compile(r"<table(?![^>]*role=)")
_PRESENTATION = '<table role="presentation" border="0" cellpadding="0" cellspacing="0"'
_DEFAULTS = (
    "img{display:block;border:0;outline:none;text-decoration:none}"
    "p{margin:0}h1{margin:0}h2{margin:0}h3{margin:0}ul{margin:0}ol{margin:0}"
)


class Made(NamedTuple):
    """A mail's three files."""

    html: bytes
    text: bytes
    eml: bytes


class Contexts(NamedTuple):
    """A section's values as plain strings, for its HTML and for its text template."""

    html: Mapping[str, Any]
    text: Mapping[str, Any]


class Marks:
    """A voice that writes marks: no inliner leaves a template language's tags in an address alone."""

    def __init__(self) -> None:
        self.sent: dict[str, tuple[tuple[str, ...], Context, str | None]] = {}

    def tag(self, names: tuple[str, ...], context: Context, fallback: str | None) -> str:
        mark = f"qz{'-'.join(names)}-{context}qz"
        self.sent[mark] = (names, context, fallback)
        return mark

    def literal(self, text: str, context: Context) -> str:
        return text

    def reads(self, text: str) -> bool:
        return False

    def written(self, voice: Dialect | Sample) -> list[tuple[str, str]]:
        return [(mark, voice.tag(*sent)) for mark, sent in self.sent.items()]


class Baseline:
    """One campaign loaded: templates compiled, style sheet ready, inliners made."""

    def __init__(self, mail: Mail) -> None:
        library = mail.library
        self.mail, self.library = mail, library
        self.marks = Marks()
        self.tones = sorted(set(library.house.tones))
        self.toned: set[str] = set()
        self.rules: list[tuple[frozenset[str], str]] = []
        sources = dict(self._sources(library, sorted({section.block for section in mail.sections})))
        house = Fields(
            vector_buttons=library.house.vector_buttons,
            button_arrow=mail.shop.brand.button.arrow,
            button_height=library.house.px("button-height"),
        )
        globals_ = {"house": house, "vars": self._vars()}
        self.pages = _environment(sources, True, globals_, {"prose": self._prose, "inline": self._inline})
        self.texts = _environment(dict(_templates(library, "txt")), False, globals_, {})
        self._attributes: dict[tuple[str, str], Mapping[str, str]] = {}
        self.before, self.after = self._shell(mail)
        self.grounds = library.tables["ground"]
        self.headers = _headers(mail)
        self.css = self._css(mail)
        self.inliners: dict[str, INLINER] = {
            "premailer": _premailer(self.css),
            "css-inline": _css_inline(self.css),
        }

    # -- set up once

    def _sources(self, library: Library, names: Sequence[str]) -> list[tuple[str, str]]:
        folder = built_in() / SHARED
        measures = local_measures({}, {}, library.house)
        macros, css = (_read(str(folder), part) for part in ("macros.html.j2", "macros.css"))
        made = [("macros", self._unspliced(macros, "m", css, measures))]
        heads = ", ".join(re.findall(r"\{% macro (\w+)", macros))
        for name in names:
            block = library.blocks[name]
            html, css = (_read(block.folder, part) for part in ("block.html.j2", "block.css"))
            body = self._unspliced(html, name, css, block.measures)
            made.append((name, f'{{% from "macros" import {heads} %}}{body}'))
        return made

    def _unspliced(self, source: str, prefix: str, css: str, measures: Mapping[str, tuple[str, str]]) -> str:
        rules, _ = parse_css(css, prefix)
        for rule in rules:
            if rule.media in (ALL, PHONE):  # elements carry a phone's layout, the head widens it
                self._rule(rule, prefix, measures)

        source = _WIDTHS.sub("", source)

        def classes(found: re.Match[str]) -> str:
            words = [f"{prefix}-{word}" for word in _WORD.findall(found[1])]
            if any(word in self.toned or "{{" in word for word in words):
                words.append("t-{{ tone }}")
            return f'class="{" ".join(words)}"'

        source = _CLASS.sub(classes, source)
        source = _VAR.sub(lambda found: self._value(found[1], measures), source)
        source = _PROSE.sub(rf"{{{{ \1|prose('{prefix}-\2', tone) }}}}", source)
        start, end = ("right", "left") if self.library.rtl else ("left", "right")
        source = re.sub(r'(?<!v)align="start"', f'align="{start}"', source)
        source = re.sub(r'(?<!v)align="end"', f'align="{end}"', source)
        return _TABLE.sub(_PRESENTATION, source)

    def _rule(self, rule: Rule, prefix: str, measures: Mapping[str, tuple[str, str]]) -> None:
        names = frozenset(f"{prefix}-{name}" for name in rule.classes)
        shared: list[str] = []
        own: dict[str, list[str]] = {}
        for logical in rule.declarations:
            for one in physical(logical, self.library.rtl):
                values = {tone: self._filled(one.value, tone, measures, phone=True) for tone in self.tones}
                if len(set(values.values())) == 1:
                    shared.append(f"{one.name}:{values[self.tones[0]]}")
                else:
                    for tone, value in values.items():
                        own.setdefault(tone, []).append(f"{one.name}:{value}")
        if shared:
            self.rules.append((names, ";".join(shared)))
        if own:
            self.toned |= names
        self.rules += [(names | {f"t-{tone}"}, ";".join(body)) for tone, body in own.items()]

    def _filled(
        self, value: str, tone: str, measures: Mapping[str, tuple[str, str]], phone: bool = False
    ) -> str:
        house = self.library.house

        def answer(name: str) -> str:
            for table in (measures, house.measures):
                if name in table:
                    return table[name][phone]
            return house.colour(name, tone)

        return substitute(value, answer)

    def _value(self, name: str, measures: Mapping[str, tuple[str, str]]) -> str:
        values = {self._filled(f"var(--{name})", tone, measures) for tone in self.tones}
        return values.pop() if len(values) == 1 else f"{{{{ vars['{name}'][tone] }}}}"

    def _vars(self) -> Mapping[str, Mapping[str, str]]:
        colours = self.library.house.colours
        return {role: {tone: colours[tone][role][0] for tone in colours} for role in colours[BASE]}

    def _shell(self, mail: Mail) -> tuple[str, str]:
        made, _ = pieces(mail, renderer_for(mail))
        used = {name for piece in made for name in piece.classes}
        styles = shell.styles(mail.library.rules, used)
        said: dict[str, Any] = {"language": mail.language, "rtl": mail.rtl, "title": "qztitleqz"}
        head = shell.head(mail.shop.brand, mail.library, styles=styles, **said)
        head += shell.opening(mail.library, preheader="qzpreheaderqz", called="email", **said)
        # both inliners leave alone what they are told to
        head = head.replace("<style>", '<style data-premailer="ignore" data-css-inline="ignore">')
        return head, shell.CLOSING

    def _css(self, mail: Mail) -> str:
        """Only rules that match something in this mail: the inliners are spared all others."""
        page = lxml.html.document_fromstring(self.page(self.contexts(mail)))
        found = [frozenset(element.get("class", "").split()) for element in page.iter("*")]
        used = [(names, body) for names, body in self.rules if any(names <= classes for classes in found)]
        return _DEFAULTS + "".join(f"{_selector(names)}{{{body}}}" for names, body in used)

    # -- values

    def contexts(self, mail: Mail) -> list[Contexts]:
        """Plain strings for every section; not part of what is measured."""
        return [self.context(section) for section in mail.sections]

    def context(self, section: Spoken) -> Contexts:
        assert section.condition is None, "the baseline knows no conditions"
        common = {"level": section.level, "inner": section.inner}
        return Contexts(
            {**common, **mapped(section.tagged, self._html_leaf)},
            {**common, **mapped(section.tagged, self._text_leaf)},
        )

    def _html_leaf(self, value: Text | Copy) -> Any:
        if isinstance(value, Copy):
            return Copy(value.tree, self.marks)
        if isinstance(value, Lines):
            return Markup(Lines(value.filled, self.marks).html)
        context: Context = "url" if isinstance(value, Address) else "html"
        return "".join(
            self.marks.tag(part.names, context, part.fallback) if isinstance(part, Send) else part
            for part in value.filled
        )

    def _text_leaf(self, value: Text | Copy) -> str:
        if isinstance(value, Copy):
            return Copy(value.tree, self.marks).plain
        return type(value)(value.filled, self.marks).plain

    def _prose(self, value: Copy, stem: str, tone: str) -> Markup:
        return Markup(value.html(self._prose_classes(stem, tone)))

    def _inline(self, value: Copy, stem: str, tone: str) -> Markup:
        return Markup(value.inline_html(self._prose_classes(stem, tone)))

    def _prose_classes(self, stem: str, tone: str) -> Mapping[str, str]:
        known = self._attributes.get((stem, tone))
        if known is None:
            known = {key: self._prose_class(stem, key, tone) for key in PROSE_KEYS}
            self._attributes[stem, tone] = known
        return known

    def _prose_class(self, stem: str, key: str, tone: str) -> str:
        name = f"{stem}-{key}"
        own = any(name in names for names, _ in self.rules)
        if key == "p-last" and not own:
            return f' class="{stem}-p t-{tone}" style="margin:0"'
        return f' class="{name} t-{tone}"' if own else ""

    # -- one mail

    def fill(self, one: Contexts, section: Spoken) -> tuple[str, str]:
        """The bare fill of a section's two templates."""
        return (
            self.pages.get_template(section.block).render(one.html),
            self.texts.get_template(section.block).render(one.text),
        )

    def page(self, values: Sequence[Contexts]) -> str:
        mail = self.mail
        filled = [self.fill(one, section)[0] for one, section in zip(values, mail.sections, strict=True)]
        return self.document(filled)

    def document(self, filled: Sequence[str]) -> str:
        mail = self.mail
        cell = f'<tr><td lang="{mail.language}" dir="{"rtl" if mail.rtl else "ltr"}"'
        rows = [
            f"{cell}{self.grounds[section.tone]}>\n{body}\n</td></tr>\n"
            for section, body in zip(mail.sections, filled, strict=True)
        ]
        head = self.before.replace("qztitleqz", mail.title.tagged.html).replace(
            "qzpreheaderqz", mail.preheader.tagged.html
        )
        return "".join((head, *rows, self.after))

    def make(
        self, values: Sequence[Contexts], inliner: str, kept: Mapping[int, tuple[str, str]] | None = None
    ) -> Made:
        """The whole mail. `kept` holds sections filled before, by number: they are not filled again."""
        kept = kept or {}
        filled = [
            kept.get(number) or self.fill(one, section)
            for number, (one, section) in enumerate(zip(values, self.mail.sections, strict=True))
        ]
        page = self.inliners[inliner](self.document([html for html, _ in filled]))
        text = "\n".join(_tidy(text) for _, text in filled)
        dialect, sample = self.mail.unsubscribe.tagged._voice, self.mail.sample
        html, plain = _spoken(page, text, self.marks.written(dialect))
        return Made(html.encode(), plain.encode(), self.eml(*_spoken(page, text, self.marks.written(sample))))

    def eml(self, html: str, text: str) -> bytes:
        message = EmailMessage(policy=SMTP)
        for name, value in self.headers:
            message[name] = value
        message.set_content(flow(text), cte="quoted-printable", params={"format": "flowed"})
        message.add_alternative(html, subtype="html", cte="quoted-printable")
        return message.as_bytes()

    def bare(self, values: Sequence[Contexts]) -> list[bytes]:
        """Nothing but the fill of all templates and quoted-printable; no inliner, no document, no message."""
        coded = []
        for one, section in zip(values, self.mail.sections, strict=True):
            html, text = self.fill(one, section)
            coded += [b2a_qp(html.encode()), b2a_qp(text.encode())]
        return coded


def _spoken(html: str, text: str, said: Sequence[tuple[str, str]]) -> tuple[str, str]:
    for mark, words in said:
        html, text = html.replace(mark, words), text.replace(mark, words)
    return html, text


def _tidy(text: str) -> str:
    lines = "\n".join([line.rstrip() for line in text.split("\n")])
    return re.sub(r"\n{3,}", "\n\n", lines).strip("\n") + "\n"


def _selector(names: frozenset[str]) -> str:
    return "".join(f".{name}" for name in sorted(names))


def _read(folder: str, part: str) -> str:
    with open(os.path.join(folder, part), encoding="utf-8") as file:
        return file.read()


def _templates(library: Library, kind: str) -> list[tuple[str, str]]:
    macros = _read(str(built_in() / SHARED), f"macros.{kind}.j2")
    heads = ", ".join(re.findall(r"\{% macro (\w+)", macros))
    return [("macros", macros)] + [
        (name, f'{{% from "macros" import {heads} %}}' + _read(block.folder, f"block.{kind}.j2"))
        for name, block in library.blocks.items()
    ]


def _environment(
    sources: Mapping[str, str], escape: bool, globals_: Mapping[str, Any], filters: Mapping[str, Any]
) -> Environment:
    environment = Environment(
        loader=DictLoader(dict(sources)), autoescape=escape, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, keep_trailing_newline=True, cache_size=-1, auto_reload=False,
    )  # fmt: skip
    environment.globals.update(globals_)
    environment.filters.update(filters)
    for name in sources:
        environment.get_template(name)
    return environment


def _premailer(css: str) -> INLINER:
    inliner = Premailer(
        css_text=[css], base_url=None, disable_validation=True, cache_css_parsing=True, allow_network=False,
        disable_leftover_css=True, align_floating_images=False, remove_unset_properties=False,
        cssutils_logging_level=50, disable_basic_attributes=["align", "valign", "bgcolor", "width", "height"],
    )  # fmt: skip
    return lambda page: str(inliner.transform(page, pretty_print=False))


def _css_inline(css: str) -> INLINER:
    inliner = css_inline.CSSInliner(
        inline_style_tags=False, keep_style_tags=True, load_remote_stylesheets=False, extra_css=css
    )
    return inliner.inline


def _headers(mail: Mail) -> tuple[tuple[str, str], ...]:
    brand, sender = mail.shop.brand, mail.shop.brand.sender
    from handbill.write.files import domain_of, sent_at

    domain = domain_of(sender.address)
    name = mail.sample.fields.get("first_name", "")
    link = mail.unsubscribe.sampled.plain_url
    found = [
        ("Date", date(sent_at(mail))),
        ("From", f"{sender.name} <{sender.address}>"),
        ("To", f"{name} <{mail.sample_address}>" if name else mail.sample_address),
        ("Subject", mail.subject.sampled.header),
        ("Message-ID", f"<baseline@{domain}>"),
        ("List-Unsubscribe", f"<{link}>"),
        ("List-Unsubscribe-Post", "List-Unsubscribe=One-Click"),
        ("List-Id", f"<letters.{domain_of(brand.sender.address)}>"),
        ("Content-Language", mail.language),
    ]
    if sender.reply_to:
        found.insert(2, ("Reply-To", sender.reply_to))
    return tuple(found)
