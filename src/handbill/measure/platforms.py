"""Which font a name becomes. Enters: a CSS font stack and a platform; leaves: a twin and a band on its
widths.

A band is (low, high): factors on the twin's widths between which the platform's own font is expected to set a
line of a mail. 1, 1 is a metric twin (fontconfig's `30-metric-aliases.conf`). Measured against the twins over
lines from mails, regular and bold: Roboto, Noto Serif and Cutive Mono in npm's packages of their names (5.x),
and from Debian what fontconfig or its makers call metric copies: P052 for Palatino, URW Bookman, C059 for
Century Schoolbook (20200910), Carlito for Calibri, Caladea for Cambria, Wine's Tahoma (8.0). The bands of
`REMEMBERED` are from memory. Android's aliases are those of AOSP's `fonts.xml`.
"""

from __future__ import annotations

from functools import lru_cache

Choice = tuple[str, float, float]  # twin: sans, serif, mono or georgia; low and high factor
_EXACT = {
    **dict.fromkeys(("arial", "helvetica", "arimo", "liberation sans"), ("sans", 1.0, 1.0)),
    **dict.fromkeys(("times new roman", "times", "tinos", "liberation serif"), ("serif", 1.0, 1.0)),
    **dict.fromkeys(("courier new", "courier", "cousine", "liberation mono"), ("mono", 1.0, 1.0)),
    **dict.fromkeys(("georgia", "gelasio"), ("georgia", 1.0, 1.0)),
}
_GENERIC = {"sans-serif": ("sans", 1.0, 1.0), "serif": ("serif", 1.0, 1.0), "monospace": ("mono", 1.0, 1.0)}
_VERDANA = ("sans", 1.1, 1.25)  # from memory
_TREBUCHET = ("sans", 0.97, 1.08)  # from memory
_SYSTEM = ("sans", 0.95, 1.06)  # from memory
_TAHOMA: Choice = ("sans", 0.96, 1.1)
_PALATINO: Choice = ("serif", 1.02, 1.13)
_ROBOTO: Choice = ("sans", 0.92, 1.03)
_NOTO_SERIF: Choice = ("serif", 1.0, 1.2)
_CUTIVE: Choice = ("mono", 0.94, 1.01)
_DESKTOP: dict[str, Choice] = {
    **_EXACT,
    **_GENERIC,
    "verdana": _VERDANA,
    "tahoma": _TAHOMA,
    "trebuchet ms": _TREBUCHET,
    "calibri": ("sans", 0.83, 0.96),
    "cambria": ("serif", 0.95, 1.08),
    "bookman old style": ("serif", 1.15, 1.27),
    "century schoolbook": ("serif", 1.1, 1.21),
    **dict.fromkeys(("palatino", "palatino linotype", "book antiqua"), _PALATINO),
    "arial black": ("sans", 1.2, 1.35),  # from memory
    "impact": ("sans", 0.8, 0.95),  # from memory
    **dict.fromkeys(("system-ui", "ui-sans-serif"), _SYSTEM),
    "ui-serif": ("serif", 1.0, 1.15),
    "ui-monospace": ("mono", 0.98, 1.05),
}
_APPLE: dict[str, Choice] = {
    **_DESKTOP,
    **dict.fromkeys(("-apple-system", "blinkmacsystemfont"), _SYSTEM),
    "helvetica neue": ("sans", 0.97, 1.03),  # from memory
}
PLATFORMS: dict[str, dict[str, Choice]] = {
    # The twins themselves, as if every machine had the fonts the mail names.
    "twins": {**_DESKTOP, "helvetica neue": ("sans", 1.0, 1.0)},
    "ios": _APPLE,
    "macos": _APPLE,
    "windows": {**_DESKTOP, **dict.fromkeys(("segoe ui", "system-ui"), ("sans", 0.95, 1.05))},
    "android": {
        **dict.fromkeys(("sans-serif", "arial", "helvetica", "tahoma", "verdana", "roboto"), _ROBOTO),
        **dict.fromkeys(("system-ui", "ui-sans-serif"), _ROBOTO),
        **dict.fromkeys(("serif", "times", "times new roman", "ui-serif"), _NOTO_SERIF),
        **dict.fromkeys(("palatino", "georgia", "baskerville", "goudy"), ("georgia", 0.89, 1.1)),
        **dict.fromkeys(("courier", "courier new"), _CUTIVE),
        **dict.fromkeys(("monospace", "ui-monospace"), ("mono", 0.98, 1.02)),  # from memory
    },
}
#: Names whose bands nobody measured, for want of a font to measure.
REMEMBERED = frozenset((
    "verdana", "trebuchet ms", "arial black", "impact", "system-ui", "ui-sans-serif", "ui-serif",
    "ui-monospace", "-apple-system", "blinkmacsystemfont", "helvetica neue", "segoe ui",
))  # fmt: skip
_LAST: Choice = ("serif", 1.0, 1.0)  # browsers' standard font where a stack names none that is there


def remembered(stack: str, platform: str) -> str:
    """The name of the font of a stack, where its band is from memory; empty where it is not."""
    known = PLATFORMS[platform]
    names = (" ".join(name.strip().strip("'\"").lower().split()) for name in stack.split(","))
    name = next((one for one in names if one in known), "")
    _twin, low, high = known.get(name, _LAST)
    android = platform == "android" and name not in ("monospace", "ui-monospace")
    return name if low != high and (name in REMEMBERED or name == "monospace") and not android else ""


@lru_cache(maxsize=4096)
def choose(stack: str, platform: str) -> tuple[Choice, str | None]:
    """The font of a stack, and the name that was passed over because nothing is known of it, if any.

    A name nobody has is no fault: that is what a stack is for. It is told since a machine that has the font
    shows another width. Raises KeyError for an unknown platform.
    """
    known = PLATFORMS[platform]
    passed: str | None = None
    for name in stack.split(","):
        plain = " ".join(name.strip().strip("'\"").lower().split())
        found = known.get(plain)
        if found is not None:
            return found, passed
        if plain and passed is None:
            passed = plain
    return (known["serif"] if platform == "android" else _LAST), passed
