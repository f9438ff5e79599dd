"""Widths of text. Enters: text, a twin and a size; leaves: advances in CSS px, shaped by HarfBuzz.

The twins are shipped in `fonts/`: Liberation Sans, Serif and Mono 2.1.5 for Arial, Times New Roman and
Courier New, Gelasio 5.3 for Georgia. Words are shaped whole, kerned with the spaces beside them, and kept by
their text: the next mail that says the same word need not shape it again. In Latin text these fonts do
nothing beyond pairs but for the few runs in `_JOINED`, so there HarfBuzz is asked for each pair once.
"""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from pathlib import Path

from handbill.measure.breaks import units

FOLDER = Path(__file__).with_name("fonts")
# Where a twin has no glyph, the next font is asked; the last ones are sums from the table below.
_CHAINS = {
    "sans": ("sans", "serif"),
    "serif": ("serif", "sans"),
    "mono": ("mono", "sans", "serif"),
    "georgia": ("georgia", "georgia-ext", "serif", "sans"),
}
# Share of an em for what no shipped font has. Stars and dingbats: DejaVu Sans and Sans Mono 2.37, which
# Debian falls back on. The rest from memory.
_FALLBACKS = {"★": 0.896, "☆": 0.896, "◆": 0.769, "▸": 0.502}
_MONO_DINGBAT_EM = 0.602
_DINGBAT_EM = 0.838
_FULL_EM = 1.0
_PICTOGRAPH_EM = 1.3
_OTHER_EM = 0.6
_X_HEIGHTS = {"sans": 1082 / 2048, "mono": 1082 / 2048, "serif": 940 / 2048, "georgia": 986 / 2048}
_MOST_WORDS = 60_000
_IGNORED = frozenset(
    "\u00ad\u034f\u061c\u200b\u200c\u200d\u200e\u200f\u2028\u2029\u202a\u202b\u202c\u202d\u202e"
    "\u2060\u2061\u2062\u2063\u2064\u2066\u2067\u2068\u2069\ufe0e\ufe0f\ufeff"
)

# Letters whose widths are those of their pairs: ASCII, Latin with its marks built in, dashes, quotes, dots.
_PAIRED = re.compile("[ -~\u00a1-\u00ac\u00ae-\u024f\u2013\u2014\u2018-\u201e\u2020-\u2022\u2026\u20ac]+")
# Ligatures of Gelasio, and the one longer context in the kerning of Liberation.
_JOINED = re.compile("f[bfhijklt]|11")
# A word's px alone, px of the space after it (kerned with its end), and its parts if it may break inside.
Word = tuple[float, float, tuple[float, ...] | None]


