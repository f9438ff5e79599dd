"""Write `handbill/resolve/advances.json`. Enters: font files; leaves: advance widths in font units.

Run by hand, rarely: `python tests/make_advances.py GELASIO_FOLDER [LIBERATION_FOLDER]`. It needs fontTools,
Debian's `fonts-liberation` (1.07.4) and the `files/` folder of the npm package `@fontsource/gelasio` (5.3.0).
These fonts share their advances with Arial, Times New Roman, Courier New and Georgia (fontconfig's
`30-metric-aliases.conf`); both are under the SIL Open Font License, and only widths are taken.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from fontTools.ttLib import TTFont

LIBERATION = Path("/usr/share/fonts/truetype/liberation")
OUT = Path(__file__).parents[1] / "src/handbill/resolve/advances.json"
RUNS = (
    (0x20, 0x7E),  # Basic Latin
    (0xA0, 0x17F),  # Latin-1, Latin Extended-A
    (0x2010, 0x203E),  # punctuation
    (0x20A3, 0x20A7),
    (0x20AC, 0x20AC),  # currency
    (0x2122, 0x2122),
    (0x2190, 0x2193),  # arrows
    (0x2212, 0x2212),
)
SOFT_HYPHEN = 0xAD  # the fonts give it a width, but text shows it only where a line breaks
GREEK_AND_CYRILLIC = (*range(0x391, 0x3CA), *range(0x410, 0x450))


def widths(*files: Path) -> dict[int, int]:
    """Code point to advance of the first file that has it; all the files count 2048 units to the em."""
    found: dict[int, int] = {}
    for file in files:
        font: Any = TTFont(file)
        assert font["head"].unitsPerEm == 2048, file
        for code, glyph in font.getBestCmap().items():
            found.setdefault(code, font["hmtx"][glyph][0])
    return found


def face(found: dict[int, int], spare: dict[int, int]) -> dict[str, Any]:
    """Widths over `RUNS`, 0 where the font has no glyph; `other` is the mean Greek or Cyrillic letter."""
    codes = [code for first, last in RUNS for code in range(first, last + 1)]
    known = [0 if code == SOFT_HYPHEN else found.get(code, 0) for code in codes]
    letters = [(found if code in found else spare)[code] for code in GREEK_AND_CYRILLIC if code in spare]
    return {"other": round(sum(letters) / len(letters)), "widths": known}


def main(gelasio: Path, liberation: Path) -> None:
    faces: dict[str, Any] = {}
    for bold, (style, weight) in {"": ("Regular", 400), "-bold": ("Bold", 700)}.items():
        spare = widths(liberation / f"LiberationSerif-{style}.ttf")
        for name in ("Sans", "Serif", "Mono"):
            faces[name.lower() + bold] = face(widths(liberation / f"Liberation{name}-{style}.ttf"), spare)
        parts = [gelasio / f"gelasio-{subset}-{weight}-normal.woff" for subset in ("latin", "latin-ext")]
        faces["georgia" + bold] = face(widths(*parts), spare)
    lines = [
        f"  {json.dumps(name)}: {json.dumps(value, separators=(',', ':'))}" for name, value in faces.items()
    ]
    head = f'{{"units": 2048, "runs": {json.dumps(RUNS)}, "faces": {{\n'
    OUT.write_text(head + ",\n".join(lines) + "\n}}\n", encoding="utf-8")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]) if len(sys.argv) > 2 else LIBERATION)
