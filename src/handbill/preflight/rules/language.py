"""The language that a mail is in."""

import re
from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule, head, span
from handbill.preflight.specimen import Specimen

_TAG = re.compile(r"[A-Za-z]{2,3}(?:-[A-Za-z]{4})?(?:-(?:[A-Za-z]{2}|\d{3}))?(?:-[A-Za-z0-9]{5,8})*")


def check(mail: Specimen) -> Iterator[Hit]:
    """A missing or ill-formed language on the mail, or on a part of it."""
    root = mail.page.document.root
    if not root.get("lang").strip():
        yield Hit("the mail does not say which language it is in", head("language"))
    for element in root.iter():
        tag = element.attributes.get("lang")
        if tag and not _TAG.fullmatch(tag):
            yield Hit(f"“{tag}” is not a language tag", span(element))
    webmail = next(mail.page.body.iter("div", "table", "td"), None)  # html and body are dropped there
    if root.get("lang") and webmail is not None and not any(one.get("lang") for one in mail.page.body.iter()):
        yield Hit("webmails drop <html>, and nothing inside says the language again", head("language"))


RULE = Rule(
    slug="language",
    group="access",
    severity=ERROR,
    needs=frozenset({"html"}),
    about="The mail says which language it is in.",
    why="Screen readers choose a voice by it, and readers hyphenate and translate by it.",
    source="WCAG 2.2 SC 3.1.1 and 3.1.2 (levels A and AA); BCP 47",
    remedy="Set `language:` in the campaign, or `languages:` in brand.yaml.",
    check=check,
)
