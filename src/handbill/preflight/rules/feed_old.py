"""A catalogue that was taken long before the mail is sent."""

from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, brand, head
from handbill.preflight.products import shown
from handbill.preflight.specimen import Specimen


def check(mail: Specimen) -> Iterator[Hit]:
    """A declared day of the catalogue that is more days before `send` than the shop allows."""
    truth = mail.mail.shop.brand.truth
    if truth.feed is None or not any(True for _ in shown(mail)):
        return
    days = (mail.mail.campaign.send.date() - truth.feed).days
    if days > truth.feed_days:
        message = (
            f"the catalogue is of {truth.feed}, {days} days before the mail is sent; at most "
            f"{truth.feed_days}"
        )
        yield Hit(message, brand("truth", "feed"), (head("send"),))


RULE = Rule(
    slug="feed-old",
    group="truth",
    severity=WARNING,
    needs=frozenset({"facts"}),
    about="Prices and stock are as fresh as the shop asks for.",
    why="Every price and percent in the mail comes from that file. The clock is never read: the day is "
    "the one that brand.yaml declares, `send` is the campaign's.",
    source="common practice",
    remedy="Take the catalogue anew and set `truth: {feed: …}` in brand.yaml to that day.",
    check=check,
)
