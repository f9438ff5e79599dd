"""Who a mail says it is from."""

import re
from collections.abc import Iterator

from handbill.preflight.contract import WARNING, Hit, Rule, brand
from handbill.preflight.specimen import Specimen

_DEAF = re.compile(r"(?i)^(?:no|do[-_.]?not|dont)[-_.]?reply\b|^noreply")


def check(mail: Specimen) -> Iterator[Hit]:
    """A sender without a name, named by an address, or who does not listen."""
    sender = mail.mail.shop.brand.sender
    name = sender.name.strip()
    if not name:
        yield Hit("the sender has no name, so readers see an address", brand("sender", "name"))
    elif "@" in name:
        yield Hit(f"the sender's name is an address, {name}", brand("sender", "name"))
    if _DEAF.search(sender.reply_to or sender.address):
        message = f"answers go to {sender.reply_to or sender.address}, where nobody reads them"
        yield Hit(message, brand("sender", "reply_to" if sender.reply_to else "address"))


RULE = Rule(
    slug="from-name",
    group="delivery",
    severity=WARNING,
    needs=frozenset({"source"}),
    about="The sender has a name, and reads answers.",
    why="People decide by the name whether to open a mail, and a header that hides who sends it is "
    "unlawful in many places. Some ask to be taken off a list by answering.",
    source="15 USC 7704(a)(1) (US), SI 2003/2426 reg. 23 (UK); a reachable reply address: common practice",
    remedy="Set `sender: {name: …, reply_to: …}` in brand.yaml to a name people know and a mailbox that "
    "is read.",
    check=check,
)
