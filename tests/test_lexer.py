"""Block templates in pieces: contexts as in the HTML Standard §13.2.5, Jinja in each of them, lines kept."""

from __future__ import annotations

import pytest

from handbill.library.lexer import Attribute, Out, Raw, Tag, lex


def tags(source: str) -> list[Tag]:
    lexed = lex(source, "b.j2")
    assert lexed.mistakes == []
    return [token for token in lexed.tokens if isinstance(token, Tag)]


def wrong(source: str) -> list[str]:
    return [str(one) for one in lex(source, "b.j2").mistakes]


def test_jinja_in_every_place() -> None:
    source = '{% if a %}<td class="x {{ y }}" {% if b %}align="end"{% endif %} nowrap>{{ z }}</td>{% endif %}'
    lexed = lex(source, "b.j2")
    kinds = [type(token).__name__ for token in lexed.tokens]
    assert kinds == ["Raw", "Tag", "Out", "Raw", "Raw"]
    (tag,) = tags(source)
    parts = [part.name if isinstance(part, Attribute) else part.text for part in tag.parts]
    assert parts == ["class", "{% if b %}", "align", "{% endif %}", "nowrap"]
    value = tag.parts[0].value if isinstance(tag.parts[0], Attribute) else None
    assert value is not None
    assert [part.expression if isinstance(part, Out) else part.text for part in value] == ["x ", "y"]


def test_what_stands_between_conditional_comments_is_lexed_too() -> None:
    names = [tag.name for tag in tags('<!--[if mso]><table class="x"><tr><td><![endif]--><p>a</p>')]
    assert names == ["table", "tr", "td", "p"]
    assert tags("<!--[if !mso]><!--><div><!--<![endif]-->")[0].name == "div"


def test_levels_of_headings_and_names_in_lower_case() -> None:
    assert [tag.name for tag in tags("<H{{ level }}></h{{ level }}>".replace("H{", "h{") + "<TD></TD>")] == [
        "h{{ level }}", "td",
    ]  # fmt: skip


def test_places() -> None:
    lexed = lex("<p>\n  {{ a }}\n<td\n  width=3>", "b.j2")
    out = next(token for token in lexed.tokens if isinstance(token, Out))
    assert (out.line, out.column) == (2, 3)
    assert wrong("<p>\n  <td width=3>") == [
        'b.j2:2:13: the value of width is not in double quotes; expected width="…"',
        "b.j2:2:13: '3' is not expected in a tag; expected name=\"value\"",
    ]


@pytest.mark.parametrize(
    ("source", "message"),
    [
        ("a < b", "1:3: a bare <; expected &lt; in text"),
        ("{{ a", "1:1: {{ is never closed"),
        ("<td", "1:1: the tag <td> is never closed"),
        ('<td class="a', "1:12: the value of class is never closed"),
        ("</td {{ x }}>", "1:1: a closing tag holds its name alone"),
        ("</{{ x }}>", "1:1: a closing tag holds its name alone"),
        ("<td {{ x }}>", "1:5: an expression may stand only inside an attribute's quotes"),
        ("<!-- {% raw %} -->", "1:1: a comment that is not plain"),
        ("<!-- {{ x }} -->", "1:1: a comment that is not plain"),
        ("<!--[if {{ x }}]>a<![endif]-->", "1:1: a comment that is not plain"),
        ("<!-- a", "1:1: a comment is never closed"),
        ("{% raw %}{{ x }}{% endraw %}", "1:1: raw is not allowed"),
        ("<!--[if mso]><td>", "1:1: <!--[if mso]> is never closed"),
        ("<td><![endif]-->", "1:5: <![endif]--> closes nothing"),
        ("<!--[if mso]><td><!--<![endif]-->", "1:18: <!--[if mso]> is closed by <!--<![endif]-->"),
        ("<!--[if mso]><!--[if mso]><![endif]--><![endif]-->", "1:14: a conditional comment inside another"),
        ('<td {% if a %}class="x"{% endif %}>', "1:15: class cannot depend on a statement"),
        ('<td class="x" class="y">', "1:15: a second class on one element"),
    ],
)
def test_what_is_refused_and_where(source: str, message: str) -> None:
    assert any(line.startswith("b.j2:" + message) for line in wrong(source)), wrong(source)


def test_plain_comments_go_and_their_lines_stay() -> None:
    lexed = lex("a<!-- one\ntwo -->b", "b.j2")
    text = "".join(token.text for token in lexed.tokens if isinstance(token, Raw))
    assert text == "a{#\n#}b"
