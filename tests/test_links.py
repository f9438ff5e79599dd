"""Links against RFC 3986: its table in section 5.4, section 2.1, appendix A; queries as urllib reads them."""

from __future__ import annotations

import re
from urllib.parse import parse_qsl, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handbill.base.errors import Fault
from handbill.resolve.links import Links
from handbill.resolve.text import Filled, Send

SITE = "https://pellow.example/"
FROM = Links(SITE, (("from", "letter"), ("part", "top row")))
REF = Send(("recipient", "ref"))
UNSUBSCRIBE = Send(("link", "unsubscribe"))


def whole(text: str, links: Links | None = None) -> str:
    (made,) = (links or Links(SITE)).whole((text,))
    assert isinstance(made, str)
    return made


# RFC 3986 sections 5.4.1 and 5.4.2, base http://a/b/c/d;p?q. Left out: `g:h` (no scheme of ours) and the
# empty reference (refused); `//g` has the path that section 6.2.3 gives to an empty one.
TABLE = {
    "g": "http://a/b/c/g", "./g": "http://a/b/c/g", "g/": "http://a/b/c/g/", "/g": "http://a/g",
    "//g": "http://g/", "?y": "http://a/b/c/d;p?y", "g?y": "http://a/b/c/g?y", "#s": "http://a/b/c/d;p?q#s",
    "g#s": "http://a/b/c/g#s", "g?y#s": "http://a/b/c/g?y#s", ";x": "http://a/b/c/;x", "g;x": "http://a/b/c/g;x",
    "g;x?y#s": "http://a/b/c/g;x?y#s", ".": "http://a/b/c/", "./": "http://a/b/c/", "..": "http://a/b/",
    "../": "http://a/b/", "../g": "http://a/b/g", "../..": "http://a/", "../../": "http://a/",
    "../../g": "http://a/g", "../../../g": "http://a/g", "../../../../g": "http://a/g", "/./g": "http://a/g",
    "/../g": "http://a/g", "g.": "http://a/b/c/g.", ".g": "http://a/b/c/.g", "g..": "http://a/b/c/g..",
    "..g": "http://a/b/c/..g", "./../g": "http://a/b/g", "./g/.": "http://a/b/c/g/", "g/./h": "http://a/b/c/g/h",
    "g/../h": "http://a/b/c/h", "g;x=1/./y": "http://a/b/c/g;x=1/y", "g;x=1/../y": "http://a/b/c/y",
    "g?y/./x": "http://a/b/c/g?y/./x", "g?y/../x": "http://a/b/c/g?y/../x", "g#s/./x": "http://a/b/c/g#s/./x",
    "g#s/../x": "http://a/b/c/g#s/../x",
}  # fmt: skip


@pytest.mark.parametrize("reference", TABLE)
def test_references_resolve_as_the_rfc_says(reference: str) -> None:
    assert whole(reference, Links("http://a/b/c/d;p?q")) == TABLE[reference]


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("/a b", "/a%20b"),
        ("/a%20b", "/a%20b"),
        ("/100%", "/100%25"),
        ("/50%-off?q=5%", "/50%25-off?q=5%25"),
        ("/é", "/%C3%A9"),
        ('/"<>\\^`{|}', "/%22%3C%3E%5C%5E%60%7B%7C%7D"),
        ("/?a[]=1", "/?a%5B%5D=1"),
        ("/#a#b", "/#a%23b"),
        ("/a'(b)*c!,;=:@&$+~", "/a'(b)*c!,;=:@&$+~"),
    ],
)
def test_what_an_address_may_not_hold_is_encoded_once(written: str, expected: str) -> None:
    assert whole(written) == SITE.rstrip("/") + expected


@given(st.text(st.characters(exclude_categories=["Cc", "Cs"]), min_size=1))
def test_any_path_becomes_a_uri_and_stays_as_it_is(text: str) -> None:
    made = whole("/x" + text, FROM)
    # RFC 3986 appendix A: the characters of a URI, percent signs only before two hexadecimal digits
    assert re.fullmatch(r"(?:[A-Za-z0-9\-._~:/?#\[\]@!$&'()*+,;=]|%[0-9A-F]{2}|%[0-9A-Fa-f]{2})+", made)
    assert whole(made, FROM) == made
    assert urlsplit(made).hostname == "pellow.example"


def test_a_host_is_written_in_ascii() -> None:
    # RFC 3492 gives the algorithm; the pair is from memory
    assert whole("https://bücher.example/ü") == "https://xn--bcher-kva.example/%C3%BC"
    with pytest.raises(Fault, match="two readings"):
        whole("https://straße.example/")


@pytest.mark.parametrize(
    "written",
    [
        "javascript:alert(1)",
        " javascript:alert(1)",
        "JavaScript:alert(1)",
        "java\tscript:alert(1)",
        "java\nscript:alert(1)",
        "\x01javascript:alert(1)",
        "data:text/html,x",
        "vbscript:x",
        "file:///etc/passwd",
        "cid:x@y",
        "https:sale",
        "http:///x",
        "https://[bad/",
        "https://a.example:99999/",
        "https://a b.example/",
        "https://pellow.example@other.example/",
        "",
        "   ",
    ],
)
def test_refused(written: str) -> None:
    with pytest.raises(Fault):
        whole(written, FROM)


