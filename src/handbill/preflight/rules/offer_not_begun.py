"""Offers that begin after the mail is sent."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, head
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """A code or a sale that does not hold yet when the mail goes out."""
    campaign = mail.mail.campaign
    offer = campaign.offer
    if offer is None or offer.starts is None or offer.starts <= campaign.send:
        return
    what = f"the code {offer.code} works" if offer.kind == "code" else "the sale is on"
    message = (
        f"{what} from {offer.starts:%Y-%m-%dT%H:%M}, and the mail is sent at {campaign.send:%Y-%m-%dT%H:%M}"
    )
    yield Hit(message, head("offer", "starts"), (head("send"),))


RULE = Rule(
    slug="offer-not-begun",
    group="truth",
    severity=WARNING,
    needs=frozenset({"source"}),
    about="An offer holds when the mail is sent.",
    why="Who reads at once finds the old price at the till, or a code that is refused. (An offer that is "
    "over when the mail is sent does not compile.)",
    source="common practice",
    remedy="Send later, start the offer earlier, or say when it starts: ${offer.starts:date}.",
    check=check,
)
