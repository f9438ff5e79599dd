"""Style sheets of blocks: CSS Syntax 3 for the grammar, CSS Logical Properties 1 for start and end."""

# ruff: noqa: E501 - messages are compared whole, on one line

from __future__ import annotations

import pytest

from handbill.base.errors import Place
from handbill.library.css import parse_css, physical
from handbill.library.tokens import ALL, DARK, PHONE, Declaration, split_values, substitute, unsafe


def wrong(text: str) -> list[str]:
    return [str(mistake) for mistake in parse_css(text, "b.css")[1]]


def test_rules_by_media_with_places() -> None:
    rules, mistakes = parse_css(
        ".a, .b.c { color: var(--text); }\n@media (--phone) {\n  .a { width: 100% }\n}\n"
        "@media (prefers-color-scheme: dark) { .a { color: #fff; } }",
        "b.css",
    )
    assert mistakes == ()
    assert [(rule.media, set(rule.classes)) for rule in rules] == [
        (ALL, {"a"}), (ALL, {"b", "c"}), (PHONE, {"a"}), (DARK, {"a"}),
    ]  # fmt: skip
    assert rules[2].declarations == (Declaration("width", "100%", Place("b.css", 3, 8)),)


def test_fallbacks_and_double_quotes() -> None:
    rules, mistakes = parse_css(
        '.a { color: #fff; color: rgba(255,255,255,.9); font-family: "A B", serif }', "b.css"
    )
    assert mistakes == ()
    assert [(one.name, one.value) for one in rules[0].declarations] == [
        ("color", "#fff"), ("color", "rgba(255,255,255,.9)"), ("font-family", "'A B', serif"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("css", "line"),
    [
        (".a .b { color: red }", "1:1: selector '.a .b' is not allowed; expected classes of one element, such as .title.large"),
        ("\n p { color: red }", "2:2: selector 'p' is not allowed; expected classes of one element, such as .title.large"),
        (".a:hover { color: red }", "1:1: selector '.a:hover' is not allowed; expected classes of one element, such as .title.large"),
        (".a > .b { color: red }", "1:1: selector '.a > .b' is not allowed; expected classes of one element, such as .title.large"),
        ("@import url(x.css);", "1:1: @import url(x.css) is not allowed; expected @media (--phone), (--narrow) or (prefers-color-scheme: dark)"),
        ("@media print { .a { color: red } }", "1:1: @media print is not allowed; expected @media (--phone), (--narrow) or (prefers-color-scheme: dark)"),
        (".a { background: url(x.png) }", "1:6: background: url() is not allowed; expected pictures through the shared macros"),
        (".a { background: URL('x') }", "1:6: background: URL() is not allowed"),
        (".a { background: u\\72l(x) }", "1:6: background: url() is not allowed"),
        (".a { width: expression(1) }", "1:6: width: expression() is not allowed"),
        (".a { color: red !important }", "1:6: !important is not allowed; expected nothing: phone and dark rules get it by themselves"),
        (".a { --own: 1 }", "1:6: --own cannot be set here; expected house values come from brand.yaml and block.yaml"),
        (".a { position: absolute }", "1:6: position is not allowed: mail readers drop it"),
        (".a { font-family: '{{ 7 }}' }", "1:6: font-family: '{' is not allowed in a value"),
        (".a { font-family: '</style>' }", "1:6: font-family: '<' is not allowed in a value"),
        (".a { font-family: 'a\"b' }", "1:6: font-family: '\"' is not allowed in a value"),
        (".a { color: }", "1:6: color has no value"),
        (".a { color red }", "1:15: CSS: EOF reached before {} block for a qualified rule."),
        (".a { inline-size: 3px }", "1:6: inline-size cannot be said in physical terms; expected width, height, or padding, margin and border by side"),
        (".a { padding: 1px 2px 3px 4px 5px }", "1:6: padding cannot be said in physical terms; expected one to four values"),
        (".a { --type: 3x }", "1:6: --type: 3x is not a type role; expected the name of one, such as title"),
    ],
)  # fmt: skip
def test_what_is_refused_and_where(css: str, line: str) -> None:
    assert wrong(css)[0].startswith("b.css:" + line)


@pytest.mark.parametrize(
    ("name", "value", "ltr", "rtl"),
    [
        ("padding-inline-start", "4px", "padding-left:4px", "padding-right:4px"),
        ("padding-inline", "4px 8px", "padding-left:4px padding-right:8px", "padding-right:4px padding-left:8px"),
        ("padding-block", "4px", "padding-top:4px padding-bottom:4px", "padding-top:4px padding-bottom:4px"),
        ("margin-inline-end", "auto", "margin-right:auto", "margin-left:auto"),
        ("border-inline-start", "1px solid #000", "border-left:1px solid #000", "border-right:1px solid #000"),
        ("border-inline-width", "1px 2px", "border-left-width:1px border-right-width:2px", "border-right-width:1px border-left-width:2px"),
        ("border-start-end-radius", "3px", "border-top-right-radius:3px", "border-top-left-radius:3px"),
        ("border-radius", "1px 2px 3px 4px", "border-radius:1px 2px 3px 4px", "border-radius:2px 1px 4px 3px"),
        ("margin", "1px 2px 3px 4px", "margin:1px 2px 3px 4px", "margin:1px 4px 3px 2px"),
        ("margin", "0 0 14px", "margin:0 0 14px", "margin:0 0 14px"),
        ("padding", "1px 2px 3px 4px", "padding-top:1px padding-right:2px padding-bottom:3px padding-left:4px",
         "padding-top:1px padding-left:2px padding-bottom:3px padding-right:4px"),
        ("text-align", "start", "text-align:left", "text-align:right"),
        ("text-align", "center", "text-align:center", "text-align:center"),
    ],
)  # fmt: skip
def test_physical_sides_for_each_direction(name: str, value: str, ltr: str, rtl: str) -> None:
    declaration = Declaration(name, value, Place("b.css", 1, 1))
    for right, expected in ((False, ltr), (True, rtl)):
        assert " ".join(f"{one.name}:{one.value}" for one in physical(declaration, right)) == expected


def test_values() -> None:
    assert split_values("0 calc(1px + 2px)  3px") == ["0", "calc(1px + 2px)", "3px"]
    assert substitute("1px solid var(--line)", {"line": "#123456"}.__getitem__) == "1px solid #123456"
    # what a name stands for is not read again, so nothing can go in circles
    assert substitute("var(--a)", lambda _name: "var(--a)") == "var(--a)"
    assert unsafe("1px solid #fff") == ""
    assert unsafe("(1)") == "parentheses stand after a function's name"
