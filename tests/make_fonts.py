"""Write `handbill/measure/fonts/`. Enters: whole font files; leaves: the letters that mails need, unhinted.

Run by hand, rarely: `python tests/make_fonts.py LIBERATION_FOLDER GELASIO_FOLDER`. It needs fontTools with
brotli, Debian's `fonts-liberation2` (2.1.5) and the `files/` folder of the npm package `@fontsource/gelasio`
(5.3.0), which keeps Latin and extended Latin in two files. Both are under the SIL Open Font License 1.1,
which lets a changed font keep no reserved name: the files here say `Handbill …`. The licences ship beside
them.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

from fontTools import subset
from fontTools.ttLib import TTFont

OUT = Path(__file__).parents[1] / "src/handbill/measure/fonts"
RUNS = (
    (0x20, 0x7E),
    (0xA0, 0x24F),  # Latin-1, Latin Extended-A and -B
    (0x2B0, 0x36F),  # modifiers, combining marks
    (0x370, 0x3FF),  # Greek
    (0x400, 0x52F),  # Cyrillic
    (0x590, 0x5FF),  # Hebrew
    (0x1E00, 0x1EFF),  # Latin Extended Additional
    (0x2000, 0x206F),  # punctuation
    (0x2070, 0x20CF),  # superscripts, currency
    (0x2100, 0x22FF),  # letterlike, number forms, arrows, operators
    (0x2500, 0x25FF),  # boxes and shapes
    (0x2600, 0x266F),
    (0xFB00, 0xFB4F),
)
LIBERATION = {"Regular": "regular", "Bold": "bold", "Italic": "italic", "BoldItalic": "bolditalic"}
GELASIO = {"400-normal": "regular", "700-normal": "bold", "400-italic": "italic", "700-italic": "bolditalic"}


def shrink(source: Path, target: Path) -> None:
    font: Any = TTFont(source)
    options = subset.Options()
    options.hinting = False
    options.layout_features = ["*"]
    options.name_IDs = [0, 1, 2, 4, 6, 13, 14]
    options.notdef_outline = True
    options.drop_tables += ["FFTM", "STAT", "gasp", "kern"] if "GPOS" in font else ["FFTM", "STAT", "gasp"]
    job = subset.Subsetter(options)
    job.populate(unicodes=[code for first, last in RUNS for code in range(first, last + 1)])
    job.subset(font)
    font.flavor = None
    for record in font["name"].names:
        if record.nameID in (1, 4, 6, 16):
            record.string = f"Handbill {target.stem}"
    font.recalcTimestamp = False
    font.save(target)


def main(liberation: Path, gelasio: Path) -> None:
    OUT.mkdir(parents=True, exist_ok=True)
    for theirs, ours in LIBERATION.items():
        for name in ("Sans", "Serif", "Mono"):
            shrink(liberation / f"Liberation{name}-{theirs}.ttf", OUT / f"{name.lower()}-{ours}.ttf")
    for theirs, ours in GELASIO.items():
        shrink(gelasio / f"gelasio-latin-{theirs}.woff2", OUT / f"georgia-{ours}.ttf")
        shrink(gelasio / f"gelasio-latin-ext-{theirs}.woff2", OUT / f"georgia-ext-{ours}.ttf")


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
