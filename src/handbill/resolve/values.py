"""Values as templates take them. Enters: filled text and a voice; leaves: `Fields`, `Lines`, `Address`.

Beside them `Recorder`: facts that remember which of them a mail used.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from types import SimpleNamespace
from typing import Any, NoReturn

from handbill.base.errors import Fault
from handbill.resolve.facts import Fact
from handbill.resolve.markdown import Paragraph, Tree
from handbill.resolve.text import Filled, Text, Voice, kept, write


class Fields(SimpleNamespace):
    """Named values that do not change. Templates read them; absent ones are None."""

    def __setattr__(self, name: str, value: Any) -> NoReturn:
        raise AttributeError(f"{name} cannot be set")


class Cell:
    """A section inside a section: its block and fields; the renderer fills `html` and `plain` in."""

    def __init__(self, block: str, fields: Mapping[str, Any], html: str = "", plain: str = "") -> None:
        self.block, self.fields, self.html, self.plain = block, fields, html, plain


class Lines(Text):
    """Text whose line breaks are kept where it is shown and are spaces everywhere else."""

    @kept
    def html(self) -> str:
        """As element content, with `<br>`."""
        return write(self.filled, "html", self._voice).replace("\n", "<br>")

    @kept
    def plain(self) -> str:
        """As text on one line."""
        return " ".join(write(self.filled, "plain", self._voice).split("\n"))


class Address(Text):
    """A link: the text part shows it whole."""

    @kept
    def plain(self) -> str:
        """As it stands in the text part."""
        return self.plain_url


MAX_DIGITS = 3  # powers of ten

#: Facts that a mail used: text by name and, for a product's own facts, its SKU (else empty).
Used = dict[tuple[str, str], str]


class Recorder(dict[str, Fact]):
    """Facts that note in `used` which of them were asked for; `sku` owns those under `product.`."""

    def __init__(self, facts: Mapping[str, Fact], used: Used, sku: str = "") -> None:
        super().__init__(facts)
        self.used = used
        self.sku = sku

    def get(self, key: str, default: Any = None) -> Any:
        """The fact, noted; `facts.fill` asks by this alone."""
        fact = super().get(key, default)
        if isinstance(fact, Fact):
            self.used[key, self.sku if key.startswith("product.") else ""] = fact.text
        return fact

    def with_product(self, facts: Mapping[str, Fact], sku: str) -> Recorder:
        """These facts and one product's, noted in the same place."""
        return Recorder({**self, **facts}, self.used, sku)


def words(text: str, voice: Voice) -> Text:
    """Text that needs no filling."""
    return Lines((text,), voice) if "\n" in text else Text((text,), voice)


def whole_number(value: Any) -> int:
    """A number field's value. Raises Fault for fractions and for what no layout holds."""
    number = Decimal(value or 0)
    if number.adjusted() > MAX_DIGITS or number != number.to_integral_value():
        raise Fault(f"{number} is not a number of px or pieces", expected="a whole number, at most 9999")
    return int(number)


def literal_copy(text: str) -> Tree:
    """Copy that is taken as it stands: words from a catalogue are not Markdown."""
    paragraphs = [" ".join(part.split()) for part in text.split("\n\n")]
    return Tree(tuple(Paragraph(((part,),)) for part in paragraphs if part), fixed=True)


def shown(filled: Filled) -> str:
    """Roughly what a reader sees of `filled`: its literal text and its fallbacks, for measuring."""
    return "".join(part if isinstance(part, str) else part.fallback or "xxxxxxxx" for part in filled)
