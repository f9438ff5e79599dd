"""Header fields against RFC 5322, 2047, 2369 and 8058, read back with the stdlib's parser.

Row numbers (R05 …) are those of the project's table of published check values.
"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta, timezone
from email import message_from_bytes
from email.header import decode_header, make_header
from email.headerregistry import AddressHeader, UnstructuredHeader
from email.message import EmailMessage
from email.policy import SMTP, default
from email.utils import format_datetime
from typing import cast

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handbill.base.errors import Fault
from handbill.write.headers import address, address_header, date, header, list_unsubscribe, message_id

WORD = re.compile(r"=\?utf-8\?[BQ]\?[!->@-~]*\?=")  # RFC 2047 §2
LONG_LINK = "https://orrowby.example/u/" + "o" * 300

printable = st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp"]), max_size=120)
likely = st.text(st.sampled_from('aé  日=?_"\\,.(<@👩\u200d🦰🇫🇷é'), max_size=120)


def read(field: bytes) -> EmailMessage:
    return cast(EmailMessage, message_from_bytes(field + b"\r\n", policy=default))


def subject(value: str) -> str:
    parsed = read(header("Subject", value))["Subject"]
    assert isinstance(parsed, UnstructuredHeader)
    assert not parsed.defects
    return str(parsed)


def mailboxes(field: bytes, name: str = "From") -> list[tuple[str, str]]:
    parsed = read(field)[name]
    assert isinstance(parsed, AddressHeader)
    assert not parsed.defects
    words = WORD.findall(field.decode())
    if len(words) > 1 and len(parsed.addresses) == 1:
        # CPython 3.11 shows a space between the encoded-words of a phrase, against RFC 2047 §6.2
        return [(str(make_header(decode_header(" ".join(words)))), parsed.addresses[0].addr_spec)]
    return [(mailbox.display_name, mailbox.addr_spec) for mailbox in parsed.addresses]


def check_lines(field: bytes, most: int = 78) -> None:
    """R01, RFC 5322 §2.1.1: 78 without CRLF; R18, RFC 2047 §2: 76 beside an encoded-word of at most 75."""
    assert field.endswith(b"\r\n")
    for line in field.decode("ascii").removesuffix("\r\n").split("\r\n"):
        assert line.strip()
        assert "\r" not in line
        assert "\n" not in line
        assert len(line) <= most
        for word in re.findall(r"=\?\S*\?=", line):
            assert WORD.fullmatch(word)
            assert len(word) <= 75
            assert len(line) <= 76


def test_plain_subject_is_literal_and_folded() -> None:
    value = "Winter last call: up to 60% off kettles, pans and stoves until Friday midnight, then full price"
    field = header("Subject", value)
    check_lines(field)
    assert field.replace(b"\r\n", b"") == b"Subject: " + value.encode()
    assert field.count(b"\r\n") == 2


@pytest.mark.parametrize(("size", "folds"), [(78, 1), (79, 2)])
def test_a_line_may_be_full(size: int, folds: int) -> None:
    value = "kettle " * 9 + "k" * (size - len("Subject: ") - 63)
    assert header("Subject", value).count(b"\r\n") == folds  # R01, RFC 5322 §2.1.1


def test_only_foreign_words_are_encoded() -> None:
    assert (
        header("Subject", "Last call: Cafetière pots")
        == b"Subject: Last call: =?utf-8?Q?Cafeti=C3=A8re?= pots\r\n"
    )


def test_the_shorter_code_wins() -> None:
    assert header("Subject", "naïve_a?b") == b"Subject: =?utf-8?B?bmHDr3ZlX2E/Yg==?=\r\n"
    assert header("Subject", "naïvely") == b"Subject: =?utf-8?Q?na=C3=AFvely?=\r\n"
    assert header("Subject", "日本") == b"Subject: =?utf-8?B?5pel5pys?=\r\n"


@pytest.mark.parametrize(
    "value",
    [
        "",
        " ",
        "é é",  # R20, RFC 2047 §8: white space between encoded-words is not shown
        "é a é",
        "é  a",
        "a  b",
        " lead and trail ",
        "=?utf-8?Q?not_mine?=",
        "a=?b",
        "é" * 200,
        "日本語の件名" * 40,
        "kettle " * 40 + "é",
        "é" + " kettle" * 40,
        "x" * 65 + " é",
        "x" * 100 + " é",
        "é " + "x" * 100,
        "x" * 5000,
    ],
)
def test_subjects_come_back(value: str) -> None:
    field = header("Subject", value)
    assert subject(value) == value
    check_lines(field)


def test_a_long_plain_word_keeps_a_line_to_itself() -> None:
    value = f"Look: {LONG_LINK} before Friday"
    field = header("Comments", value)
    assert field.decode().split("\r\n") == ["Comments: Look:", f" {LONG_LINK}", " before Friday", ""]
    assert read(field)["Comments"] == value


def test_no_fold_between_a_plain_and_an_encoded_word() -> None:
    # CPython's decode_header, under many readers, drops the space of such a fold
    value = "Last call – kettles from 35,99 € until Friday midnight, and free engraving on every pan"
    raw = header("Subject", value).decode().removeprefix("Subject: ")
    assert str(make_header(decode_header(raw))) == value


def test_spaces_between_encoded_words_follow_the_rfc_table() -> None:
    # R20, RFC 2047 §8: what stands between two encoded-words vanishes, so a wanted space is inside
    field = header("Subject", "né " * 60 + "né")
    assert field.count(b"?=") > 2
    assert re.findall(rb"\?=(\s+)=\?", field) == [b"\r\n "] * (field.count(b"?=") - 1)


@pytest.mark.parametrize(
    "cluster", ["é", "👩\u200d🦰", "👨\u200d👩\u200d👧\u200d👦", "👍🏽", "🇫🇷", "ก็", "❤\ufe0f"]
)
def test_a_grapheme_cluster_is_not_torn(cluster: str) -> None:
    field = header("Subject", cluster * 30).decode()
    words = [str(read(f"Subject: {word}\r\n".encode())["Subject"]) for word in WORD.findall(field)]
    assert len(words) > 1
    assert "".join(words) == cluster * 30
    assert all(word == cluster * (len(word) // len(cluster)) for word in words)


def test_a_cluster_over_one_word_is_split_between_characters() -> None:
    value = "e" + "\u0301" * 90
    check_lines(header("Subject", value))
    assert subject(value) == value


@given(printable | likely)
def test_any_printable_subject_comes_back(value: str) -> None:
    field = header("Subject", value)
    check_lines(field)
    assert subject(value) == value


@given(printable | likely)
def test_each_encoded_word_holds_whole_characters(value: str) -> None:
    for word in WORD.findall(header("Subject", value).decode()):  # R18, RFC 2047 §5
        parsed = read(f"Subject: {word}\r\n".encode())["Subject"]
        assert "\ufffd" not in str(parsed).replace("\ufffd" if "\ufffd" in value else "\0", "")
        assert not parsed.defects


@pytest.mark.parametrize(
    "bad", ["\r\nBcc: a@b.example", "\n", "\r", "\0", "\t", "\x7f", "\x85", "\u2028", "\ud800"]
)
def test_no_value_starts_a_field_of_its_own(bad: str) -> None:
    for call in (
        lambda: header("Subject", f"Sale{bad}"),
        lambda: address(f"Orrowby{bad}", "a@orrowby.example"),
        lambda: address("Orrowby", f"a{bad}@orrowby.example"),
        lambda: address("Orrowby", f'"a{bad}"@orrowby.example'),
        lambda: address_header("To", [f"a@orrowby.example{bad}"]),
        lambda: message_id(f"a{bad}", "orrowby.example"),
        lambda: message_id("a", f"orrowby.example{bad}"),
        lambda: list_unsubscribe([f"https://orrowby.example/u{bad}"]),
    ):
        with pytest.raises(Fault):
            call()


@pytest.mark.parametrize("name", ["", "Sub ject", "Subject:", "Sübject", "Subject\n"])
def test_field_names_are_checked(name: str) -> None:
    with pytest.raises(Fault, match="header name"):  # RFC 5322 §3.6.8
        header(name, "x")


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("", "a@b.example"),
        ("Orrowby Shop", "Orrowby Shop <a@b.example>"),
        ("Orrowby, Ltd.", '"Orrowby, Ltd." <a@b.example>'),
        ("J. Doe", '"J. Doe" <a@b.example>'),  # a bare dot is obsolete, RFC 5322 §4.1
        ('The "K" \\ Shop', '"The \\"K\\" \\\\ Shop" <a@b.example>'),
        ("=?utf-8?Q?not_mine?=", "=?utf-8?B?PT91dGYtOD9RP25vdF9taW5lPz0=?= <a@b.example>"),
        ("Cafetière of the Ridge (shop)", "=?utf-8?Q?Cafeti=C3=A8re_of_the_Ridge_=28shop=29?= <a@b.example>"),
    ],
)
def test_display_names(name: str, written: str) -> None:
    assert address(name, "a@b.example") == written  # RFC 5322 §3.2.4-3.4; R19, RFC 2047 §5(3)
    assert mailboxes(address_header("From", [written])) == [(name, "a@b.example")]


@given(printable | likely)
def test_any_display_name_comes_back(name: str) -> None:
    field = address_header("Reply-To", [address(name, "a@b.example")])
    check_lines(field)
    assert mailboxes(field, "Reply-To") == [(re.sub(" +", " ", name.strip()), "a@b.example")]


@given(st.text(st.characters(min_codepoint=33, max_codepoint=0x24F, exclude_categories=["Cc"]), max_size=80))
def test_q_in_a_phrase_keeps_to_its_alphabet(name: str) -> None:
    for word in re.findall(r"=\?utf-8\?Q\?(\S*)\?=", address(f"é{name}", "a@b.example")):
        assert re.fullmatch(r"(?:[A-Za-z0-9!*+\-/_]|=[0-9A-F]{2})+", word)  # R19, RFC 2047 §5(3)


def test_many_recipients_fold_between_words() -> None:
    people = [("Zoë Ångström", f"zoe{at}@orrowby.example") for at in range(9)]
    people += [("Ridge Walkers, North", "north@orrowby.example")]
    field = address_header("To", [address(*person) for person in people])
    check_lines(field)
    assert mailboxes(field, "To") == people


@pytest.mark.parametrize(
    "addr",
    [
        "pete@silly.test",  # R06, RFC 5322 A.5
        "a+b.c=d@orrowby.example",
        "gorby%kremvax@example.com",  # R33, RFC 6068 §6, decoded
        "Mike&family@example.org",
        '"not@me"@example.org',
        "x" * 64 + "@example.org",  # R02, RFC 5321 §4.5.3.1.1
        "a@xn--caf-dma.example",
    ],
)
def test_right_addresses(addr: str) -> None:
    assert mailboxes(address_header("From", [address("Orrowby", addr)])) == [("Orrowby", addr)]


@pytest.mark.parametrize(
    "addr",
    [
        "",
        "orrowby",
        "a@",
        "@b.example",
        "a b@c.example",
        "a..b@c.example",
        ".a@c.example",
        "a@b..example",
        "a@-b.example",
        "a@b_c.example",
        "a@b.example>",
        "<a@b.example>",
        "a@b.example, c@d.example",
        "é@b.example",
        "a@é.example",
        "x" * 65 + "@example.org",  # R02, RFC 5321 §4.5.3.1.1
        "a@" + "b" * 64 + ".example",  # RFC 1035 §2.3.4
        "a@" + "b.c" * 100,  # R02, RFC 5321 §4.5.3.1.3
    ],
)
def test_wrong_addresses(addr: str) -> None:
    with pytest.raises(Fault, match="not an e-mail address"):
        address("Orrowby", addr)


def test_date_example() -> None:
    moment = datetime(1997, 11, 21, 9, 55, 6, tzinfo=timezone(timedelta(hours=-6)))
    assert date(moment) == "Fri, 21 Nov 1997 09:55:06 -0600"  # R05, RFC 5322 §3.3 and A.1.1
    assert date(datetime(2027, 1, 5, 8, tzinfo=UTC)) == "Tue, 05 Jan 2027 08:00:00 +0000"
    half = datetime(1969, 2, 13, 23, 32, tzinfo=timezone(-timedelta(hours=3, minutes=30)))
    assert date(half) == "Thu, 13 Feb 1969 23:32:00 -0330"  # R06, RFC 5322 A.5


@given(
    st.datetimes(
        min_value=datetime(1900, 1, 1),
        timezones=st.integers(-14 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes))),
    )
)
def test_any_date_as_the_stdlib_writes_it(moment: datetime) -> None:
    assert date(moment) == format_datetime(moment)
    parsed = read(header("Date", date(moment)))["Date"]
    assert parsed.datetime == moment.replace(microsecond=0)


@pytest.mark.parametrize("zone", [None, timezone(timedelta(minutes=19, seconds=32))])
def test_date_needs_a_zone_of_whole_minutes(zone: timezone | None) -> None:
    with pytest.raises(Fault):
        date(datetime(1927, 1, 15, 8, tzinfo=zone))


def test_message_id() -> None:
    assert message_id("testabcd.1234", "silly.test") == "<testabcd.1234@silly.test>"  # R06, RFC 5322 A.5
    for digest, domain in [("", "a.example"), ("a b", "a.example"), ("a", "b(c)"), ("a.", "b"), ("a", "")]:
        with pytest.raises(Fault):  # R08, RFC 5322 §3.6.4
            message_id(digest, domain)


@pytest.mark.parametrize(
    ("urls", "value"),
    [
        # R24, RFC 2369 §3.2
        (
            ["mailto:list@host.com?subject=unsubscribe"],
            "<mailto:list@host.com?subject=unsubscribe>",
        ),
        (
            [
                "http://www.host.com/list.cgi?cmd=unsub&lst=list",
                "mailto:list-request@host.com?subject=unsubscribe",
            ],
            "<http://www.host.com/list.cgi?cmd=unsub&lst=list>,"
            " <mailto:list-request@host.com?subject=unsubscribe>",
        ),
    ],
)
def test_links_without_one_click(urls: list[str], value: str) -> None:
    fields = list_unsubscribe(urls)
    assert len(fields) == 1
    assert fields[0].decode().replace("\r\n", "") == f"List-Unsubscribe: {value}"  # R23, RFC 2369 §2


@pytest.mark.parametrize(
    ("urls", "value"),
    [
        # R26, RFC 8058 §8.1
        (
            ["https://example.com/unsubscribe/opaquepart"],
            "<https://example.com/unsubscribe/opaquepart>",
        ),
        # R27, RFC 8058 §8.2, folded as printed there
        (
            [
                "mailto:listrequest@example.com?subject=unsubscribe",
                "https://example.com/unsubscribe.html?opaque=123456789",
            ],
            "<mailto:listrequest@example.com?subject=unsubscribe>,\r\n"
            " <https://example.com/unsubscribe.html?opaque=123456789>",
        ),
    ],
)
def test_one_click(urls: list[str], value: str) -> None:
    assert list_unsubscribe(urls) == [  # R25, RFC 8058 §3.1
        f"List-Unsubscribe: {value}\r\n".encode(),
        b"List-Unsubscribe-Post: List-Unsubscribe=One-Click\r\n",
    ]
    body = read(list_unsubscribe(urls)[1])["List-Unsubscribe-Post"]
    assert len(body.encode()) == 26  # R26: what the reader posts back, by the count in the example


def test_a_long_link_stays_literal() -> None:
    field = list_unsubscribe([LONG_LINK, "mailto:u@orrowby.example"])[0]
    assert f"<{LONG_LINK}>".encode() in field  # R30, RFC 2369 §2
    assert read(field)["List-Unsubscribe"] == f"<{LONG_LINK}>, <mailto:u@orrowby.example>"
    trap = EmailMessage(policy=SMTP)
    trap["List-Unsubscribe"] = f"<{LONG_LINK}>"
    assert LONG_LINK.encode() not in trap.as_bytes(), "the stdlib got better: say so in the documentation"


def test_links_carry_percent_codes_as_they_are() -> None:
    url = "mailto:%22not%40me%22@example.org?subject=caf%C3%A9&body=a%0D%0Ab"  # R33, RFC 6068 §5-6
    assert list_unsubscribe([url]) == [f"List-Unsubscribe: <{url}>\r\n".encode()]


@pytest.mark.parametrize(
    "urls",
    [
        [""],
        ["orrowby.example/u"],
        ["ftp://orrowby.example/u"],
        ["javascript:alert(1)"],
        ["https:/u"],
        ["https://"],
        ["https://orrowby.example/a b"],
        ["https://orrowby.example/>"],
        ["https://orrowby.example/é"],
        ["https://orrowby.example/50%"],
        ["mailto:joe@example.com?cc=bob@example.com?body=hello"],  # R32, RFC 6068 §5
        ["https://orrowby.example/" + "u" * 980],  # R01
        ["https://orrowby.example/u", "http://orrowby.example/u"],  # R25
        ["https://orrowby.example/u", "https://orrowby.example/v"],
    ],
)
def test_wrong_links_are_refused(urls: list[str]) -> None:
    with pytest.raises(Fault):
        list_unsubscribe(urls)


def test_no_links_no_field() -> None:
    assert list_unsubscribe([]) == []
