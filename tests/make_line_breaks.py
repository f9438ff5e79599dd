"""Write `handbill/measure/line_breaks.txt`. Enters: Unicode's Line_Break property by the package uniseg
(0.10.1, Unicode 16.0); leaves: runs of code points, each line the first one in hexadecimal and the class of
the run.

Run by hand, rarely: `python tests/make_line_breaks.py`. The data are Unicode's, under the Unicode License v3.
"""

from __future__ import annotations

from pathlib import Path

from uniseg.linebreak import line_break

OUT = Path(__file__).parents[1] / "src/handbill/measure/line_breaks.txt"


def main() -> None:
    lines = []
    last = ""
    for code in range(0x30000):
        found = str(getattr(line_break(chr(code)), "value", line_break(chr(code))))
        if found != last:
            lines.append(f"{code:X} {found}")
            last = found
    OUT.write_text("\n".join(lines) + "\n", "ascii")


if __name__ == "__main__":
    main()
