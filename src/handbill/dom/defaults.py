"""What browsers do without any style sheet: the HTML standard's rendering section (15.3), for mails'
elements."""

from __future__ import annotations

from handbill.dom.tree import Look

_HEADING = "display:block;font-weight:bold;"
_NONE = "display:none"
_BLOCK = "display:block"
SHEET: dict[str, str] = {
    **dict.fromkeys(("head", "title", "style", "script", "meta", "link", "base", "template"), _NONE),
    **dict.fromkeys(("noscript", "param", "source", "track", "area", "datalist"), _NONE),
    **dict.fromkeys(
        [
            "html",
            "div",
            "article",
            "aside",
            "section",
            "header",
            "footer",
            "main",
            "nav",
            "address",
            "figcaption",
            "hgroup",
            "form",
            "details",
            "summary",
        ],
        _BLOCK,
    ),
    "body": "display:block;margin:8px",
    "p": "display:block;margin:1em 0",
    "blockquote": "display:block;margin:1em 40px",
    "figure": "display:block;margin:1em 40px",
    "center": "display:block;text-align:-center",
    "h1": _HEADING + "font-size:2em;margin:.67em 0",
    "h2": _HEADING + "font-size:1.5em;margin:.83em 0",
    "h3": _HEADING + "font-size:1.17em;margin:1em 0",
    "h4": _HEADING + "margin:1.33em 0",
    "h5": _HEADING + "font-size:.83em;margin:1.67em 0",
    "h6": _HEADING + "font-size:.67em;margin:2.33em 0",
    "ul": "display:block;margin:1em 0;padding-inline-start:40px;list-style-type:disc",
    "ol": "display:block;margin:1em 0;padding-inline-start:40px;list-style-type:decimal",
    "menu": "display:block;margin:1em 0;padding-inline-start:40px;list-style-type:disc",
    "li": "display:list-item",
    "dl": "display:block;margin:1em 0",
    "dt": _BLOCK,
    "dd": "display:block;margin-inline-start:40px",
    "hr": "display:block;margin:.5em auto;border:1px inset",
    "pre": "display:block;margin:1em 0;white-space:pre;font-family:monospace",
    "table": "display:table;box-sizing:border-box;border-spacing:2px;text-indent:0",
    "caption": "display:table-caption;text-align:center",
    "thead": "display:table-header-group;vertical-align:middle",
    "tbody": "display:table-row-group;vertical-align:middle",
    "tfoot": "display:table-footer-group;vertical-align:middle",
    "tr": "display:table-row;vertical-align:inherit",
    "td": "display:table-cell;vertical-align:inherit;padding:1px",
    "th": "display:table-cell;vertical-align:inherit;padding:1px;font-weight:bold;text-align:center",
    "colgroup": "display:table-column-group",
    "col": "display:table-column",
    "a": "text-decoration:underline;color:#0000ee",
    **dict.fromkeys(("b", "strong"), "font-weight:bolder"),
    **dict.fromkeys(("i", "em", "cite", "var", "dfn", "address"), "font-style:italic"),
    **dict.fromkeys(("code", "kbd", "samp", "tt"), "font-family:monospace"),
    "small": "font-size:smaller",
    "big": "font-size:larger",
    **dict.fromkeys(("u", "ins"), "text-decoration:underline"),
    **dict.fromkeys(("s", "strike", "del"), "text-decoration:line-through"),
    "sub": "vertical-align:sub;font-size:smaller",
    "sup": "vertical-align:super;font-size:smaller",
    "mark": "background-color:#ffff00;color:#000000",
}
SHEET["address"] = "display:block;font-style:italic"
_FONT_SIZES = ("10px", "13px", "16px", "18px", "24px", "32px", "48px")


def hints(look: Look) -> str:
    """The declarations that presentational attributes stand for (HTML standard, sections 15.3 and 15.4)."""
    tag, given = look.tag, look.hints
    found: list[str] = []
    cell = tag in ("td", "th")
    if tag in ("table", "tr", "td", "th", "img", "hr", "col", "iframe", "video"):
        for name in ("width", "height"):
            if (
                name in given
                and not (tag == "tr" and name == "width")
                and not (tag == "table" and name == "height" and given[name].strip() == "0")
            ):
                found.append(f"{name}:{_dimension(given[name])}")
    if "bgcolor" in given and tag in ("body", "table", "tbody", "thead", "tfoot", "tr", "td", "th"):
        value = given["bgcolor"].strip()
        found.append(f"background-color:{value if not _digits(value) else '#' + value}")
    if "background" in given and tag in ("body", "table", "tr", "td", "th"):
        found.append(f"background-image:url({given['background'].replace(')', '%29')})")
    if "align" in given:
        found += _align(tag, given["align"].strip().lower())
    if "valign" in given and (cell or tag in ("tr", "tbody", "thead", "tfoot", "col")):
        found.append(f"vertical-align:{given['valign'].strip().lower()}")
    if tag == "table":
        if "cellspacing" in given:
            found.append(f"border-spacing:{_dimension(given['cellspacing'])}")
        if "cellpadding" in given:
            found.append(f"-cell-padding:{_dimension(given['cellpadding'])}")
        width = _dimension(given["border"]) if given.get("border") else "1px" if "border" in given else "0px"
        if width != "0px":
            found.append(f"border:{width} outset;-cell-border:1px")
    if tag == "img" and "border" in given and _dimension(given["border"]) != "0px":
        found.append(f"border:{_dimension(given['border'])} solid")
    if "nowrap" in given and cell:
        found.append("white-space:nowrap")
    if "dir" in given and given["dir"].strip().lower() in ("ltr", "rtl"):
        found.append(f"direction:{given['dir'].strip().lower()}")
    if "hidden" in given:
        found.append("display:none")
    if tag == "font":
        if "color" in given:
            found.append(f"color:{given['color']}")
        if "face" in given:
            found.append(f"font-family:{given['face']}")
        if given.get("size", "").strip() in tuple("1234567"):
            found.append(f"font-size:{_FONT_SIZES[int(given['size'].strip()) - 1]}")
    return ";".join(found)


def _align(tag: str, value: str) -> list[str]:
    if tag in ("table", "img"):
        if value in ("left", "right"):
            return [f"float:{value}"]
        return ["margin-left:auto;margin-right:auto"] if tag == "table" and value == "center" else []
    if tag in ("td", "th", "tr", "tbody", "thead", "tfoot", "div", "p", "h1", "h2", "h3", "h4", "h5", "h6"):
        names = {"center": "-center", "middle": "-center", "left": "-left", "right": "-right"}
        value = names.get(value, value)
        return [f"text-align:{value}"]
    return []


def _dimension(text: str) -> str:
    text = text.strip()
    digits = ""
    for character in text.removeprefix("+"):
        if not (character.isdigit() or (character == "." and "." not in digits)):
            break
        digits += character
    if not digits:
        return "auto"
    return digits + ("%" if text[len(digits) :].startswith("%") else "px")


def _digits(value: str) -> bool:
    return len(value) in (3, 6) and all(one in "0123456789abcdefABCDEF" for one in value)
