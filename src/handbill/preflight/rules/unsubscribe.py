"""The way off the list, in HTML, text and headers."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule, workspace
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """A part of the mail without it, and headers that do not make a pair."""
    link = mail.mail.unsubscribe.sampled.plain_url
    where = workspace("samples", 0, "links", "unsubscribe")
    if link not in {one.href for one in mail.page.links}:
        yield Hit("no link of the HTML leads off the list")
    if link not in mail.text:
        yield Hit("the text part does not say how to leave the list")
    field = str(mail.headers.get("List-Unsubscribe", ""))
    if not field:
        yield Hit("there is no List-Unsubscribe header", where)
    elif "<https:" not in field:
        yield Hit("List-Unsubscribe holds no https link, so no reader can offer one click", where)
    elif str(mail.headers.get("List-Unsubscribe-Post", "")).strip() != "List-Unsubscribe=One-Click":
        yield Hit("List-Unsubscribe-Post: List-Unsubscribe=One-Click is missing", where)
    elif "<http:" in field:
        yield Hit("List-Unsubscribe holds an http link beside the https one", where)


RULE = Rule(
    slug="unsubscribe",
    group="delivery",
    severity=ERROR,
    needs=frozenset({"html", "text", "headers"}),
    about="Every part of the mail says how to leave the list.",
    why="Commercial mail must carry a working way out, and large mailbox hosts ask for one click. Whether "
    "the link works, and for 30 days or more, no program can tell from here.",
    source="15 USC 7704(a)(3), 16 CFR 316.5 (US); RFC 2369 section 3.2; RFC 8058 section 3.1",
    remedy="Keep ${link.unsubscribe} in a footer that everyone gets, and an https address for it in the "
    "samples.",
    check=check,
)
