"""What authors mistype in YAML, and the line and words they get.

Against: YAML 1.2.2, which says why each is none: tabs (6.1), plain texts (7.3.3), quotes (7.3.1, 7.3.2), flow
collections (7.4), block scalars (8.1), comments (6.6); that libyaml refuses them all but the last.
"""

from __future__ import annotations

import pytest
import yaml

from handbill.base.errors import MistakesError
from handbill.base.source import child, entries, parse_yaml, scalar

HEAD = "handbill: 1\nstack:\n  - block: hero\n    kicker: k\n"
TAIL = "\n    copy: Words.\n  - block: footer-nav\n"
START = "a text without quotes cannot start with"
INDENT = "expected 2 for what stands beside the line 3, or as much as the line above"
SLIPS = {
    "    copy: Now: all off": '11: `: ` ends a text without quotes; expected quotes: copy: "Now: all off"',
    "    button: label: Save": '13: `: ` ends a text without quotes; expected quotes: button: "label: Save"',
    "    headline Hi": "13: no colon follows headline; expected headline: Hi",
    "    headline:Hi": "13: no space follows the colon; expected headline: Hi",
    '    headline: "Hi': '15: a text opens with " here and never closes; expected " at its end',
    "\theadline: Hi": "1: a tab indents this line; expected spaces",
    "\u00a0\u00a0  headline: Hi": (
        "1: a character that only looks like a space (U+00A0) indents this line; expected spaces"
    ),
    "   headline: Hi": f"4: this line is indented by 3 spaces, the one above by 4; {INDENT}",
    "     headline: Hi": (
        "6: this line is indented by 5 spaces, the one above by 4; "
        "expected the same for all fields of one section"
    ),
    "    headline: **Hi**": f'15: {START} *; expected quotes: "**Hi**"',
    "    headline: %20 off": f'15: {START} %; expected quotes: "%20 off"',
    "    headline: @you": f'15: {START} @; expected quotes: "@you"',
    "    headline: ? x": f'15: {START} ?; expected quotes: "? x"',
    "    headline: 'Don't go'": (
        '15: an apostrophe closes a text in single quotes; expected quotes: headline: "Don\'t go"'
    ),
    '    headline: "Hi" there': (
        '15: the text goes on after the " that closes it; '
        "expected one pair of quotes around all, others as “ ”"
    ),
    "    tones: {light: #ffffff, dark: #000000}": (
        "20: `#ffffff` is taken for a comment, and so is what follows it; expected quotes: '#ffffff'"
    ),
    "    button: {label: Save, link: /x": "13: { opens here and never closes; expected } at the end",
    "    lines: [a, b": "12: [ opens here and never closes; expected ] at the end",
    "    lines: - a": (
        "12: a list does not start on the line of its field; expected a line of its own, or [a, b]"
    ),
    "    - headline: x": "5: an item of a list stands among fields; expected a field, or less indentation",
    "    headline: > x": "15: after > a text starts on the next line; expected a new line, or quotes",
    '    headline: "50\\% off"': (
        "18: \\% means nothing in double quotes; expected single quotes, or \\\\ for one \\"
    ),
}
COMMENTS = {
    "    headline: We are #1": "22: `#1`",
    "    colour: #ffffff": "13: `#ffffff`",
    "    lines: [a, b] #c": "19: `#c`",
}
TEXTS = {
    '    headline: "We are #1"': "We are #1",
    "    headline: 'a #1 b'": "a #1 b",
    "    headline: Fine  # a note, see #2": "Fine",
    "    headline: no#1": "no#1",
    "    #headline: old\n    headline: New": "New",
    "    headline: |\n      We are\n      all #1": "We are\nall #1\n",
}


@pytest.mark.parametrize("line", SLIPS)
def test_the_line_and_the_cure(line: str) -> None:
    with pytest.raises(yaml.YAMLError):
        yaml.safe_load(HEAD + line + TAIL)
    with pytest.raises(MistakesError) as caught:
        parse_yaml((HEAD + line + TAIL).encode(), "c.yaml")
    column, _, words = SLIPS[line].partition(": ")
    assert str(caught.value) == f"c.yaml:5:{column}: YAML syntax: {words}"


@pytest.mark.parametrize("line", COMMENTS)
def test_a_comment_that_was_meant_as_text(line: str) -> None:
    with pytest.raises(MistakesError) as caught:
        parse_yaml((HEAD + line + TAIL).encode(), "c.yaml")
    column, _, word = COMMENTS[line].partition(": ")
    said = f"{word} is taken for a comment: # after a space starts one"
    expected = "quotes around the text, or `# ` for a comment"
    assert str(caught.value) == f"c.yaml:5:{column}: YAML syntax: {said}; expected {expected}"


@pytest.mark.parametrize("line", TEXTS)
def test_signs_inside_texts_and_comments_stay(line: str) -> None:
    section = entries(child(parse_yaml((HEAD + line + TAIL).encode(), "c.yaml").root, "stack"))[0]
    assert scalar(child(section, "headline")) == TEXTS[line]


def test_curly_quotes_hold_nothing_together() -> None:
    with pytest.raises(MistakesError) as caught:
        parse_yaml((HEAD + "    button: {label: “Save, now”, link: /x}" + TAIL).encode(), "c.yaml")
    assert (
        str(caught.value) == 'c.yaml:5:28: curly quotes hold no text together; expected straight quotes: "…"'
    )
