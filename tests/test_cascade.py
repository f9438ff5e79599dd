"""Which declaration wins (CSS Cascading and Inheritance 4, §6.1: specificity, then order)."""

from __future__ import annotations

from handbill.library.cascade import resolve
from handbill.library.css import parse_css


def style(css: str, classes: str) -> list[str]:
    rules, mistakes = parse_css(css, "b.css")
    assert mistakes == ()
    key = frozenset(classes.split())
    return [f"{one.name}:{one.value}" for one in resolve(rules, {key})[key]]


def test_specificity_then_order() -> None:
    assert style(".a.b { color: red } .a { color: green } .b { color: blue }", "a b") == ["color:red"]
    assert style(".b { color: blue } .a { color: green }", "a b") == ["color:green"]


def test_only_rules_whose_classes_are_all_there() -> None:
    assert style(".a.c { color: red } .a { width: 1px }", "a b") == ["width:1px"]
    assert style(".c { color: red }", "a") == []


def test_a_fallback_pair_survives_and_a_later_rule_replaces_it() -> None:
    pair = ".a { color: #fff; color: rgba(255,255,255,.5) }"
    assert style(pair, "a") == ["color:#fff", "color:rgba(255,255,255,.5)"]
    assert style(pair + " .b { color: red }", "a b") == ["color:red"]
    assert style(".b { color: red } " + pair, "a b") == ["color:#fff", "color:rgba(255,255,255,.5)"]


def test_the_later_rule_also_stands_later() -> None:
    css = ".a { margin-top: 5px; margin: 0 } .b { margin-top: 1px }"
    assert style(css, "a b") == ["margin:0", "margin-top:1px"]


def test_a_rules_own_word_replaces_its_type_role() -> None:
    made = style(".a { --type: title; font-size: 20px }", "a")
    assert [one for one in made if one.startswith("font-size")] == ["font-size:20px"]
    assert "font-family:var(--title-face)" in made


def test_what_an_inliner_would_drop_is_kept() -> None:
    made = style(".a { mso-line-height-rule: exactly; width: var(--x); color: hsl(1) }", "a")
    assert made == ["mso-line-height-rule:exactly", "width:var(--x)", "color:hsl(1)"]


def test_many_sets_at_once_keep_apart() -> None:
    rules, _wrong = parse_css(".a { color: red } .b { color: blue }", "b.css")
    made = resolve(rules, {frozenset({"a"}), frozenset({"b"}), frozenset({"c"}), frozenset()})
    assert {"".join(key): [one.value for one in found] for key, found in made.items()} == {
        "a": ["red"], "b": ["blue"], "c": [],
    }  # fmt: skip
