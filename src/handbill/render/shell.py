"""The document around the sections. Enters: a mail's language, title, preheader, colours; leaves: its ends.

Each line is here for a reader that needs it; docs/architecture.md says which. No class on body: one webmail
scopes every rule by it and would lose them all. The style elements are several, since one bad rule loses one.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING

from handbill.brand.style import BASE
from handbill.library.block import MAIL_WIDTH
from handbill.library.build import Library
from handbill.library.tokens import NARROW, WIDE, WORD

if TYPE_CHECKING:
    from handbill.models.brand import Brand

MAX_STYLE = 8192  # characters of all style elements (one webmail drops what is over; common practice)

# What follows the preheader in the reader's list of mails, so that no body text does (common practice).
_FILLER = "&#847;&zwnj;&#160;"

_UNREAD = ("border-radius", "clear", "max-height")  # nothing to word-processor readers (support data)

# Fonts of Windows, those of East Asian scripts with the language's own features, and names that it takes for
# one of them (from memory).
_WINDOWS = frozenset({
    "arial", "arial black", "calibri", "cambria", "candara", "comic sans ms", "consolas", "constantia",
    "corbel", "courier", "courier new", "franklin gothic medium", "georgia", "helvetica", "impact",
    "lucida console", "lucida sans unicode", "palatino linotype", "segoe ui", "tahoma", "times",
    "times new roman", "trebuchet ms", "verdana", "malgun gothic", "meiryo", "microsoft jhenghei",
    "microsoft yahei", "ms gothic", "ms mincho", "ms pgothic", "ms pmincho", "simsun", "yu gothic",
    "yu mincho",
})  # fmt: skip

_KINDS = {"serif": "roman", "sans-serif": "swiss", "monospace": "modern", "cursive": "script"}

# More than one way to hide: each reader ignores some of them.
_HIDDEN = "display:none;max-height:0;max-width:0;overflow:hidden;opacity:0;font-size:1px;line-height:1px"
_PLAIN = 'role="presentation" border="0" cellpadding="0" cellspacing="0"'

_RESET = """\
html,body{margin:0!important;padding:0!important;width:100%!important}
body{-webkit-text-size-adjust:100%;-ms-text-size-adjust:100%;text-size-adjust:100%}
table{border-spacing:0}
table[align=left]{float:left}
table[align=right]{float:right}
img{-ms-interpolation-mode:bicubic}
a[x-apple-data-detectors]{color:inherit!important;text-decoration:none!important;\
font-size:inherit!important;font-family:inherit!important;font-weight:inherit!important;line-height:inherit!important}"""


def faces(brand: Brand, library: Library) -> str:
    """The style elements for web fonts, and for what stands in for them; the same in all mails of a brand."""
    return _substitutes(brand, library) + _fonts(brand)


def head(
    brand: Brand, library: Library, *, language: str, rtl: bool, title: str, styles: str,
    fonts: str | None = None,
) -> str:  # fmt: skip
    """Everything up to and including `<body>`; `fonts` are the brand's `faces`, where they are known."""
    page = library.house.colour("page", BASE)
    direction = "rtl" if rtl else "ltr"
    text_face = library.house.measures["text-face"][0]
    fonts = faces(brand, library) if fonts is None else fonts
    return f"""\
<!DOCTYPE html>
<html lang="{language}" dir="{direction}" xmlns="http://www.w3.org/1999/xhtml" \
xmlns:v="urn:schemas-microsoft-com:vml" xmlns:o="urn:schemas-microsoft-com:office:office">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="format-detection" content="telephone=no, date=no, address=no, email=no, url=no">
<meta name="x-apple-disable-message-reformatting" content="">
<meta name="color-scheme" content="light dark">
<meta name="supported-color-schemes" content="light dark">
<title>{title}</title>
<!--[if mso]>
<xml><o:OfficeDocumentSettings><o:AllowPNG/><o:PixelsPerInch>96</o:PixelsPerInch></o:OfficeDocumentSettings></xml>
<style>table{{mso-table-lspace:0pt;mso-table-rspace:0pt;border-collapse:collapse}}\
td,th,p,a,h1,h2,h3,li,div{{font-family:{text_face.replace('"', "'")}}}</style>
<![endif]-->
{fonts}<style>
:root{{color-scheme:light dark}}
{_RESET}
</style>
{styles}</head>
<body style="margin:0;padding:0;background-color:{page}" bgcolor="{page}">
"""


def _fonts(brand: Brand) -> str:
    if not brand.web_fonts:
        return ""
    rules = "\n".join(
        f"@font-face{{font-family:'{font.family}';font-style:{font.style};font-weight:{font.weight};"
        f"font-display:swap;src:url('{font.link}') format('woff2')}}"
        for font in brand.web_fonts
    )
    return f"<!--[if !mso]><!-->\n<style>\n{rules}\n</style>\n<!--<![endif]-->\n"


