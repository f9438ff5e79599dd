"""Signs as readers count them. Expected values: UAX #29 (grapheme clusters), UAX #11 (East Asian width),
UTS #51 (emoji sequences); tests/outside/test_languages.py holds the same to ICU's segmenter.
"""

from __future__ import annotations

from email import message_from_bytes
from email.policy import default
from typing import Any

import pytest

from handbill.base.letters import beginning, clusters, count, extent, room, shortened

FAMILY = "\U0001f469\u200d\U0001f469\u200d\U0001f467\u200d\U0001f466"  # UTS #51: one RGI ZWJ sequence
WAVE, FLAG, KEYCAP = "\U0001f44b\U0001f3fd", "\U0001f1ee\U0001f1ea", "1\ufe0f\u20e3"
HEART, SCOTLAND = (
    "\u2764\ufe0f\u200d\U0001f525",
    "\U0001f3f4\U000e0067\U000e0062\U000e0073\U000e0063\U000e0074\U000e007f",
)


@pytest.mark.parametrize(
    ("text", "signs", "columns"),
    [
        ("", 0, 0), ("Sale", 4, 4), ("caf\u0065\u0301", 4, 4), ("日の出まで。", 6, 12), ("ｶﾞ", 1, 1),
        (FAMILY, 1, 2), (WAVE, 1, 2), (FLAG, 1, 2), (FLAG * 2, 2, 4),
        (KEYCAP, 1, 2), (HEART, 1, 2), (SCOTLAND, 1, 2),
        ("각" + "\u1100\u1161\u11a8", 2, 4), ("ที่", 1, 1),
        ("नि", 1, 1), ("\u2066€45\u2069", 3, 3), ("🌿 ok", 4, 5),
    ],
)  # fmt: skip
def test_signs_and_columns(text: str, signs: int, columns: int) -> None:
    assert (count(text), room(text)) == (signs, columns)
    assert "".join(clusters(text)) == text


def test_no_sign_is_split() -> None:
    assert beginning(f"a{FAMILY}b", 2) == "a"
    assert beginning(f"a{FAMILY}b", 3) == f"a{FAMILY}"
    assert beginning("日の出", 5) == "日の"
    assert shortened("日の出", 6) == "日の出"
    assert shortened(f"ab {FAMILY}", 4) == "ab…"
    assert shortened("Sale ends", 5) == "Sale…"


def test_length_for_people() -> None:
    assert extent("Sale 🌿") == "6 characters"
    assert extent("日の出まで") == "5 characters, as wide as 10"


def test_a_field_holds_as_many_emoji_as_letters(shop: Any) -> None:
    """60 signs on a button, 250 in an alternative text, whatever they are made of, and stay whole."""

    def stack(waves: int) -> str:
        return (
            f"  - block: hero\n    headline: Hello {FAMILY}\n    copy: Words, {FAMILY}.\n"
            f"    button: {{label: {WAVE * waves}, link: /x}}\n"
            f"    picture: {{file: wren.png, alt: {FAMILY * 250}}}\n"
        )

    head = f"subject: {FAMILY * 12}\npreheader: {FAMILY}"
    (line,) = shop.mistakes(stack(61), head)
    assert "61 characters, more than 60" in line
    built = shop.compile(stack(60), head).built
    message = message_from_bytes(built.eml, policy=default)
    assert message["Subject"] == FAMILY * 12
    html, text = built.html.decode(), built.text.decode()
    for whole in (f"Hello {FAMILY}", WAVE * 60):
        assert whole in html
        assert whole in text
    assert f'alt="{FAMILY * 250}"' in html
    assert f"<title>{FAMILY * 12}</title>" in html