class Face:
    """One font file."""

    def __init__(self, name: str) -> None:
        import uharfbuzz

        self._hb = uharfbuzz
        face = uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(FOLDER / f"{name}.ttf")))
        self.font = uharfbuzz.Font(face)
        self.units = int(face.upem)
        extents = self.font.get_font_extents("ltr")
        self.ascent, self.descent, self.gap = extents.ascender, -extents.descender, extents.line_gap
        self._known: dict[str, bool] = {}
        self._pairs: dict[str, int] = {}
        self._words: dict[tuple[str, bool], tuple[int, int, tuple[tuple[str, int], ...]]] = {}

    def has(self, character: str) -> bool:
        found = self._known.get(character)
        if found is None:
            found = character in _IGNORED or self.font.get_nominal_glyph(ord(character)) is not None
            self._known[character] = found
        return found

    def width(self, text: str, features: dict[str, bool] | None = None) -> int:
        """Units of the whole text, shaped."""
        plain = _PAIRED.fullmatch(text) and (text.isascii() or all(map(self.has, text)))
        if plain and _JOINED.search(text) is None and (features is None or "kern" not in features):
            return self._paired(text)
        return self._shaped(text, features)

    def word(
        self, text: str, features: dict[str, bool] | None
    ) -> tuple[int, int, tuple[tuple[str, int], ...]]:
        """Units of a word, of a space after it, and its parts with theirs if it may break inside; kept for
        every size."""
        key = text, features is None
        found = self._words.get(key)
        if found is None:
            if len(self._words) > _MOST_WORDS:
                self._words.clear()
            whole = self.width(text, features)
            parts, at, before, widths = units(text), 0, 0, []
            for part in parts if len(parts) > 1 else ():
                at += len(part)
                width = self.width(text[:at], features)
                widths.append((part, width - before))
                before = width
            spaced = self.width(text + " ", features) - whole
            found = self._words[key] = whole, spaced, tuple(widths)
        return found

    def _paired(self, text: str) -> int:
        """The same from pairs: each letter with the kerning before it."""
        known = self._pairs
        total, before = 0, ""
        for one in text:
            pair = before + one
            found = known.get(pair)
            if found is None:
                found = known[pair] = self._shaped(pair) - (self._shaped(before) if before else 0)
            total += found
            before = one
        return total

    def _shaped(self, text: str, features: dict[str, bool] | None = None) -> int:
        buffer = self._hb.Buffer()
        buffer.add_str(text)
        buffer.guess_segment_properties()
        self._hb.shape(self.font, buffer, features)
        return int(sum([one.x_advance for one in buffer.glyph_positions]))

    def clusters(self, text: str, features: dict[str, bool] | None = None) -> list[tuple[int, int]]:
        """(index of the first character, units) of each cluster, in the order of the text."""
        buffer = self._hb.Buffer()
        buffer.add_str(text)
        buffer.guess_segment_properties()
        self._hb.shape(self.font, buffer, features)
        sums: dict[int, int] = {}
        for info, position in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True):
            sums[info.cluster] = sums.get(info.cluster, 0) + position.x_advance
        return sorted(sums.items())

    def letters(self, text: str, features: dict[str, bool] | None = None) -> list[int]:
        """Units of each letter, 0 for those that a cluster before them holds."""
        if not text.isascii() or _JOINED.search(text):
            spread = [0] * len(text)
            for at, width in self.clusters(text, features):
                spread[at] = width
            return spread
        widths = [self._paired(one) for one in text]
        for at in range(len(text) - 1):
            pair = text[at : at + 2]
            widths[at] += self._paired(pair) - widths[at] - widths[at + 1]
        return widths


@lru_cache(maxsize=64)
def face(name: str) -> Face:
    return Face(name)


def style_of(weight: int, italic: bool) -> str:
    return ("bold" if weight >= 600 else "") + ("italic" if italic else "") or "regular"