def _substitutes(brand: Brand, library: Library) -> str:
    """For word-processor readers: of a list whose first font they lack they take none of the others, but the
    substitute that the font's own rule names (support data, css-at-font-face)."""
    web = {font.family for font in brand.web_fonts}

    def there(font: str) -> bool:
        return font.strip("'\"").lower() in _WINDOWS

    named: dict[str, str] = {}
    for name, (stack, _phone) in library.house.measures.items():
        if not name.endswith("-face"):
            continue
        first, *rest = [one.strip() for one in stack.split(",")]
        first = first.strip("'\"")
        if first in named or not rest or (first not in web and there(first)):
            continue
        if own := [one for one in rest if one.strip("'\"") not in web]:
            stand_in = next(filter(there, own), own[0])
            named[first] = f"mso-font-alt:{stand_in};mso-generic-font-family:{_KINDS.get(own[-1], 'auto')}"
    rules = [f"@font-face{{font-family:'{family}';{said}}}" for family, said in named.items()]
    return "<!--[if mso]>\n" + _element("\n".join(rules)) + "<![endif]-->\n" if rules else ""


def styles(rules: Mapping[str, tuple[str, str]], used: Iterable[str]) -> str:
    """The style elements for the short classes in `used`.

    Elements carry a phone's layout in themselves. Screens of 600 px and more widen it, word-processor readers
    (which have no media queries) by rules of their own, which also turn paddings of paragraphs into margins;
    then narrow screens that show something else, dark ones, and readers that set dark hooks.
    """
    wide: list[str] = []
    word: list[str] = []
    narrow: list[str] = []
    dark: list[str] = []
    hooks: list[str] = []
    for name in sorted(used):
        rule = rules.get(name)
        if rule is None:
            continue
        media, declarations = rule
        body = ";".join(f"{one}!important" for one in declarations.split(";"))
        if media in (WIDE, WORD):
            if media == WIDE:
                wide.append(f".{name}{{{body}}}")
            # that engine reads !important after a space alone (support data, css-important)
            read = [f"{one} !important" for one in declarations.split(";") if not one.startswith(_UNREAD)]
            if read:
                word.append(f".{name}{{{';'.join(read)}}}")
            continue
        if media == NARROW:
            narrow.append(f".{name}{{{body}}}")
            continue
        dark.append(f".{name}{{{body}}}")
        hooks += _hooked(name, body, declarations.startswith("background-color"))
    parts = []
    if word:
        parts.append("<!--[if mso]>\n" + _element("\n".join(word)) + "<![endif]-->\n")
    if wide:
        rows = "\n".join(wide)
        parts.append(_element(f"@media only screen and (min-width:{MAIL_WIDTH}px){{\n{rows}\n}}"))
    if narrow:
        rows = "\n".join(narrow)
        parts.append(_element(f"@media only screen and (max-width:{MAIL_WIDTH - 1}px){{\n{rows}\n}}"))
    if dark:
        parts.append(_element("@media (prefers-color-scheme:dark){\n" + "\n".join(dark) + "\n}"))
    if hooks:
        parts.append(_element("\n".join(hooks)))
    return "".join(parts)


def _hooked(name: str, body: str, ground: bool) -> list[str]:
    """A dark rule for readers that set hooks on what they darken: data-ogsb on a ground, data-ogsc on a text.

    All that stands on a darkened ground has the dark scheme, or words of one scheme would stand on a ground
    of the other; a ground answers to its own hook too, for nothing around it may have been changed.
    """
    if ground:
        return [f"[data-ogsb] .{name}{{{body}}}", f".{name}[data-ogsb]{{{body}}}"]
    return [f"[data-ogsc] .{name},[data-ogsb] .{name}{{{body}}}"]


def _element(rules: str) -> str:
    return f"<style>\n{rules}\n</style>\n"


def opening(library: Library, *, language: str, rtl: bool, preheader: str, title: str, called: str) -> str:
    """From the preheader to the table that holds one row per section."""
    page = library.tables["page"][BASE]
    direction = "rtl" if rtl else "ltr"
    hidden = ""
    if preheader:
        colour = library.house.colour("page", BASE)
        hidden = (
            f'<div style="{_HIDDEN};color:{colour};mso-hide:all">{preheader}</div>\n'
            f'<div aria-hidden="true" style="{_HIDDEN};mso-hide:all">{_FILLER * 60}</div>\n'
        )
    return f"""\
{hidden}<div role="article" aria-roledescription="{called}" aria-label="{title}" lang="{language}" \
dir="{direction}" style="word-break:break-word;word-wrap:break-word">
<table {_PLAIN} width="100%"{page}>
<tr><td align="center"{page}>
<!--[if mso]><table {_PLAIN} width="600" align="center"><tr><td width="600"><![endif]-->
<table {_PLAIN} width="100%" style="width:100%;max-width:600px;margin:0 auto">
"""


CLOSING = """\
</table>
<!--[if mso]></td></tr></table><![endif]-->
</td></tr></table>
</div>
</body>
</html>
"""
