"""Values as templates take them. Enters: filled text and a voice; leaves: `Fields`, `Lines`, `Address`."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, NoReturn

from handbill.resolve.markdown import Paragraph, Tree
from handbill.resolve.text import Filled, Text, Voice, kept, write


class Fields(SimpleNamespace):
    """Named values that do not change. Templates read them; absent ones are None."""

    def __setattr__(self, name: str, value: Any) -> NoReturn:
        raise AttributeError(f"{name} cannot be set")


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


def words(text: str, voice: Voice) -> Text:
    """Text that needs no filling."""
    return Lines((text,), voice) if "\n" in text else Text((text,), voice)


def literal_copy(text: str) -> Tree:
    """Copy that is taken as it stands: words from a catalogue are not Markdown."""
    paragraphs = [" ".join(part.split()) for part in text.split("\n\n")]
    return Tree(tuple(Paragraph(((part,),)) for part in paragraphs if part), fixed=True)


def shown(filled: Filled) -> str:
    """Roughly what a reader sees of `filled`: its literal text and its fallbacks, for measuring."""
    return "".join(part if isinstance(part, str) else part.fallback or "xxxxxxxx" for part in filled)
