"""Templates can reach their fields and nothing else. The ways out are those that Jinja's own documents warn of
(sandbox, "Security Considerations") and some that come from two programs reading one source."""

# ruff: noqa: E501 - one attempt a line

from __future__ import annotations

import pytest

from handbill.library.environment import FILTERS, make_environment
from handbill.library.sandbox import check

TYPES = {"headline": "text", "copy": "copy", "align": "choice", "products": "products", "button": "button",
         "products.caption": "text", "number": "number", "points": "list", "points.title": "text"}  # fmt: skip
MACROS = frozenset({"put_button", "caller"})


def problems(source: str, **more: bool) -> list[str]:
    return [str(one) for one in check(make_environment(FILTERS), source, "b.j2", MACROS, TYPES, **more)]


@pytest.mark.parametrize(
    "source",
    [
        "{{ headline }}{% if copy and not align == 'start' %}{{ copy|prose('text') }}{% endif %}",
        "{% for item in products %}{% if loop.last %}{{ item.caption }}{% endif %}{% endfor %}",
        "{% set tone = button.tone %}{{ put_button(button, tone, 'filled', align=align) }}",
        "{% set name = 'a' if loop_is_a_name is none else headline %}".replace("loop_is_a_name", "copy"),
        "{% for item in products %}{% for point in item.points %}{{ point.title }}{% endfor %}{% endfor %}",
        "{{ 'a' if width.split.words else word.now }}{{ brand.name }}{{ link.unsubscribe }}",
        "{% call put_button(button, tone) %}{{ headline }}{% endcall %}",
    ],
)
def test_what_a_template_may_do(source: str) -> None:
    assert problems(source) == []