class Sized:
    """A font as text has it: twin, style, size in px, letter and word spacing in px, factor on widths."""

    def __init__(
        self, twin: str, style: str, size: float, spacing: float, gaps: float, factor: float,
        banded: bool = False,
    ) -> None:  # fmt: skip
        self.banded = banded
        self.chain = [face(f"{name}-{style}") for name in _CHAINS[twin]]
        self.name = twin
        self.size, self.spacing, self.factor = size, spacing, factor
        first = self.chain[0]
        self.scale = size * factor / first.units
        # Chromium rounds both, which makes every baseline a whole px.
        per = size / first.units
        self.ascent, self.descent = round_half_up(first.ascent * per), round_half_up(first.descent * per)
        self.normal_height = float(self.ascent + self.descent + round_half_up(first.gap * per))
        # CSS Text 3, section 8: letters that are spaced are not joined.
        self.features = {"liga": False, "clig": False} if spacing else None
        self.space = first.width(" ") * self.scale + spacing + gaps
        self._gaps = gaps
        self.words: dict[str, Word] = {}
        self.leads: dict[str, float] = {}
        self.missing: set[str] = set()
        self._narrow: dict[str, float] = {}
        for one in "ABCDEFGHIJKLMNOPQRSTUVWXYZÄÅÁÀÂÝabcdefghijklmnopqrstuvwxyz0123456789‘’“”\"'(":
            kern = (first.width(" " + one) - first.width(" ") - first.width(one)) * self.scale
            if kern:
                self.leads[one] = kern

    @property
    def x_height(self) -> float:
        """px, by the OS/2 tables of the twins' regular styles."""
        return self.size * _X_HEIGHTS[self.name]

    def word(self, text: str) -> Word:
        """A word without white space, kept."""
        found = self.words.get(text)
        if found is None:
            if len(self.words) > _MOST_WORDS:
                self.words.clear()
            found = self.words[text] = self._shaped(text)
        return found

    def _shaped(self, text: str) -> Word:
        first = self.chain[0]
        if text.isascii() or all(map(first.has, text)):
            return self._scaled(text, first.word(text, self.features))
        whole = self.width(text)
        parts = units(text)
        spaced = self.width(text + " ") - whole + self._gaps
        if len(parts) == 1:
            return whole, spaced, None
        starts, at = [], 0
        for part in parts:
            starts.append(self.width(text[:at]) if at else 0.0)
            at += len(part)
        return whole, spaced, tuple(b - a for a, b in zip(starts, [*starts[1:], whole], strict=True))

    def _scaled(self, text: str, units_of: tuple[int, int, tuple[tuple[str, int], ...]]) -> Word:
        """px of a word from its face's units."""
        whole, spaced, parts = units_of
        scale, spacing = self.scale, self.spacing
        gap = spaced * scale + self._gaps + spacing
        if not parts:
            own = spacing * sum(map(_takes_spacing, text)) if spacing else 0.0
            return whole * scale + own, gap, None
        widths = [
            width * scale + (spacing * sum(map(_takes_spacing, part)) if spacing else 0.0)
            for part, width in parts
        ]
        return sum(widths), gap, tuple(widths)

    def width(self, text: str) -> float:
        """px of a text on one line."""
        if not text:
            return 0.0
        first = self.chain[0]
        if text.isascii() or all(map(first.has, text)):
            total: float = first.width(text, self.features) * self.scale
        else:
            total = sum(self._run(part, at) for part, at in self._runs(text))
        if self.spacing:
            total += self.spacing * sum(1 for one in text if _takes_spacing(one))
        return total

    def _runs(self, text: str) -> list[tuple[str, int | None]]:
        """Parts of the text with the place in the chain of the font that has them; None where none has."""
        runs: list[tuple[str, int | None]] = []
        for one in text:
            place = next((n for n, each in enumerate(self.chain) if each.has(one)), None)
            if unicodedata.combining(one) and runs:
                place = runs[-1][1]
            if runs and runs[-1][1] == place:
                runs[-1] = (runs[-1][0] + one, place)
            else:
                runs.append((one, place))
        return runs

    def _run(self, text: str, place: int | None) -> float:
        if place is not None:
            font = self.chain[place]
            return font.width(text, self.features) * self.size * self.factor / font.units
        self.missing.update(text)
        return sum(_fallback(one, self.name == "mono") for one in text) * self.size

    def pieces(self, text: str) -> list[float]:
        """px of each cluster, for words that must break anywhere."""
        first = self.chain[0]
        if not (text.isascii() or all(map(first.has, text))):
            return [self.width(one) for one in text]
        return [one * self.scale + self.spacing if one else 0.0 for one in first.letters(text, self.features)]

    def narrowest(self, text: str) -> float:
        """px of the widest cluster of a word."""
        found = self._narrow.get(text)
        if found is None:
            found = self._narrow[text] = max(self.pieces(text), default=0.0)
        return found


def _takes_spacing(character: str) -> bool:
    return not (character in _IGNORED or unicodedata.combining(character))


def _fallback(character: str, mono: bool) -> float:
    """Share of an em of a character that no shipped font has."""
    category = unicodedata.category(character)
    if category in ("Mn", "Me", "Cf", "Cc"):
        return 0.0
    wide = unicodedata.east_asian_width(character) in ("W", "F")
    if category == "So":
        return (
            _PICTOGRAPH_EM if wide else _MONO_DINGBAT_EM if mono else _FALLBACKS.get(character, _DINGBAT_EM)
        )
    return _FULL_EM if wide else _OTHER_EM


def round_half_up(number: float) -> int:
    return int(number + 0.5)


@lru_cache(maxsize=4096)
def sized(
    twin: str, weight: int, italic: bool, size: float, spacing: float, gaps: float, factor: float,
    banded: bool = False,
) -> Sized:  # fmt: skip
    """The one `Sized` of equal fonts, which keeps what it has shaped."""
    return Sized(twin, style_of(weight, italic), size, spacing, gaps, factor, banded)
