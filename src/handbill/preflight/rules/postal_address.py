"""The sender's postal address."""

from collections.abc import Iterator

from handbill.preflight.contract import ERROR, Hit, Rule, brand
from handbill.preflight.part import one_line
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """An address that is missing in brand.yaml, in the HTML or in the text part."""
    address = mail.mail.shop.brand.postal_address
    if not address.strip():
        yield Hit("the shop has no postal address", brand("postal_address"))
        return
    for name, text in (("HTML", mail.page.text), ("text part", mail.text)):
        if _letters(address) not in _letters(text):
            yield Hit(f"the postal address does not stand in the {name}", brand("postal_address"))


def _letters(text: str) -> str:
    return "".join(ch for ch in one_line(text).casefold() if ch.isalnum())


RULE = Rule(
    slug="postal-address",
    group="delivery",
    severity=ERROR,
    needs=frozenset({"source", "html", "text"}),
    about="The sender's postal address stands in both parts of the mail.",
    why="Commercial mail must carry a valid postal address in the US and in Canada, and the sender's "
    "identity elsewhere. Whether the address is right, no program can tell.",
    source="15 USC 7704(a)(5), 16 CFR 316.2(p) (US); SOR/2012-36 s. 2 (Canada)",
    remedy="Fill `postal_address:` in brand.yaml, and keep a footer that shows it (block footer-nav).",
    check=check,
)