@pytest.mark.parametrize(
    ("source", "message"),
    [
        ("{{ headline.__class__ }}", "__class__ cannot be reached"),
        ("{{ headline.filled.__class__ }}", "__class__ cannot be reached"),
        ("{{ brand.name.join('x') }}", "only the shared macros may be called"),
        ("{{ headline.upper }}", "upper cannot be reached"),
        ("{{ align.format(headline) }}", "only the shared macros may be called"),
        ("{% set put_button = align.format %}{{ put_button(brand) }}", "put_button has a meaning already"),
        (
            "{% for put_button in products %}{{ put_button(brand) }}{% endfor %}",
            "put_button has a meaning already",
        ),
        ("{% set align = 'x' %}", "align has a meaning already"),
        ("{{ headline['__class__'] }}", "getitem is not allowed"),
        ("{{ headline|attr('__class__') }}", "the filter attr is not allowed"),
        ("{{ headline|safe }}", "the filter safe is not allowed"),
        ("{{ headline|_h }}", "the filter _h is not allowed"),
        ("{% filter upper %}x{% endfilter %}", "filterblock is not allowed"),
        ("{% for n in range(9) %}{% endfor %}", "a loop goes over a field, plainly"),
        ("{% for n in headline %}{% endfor %}", "a loop goes over a list, and headline is a text"),
        ("{% for n in brand %}{% endfor %}", "a loop goes over a list, and brand is no list"),
        ("{% for n in [1, 2] %}{% endfor %}", "a loop goes over a field, plainly"),
        ("{% for a, b in products %}{% endfor %}", "a loop goes over a field, plainly"),
        ("{% for a in products if a %}{% endfor %}", "a loop goes over a field, plainly"),
        ("{% for a in products recursive %}{% endfor %}", "a loop goes over a field, plainly"),
        ("{% for a in products %}" * 4 + "{% endfor %}" * 4, "more than 3 loops inside each other"),
        ("{% for a in products %}{{ loop.cycle('a') }}{% endfor %}", "only the shared macros may be called"),
        ("{% for a in products %}{{ loop.previtem }}{% endfor %}", "loop.previtem is not allowed"),
        ("{% for a in products %}{% set l = loop %}{{ l.previtem }}{% endfor %}", "loop is not a value"),
        ("{{ self.title() }}", "only the shared macros may be called"),
        ("{{ self }}", "no field self"),
        ("{{ caller() }}", "only the shared macros may be called"),
        ("{{ put_button }}", "put_button is a macro"),
        ("{{ put_button(*products) }}", "a macro takes its arguments one by one"),
        ("{{ put_button.__globals__ }}", "__globals__ cannot be reached"),
        ("{{ put_button.name }}", "put_button is a macro"),
        ("{{ cycler }}", "no field cycler"),
        ("{{ _s0 }}", "no field _s0"),
        ("{{ headlin }}", "no field headlin; nearest: headline"),
        ("{{ number + 1 }}", "add is not allowed"),
        ("{{ number * 99999999 }}", "mul is not allowed"),
        ("{{ headline ~ copy }}", "concat is not allowed"),
        ("{{ ('a', 'b') }}", "tuple is not allowed"),
        ("{{ {} }}", "dict is not allowed"),
        ("{{ ''.__class__ }}", "__class__ cannot be reached"),
        ("{{ 'x'.y }}", "only fields have fields"),
        ("{{ headline.x }}", "headline is a text and has no fields"),
        ("{{ headline is callable }}", "the test callable is not allowed"),
        ("{% import 'macros.html' as m %}", "import is not allowed"),
        ("{% from 'macros.html' import x %}", "fromimport is not allowed"),
        ("{% include 'macros.html' %}", "include is not allowed"),
        ("{% extends 'macros.html' %}", "extends is not allowed"),
        ("{% block x %}{% endblock %}", "block is not allowed"),
        ("{% macro x() %}{% endmacro %}", "macros live in the shared file"),
        ("{% set x %}y{% endset %}", "assignblock is not allowed"),
        ("{% set x = namespace() %}", "{% set name = field %} is the only assignment"),
        ("{% set x.y = 1 %}", "{% set name = field %} is the only assignment"),
        ("{% with x = 1 %}{% endwith %}", "with is not allowed"),
        ("{% autoescape false %}{% endautoescape %}", "scope is not allowed"),
        ("{% do headline %}", "Encountered unknown tag 'do'"),
        ("{% if %}", "Expected an expression"),
    ],
)
def test_ways_out_are_shut(source: str, message: str) -> None:
    lines = problems(source)
    assert any(line.startswith("b.j2:1:1: template: ") and message in line for line in lines), lines


def test_the_line_is_named() -> None:
    assert problems("a\nb {{ headline }}\n{{ headlin }}") == [
        "b.j2:3:1: template: no field headlin; nearest: headline"
    ]


def test_spliced_source_may_look_up_tables_and_no_more() -> None:
    assert problems("{{ _s0[align][tone] }}{{ (headline)|_h }}", spliced=True) == []
    for source in (
        "{{ headline[align] }}",
        "{{ _t }}",
        "{{ headline|safe }}",
        "{{ _s0.__class__ }}",
        "{{ _s0[7|abs] }}",
    ):
        assert problems(source, spliced=True), source


@pytest.mark.parametrize("value", [object(), print, ("a",), 1.5, b"x", True])
def test_what_is_no_text_is_not_shown(value: object) -> None:
    for name in ("_h", "_a", "_u", "_t"):
        with pytest.raises(TypeError, match="cannot be shown"):
            FILTERS[name](value)


def test_plain_values_are_shown_for_their_context() -> None:
    assert [FILTERS[name]('<"&') for name in ("_h", "_a", "_u")] == ["&lt;&#34;&amp;"] * 3
    assert [FILTERS["_t"](value) for value in ("<", 3, None)] == ["<", "3", ""]


def test_nothing_of_jinjas_own_is_within_reach() -> None:
    environment = make_environment(FILTERS)
    assert environment.globals == {}
    assert set(environment.filters) == {"_h", "_a", "_u", "_t", "_prose", "_inline"}