def test_a_near_scheme_is_named() -> None:
    with pytest.raises(Fault) as caught:
        whole("htps://pellow.example")
    assert caught.value.nearest == "https"


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("/sale", "/sale?from=letter&part=top%20row"),
        ("", "/?from=letter&part=top%20row"),
        ("/sale?a=1", "/sale?a=1&from=letter&part=top%20row"),
        ("/sale?a=1&", "/sale?a=1&from=letter&part=top%20row"),
        ("/sale#now", "/sale?from=letter&part=top%20row#now"),
        ("/sale?a=1#now", "/sale?a=1&from=letter&part=top%20row#now"),
        ("/sale?from=mine", "/sale?from=mine&part=top%20row"),
        ("/sale?fr%6Fm=mine", "/sale?fr%6Fm=mine&part=top%20row"),
    ],
)
def test_tags_join_the_query_before_the_fragment(written: str, expected: str) -> None:
    made = whole("https://pellow.example" + written, FROM)
    assert made == "https://pellow.example" + expected
    assert dict(parse_qsl(urlsplit(made).query))["part"] == "top row"


@pytest.mark.parametrize(
    ("address", "own"),
    [
        ("https://pellow.example/x", True), ("https://WWW.Pellow.example/x", True),
        ("http://pellow.example:8080", True),
        ("https://shop.pellow.example/", True), ("https://pellow.example.evil.example/", False),
        ("https://notpellow.example/", False), ("//other.example/", False),
    ],
)  # fmt: skip
@pytest.mark.parametrize("site", [SITE, "https://www.pellow.example/"])
def test_only_the_shops_own_site_is_tagged(address: str, own: bool, site: str) -> None:
    assert ("from=letter" in whole(address, Links(site, FROM.tags))) is own


@pytest.mark.parametrize("written", ["mailto:a@pellow.example?subject=Hi there", "tel:+353 1 234"])
def test_mail_and_telephone_are_never_tagged(written: str) -> None:
    made = whole(written, FROM)
    assert "letter" not in made
    assert " " not in made


def test_a_system_link_stays_as_it_is() -> None:
    assert FROM.whole((UNSUBSCRIBE,)) == (UNSUBSCRIBE,)
    for filled in (("/go?to=", UNSUBSCRIBE), (UNSUBSCRIBE, "?x=1")):
        with pytest.raises(Fault, match="stands alone"):
            FROM.whole(filled)


@pytest.mark.parametrize(
    ("filled", "expected"),
    [
        (("/x?r=", REF), ("https://pellow.example/x?r=", REF, "&from=letter&part=top%20row")),
        (("/x?r=", REF, "&b=1"), ("https://pellow.example/x?r=", REF, "&b=1&from=letter&part=top%20row")),
        (("/x?r=", REF, "#é"), ("https://pellow.example/x?r=", REF, "&from=letter&part=top%20row#%C3%A9")),
        (("/x/", REF, "/", REF), ("https://pellow.example/x/", REF, "/", REF, "?from=letter&part=top%20row")),
        (("/x#", REF), ("https://pellow.example/x?from=letter&part=top%20row#", REF)),
        (("mailto:a@b.example?body=", REF), ("mailto:a@b.example?body=", REF)),
        (("https://other.example/sendpart/", REF), ("https://other.example/sendpart/", REF)),
    ],
)
def test_recipient_fields_keep_their_place(filled: Filled, expected: Filled) -> None:
    assert FROM.whole(filled) == expected


@pytest.mark.parametrize(
    "filled",
    [(REF, "/x"), (REF,), ("https://", REF, "/x"), ("https://", REF, ".pellow.example/"), ("//", REF)],
)
def test_a_recipient_field_never_says_where_a_link_leads(filled: Filled) -> None:
    with pytest.raises(Fault):
        FROM.whole(filled)


def test_a_field_that_dots_would_remove_is_refused() -> None:
    with pytest.raises(Fault, match=r"\.\."):
        FROM.whole(("/x/", REF, "/../y"))


@pytest.mark.parametrize(
    ("text", "nearest"),
    [
        ("www.pellow.example/sale", "https://www.pellow.example/sale"),
        ("www.elsewhere.example", "https://www.elsewhere.example"),
        ("pellow.example/sale", "https://pellow.example/sale"),
        ("Help.Pellow.example?a=b", "https://Help.Pellow.example?a=b"),
        ("hello@pellow.example", "mailto:hello@pellow.example"),
    ],
)
def test_a_host_without_its_scheme_is_no_page_of_the_site(text: str, nearest: str) -> None:
    """RFC 3986 section 4.5: such references are ambiguous, and read as a path."""
    with pytest.raises(Fault) as caught:
        whole(text)
    assert caught.value.nearest == nearest


@pytest.mark.parametrize(
    "text", ["sale.html", "by/www.pellow.example", "@pellow/looks", "?to=hello@pellow.example"]
)
def test_paths_with_dots_and_signs_stay_paths(text: str) -> None:
    assert whole(text).startswith(SITE)
