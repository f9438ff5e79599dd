"""How plain values are read. Enters: what a file says; leaves: the value meant, or a complaint in our words.

The models name these functions, and so do schemas kept from them (see `kept`): nothing here needs pydantic.
"""

from __future__ import annotations

import re
from decimal import Decimal, InvalidOperation
from typing import Any

from pydantic_core import PydanticCustomError

from handbill.base.errors import nearest
from handbill.base.frozen import dataclass

FORMAT = 1  # the version of every file format that handbill reads
MOMENT = r"^\d{4}-\d{2}-\d{2}[T ]\d{2}:\d{2}(?::\d{2})?$"
_SHAPE = re.compile(r"[1-9][0-9]{0,3}:[1-9][0-9]{0,3}", re.ASCII)
_PX = re.compile(r"[0-9]{1,4}", re.ASCII)
_SHOWN = 60  # characters of a wrong value that a message repeats

NAME = r"^[a-z][a-z0-9]*(?:-[a-z0-9]+)*$"
WORD = r"^[a-z][a-z0-9_]*$"
CATEGORIES = ("zero", "one", "two", "few", "many", "other")  # CLDR's plural categories (UTS 35 part 3)
CURRENCY = r"^[A-Z]{3}$"
TIME = r"^(?:H{1,2}|h{1,2})[.:h ]?m{2}(?: ?a)?$"
TAG = r"^[a-z]{2,3}(?:-[A-Z][a-z]{3})?(?:-(?:[A-Z]{2}|[0-9]{3}))?$"
#: What a text that does not match is not, and what is expected.
PATTERNS = {
    NAME: ("a name", "lower-case letters, digits and hyphens, a letter first"),
    WORD: ("a name", "lower-case letters, digits and underscores, a letter first"),
    CURRENCY: ("a currency", "an ISO 4217 code such as EUR"),
    TIME: ("a time pattern", "H.mm, HH:mm, h:mm a or the like"),
    TAG: ("a language", "a BCP 47 tag such as de or en-GB"),
}


def wrong(message: str, expected: str = "", nearest: str = "") -> PydanticCustomError:
    """A complaint in our own words."""
    context = {"message": message, "expected": expected, "nearest": nearest}
    return PydanticCustomError("handbill", "{message}", context)


def toggle(value: Any) -> Any:
    if isinstance(value, str):
        folded = {"true": True, "True": True, "TRUE": True, "false": False, "False": False, "FALSE": False}
        if value in folded:
            return folded[value]
        raise wrong(f"{value!r} is not true or false", "true or false")
    return value


def colour(value: Any) -> Any:
    if not isinstance(value, str) or not re.fullmatch(r"#(?:[0-9A-Fa-f]{3}|[0-9A-Fa-f]{6})", value):
        raise wrong(f"{value!r} is not a colour", "six hexadecimal digits such as '#1a2335', in quotes")
    if len(value) == 4:
        value = "#" + "".join(digit * 2 for digit in value[1:])
    return value.lower()


def reason(value: Any) -> Any:
    """Why a rule of preflight is silenced."""
    if value is None or (isinstance(value, str) and not value.strip()):
        raise wrong("a rule is silenced without a reason", "why it does not apply here")
    return value


def day(value: Any) -> Any:
    """A calendar date such as 2027-01-31."""
    from datetime import date

    if value is None or type(value) is date:
        return value
    try:
        if isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
            return date.fromisoformat(value)
    except ValueError:
        pass
    raise wrong(f"{value!r} is not a date", "such as 2027-01-31")


def version(value: Any) -> Any:
    if value not in (FORMAT, str(FORMAT)):
        given = value if isinstance(value, str) else "nothing" if value is None else "that"
        raise wrong(f"format version {given} is not one this handbill reads", f"handbill: {FORMAT}")
    return FORMAT


def lines(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


def moment(value: Any) -> Any:
    """ISO 8601 local date and time, to the minute or the second."""
    from datetime import datetime

    if isinstance(value, datetime):
        return value
    if isinstance(value, str) and re.match(MOMENT, value, re.ASCII):
        try:
            return datetime.fromisoformat(value)
        except ValueError:
            pass  # a day or hour that does not exist
    given = repr(value) if isinstance(value, str) else "this"
    raise wrong(f"{given} is not a date and time", "such as 2027-01-15T08:00")


def said(value: Any) -> Any:
    """House words: a text, or its forms by plural category."""
    if isinstance(value, str):
        return value
    if not isinstance(value, dict) or not all(isinstance(one, str) for one in value.values()):
        raise wrong(f"{show(value)} is no word", "a text, or its forms such as {one: …, other: …}")
    for name in value:
        if name not in CATEGORIES:
            expected = "one of " + ", ".join(CATEGORIES)
            raise wrong(f"{name} is no plural category", expected, nearest(str(name), CATEGORIES))
    if "other" not in value:
        raise wrong("the form other is missing", "other: for every number without a form of its own")
    return value


def picture(value: Any) -> Any:
    """A file's name alone for a picture; a moving one has the file of the frame it begins with."""
    if isinstance(value, str):
        return {"file": value}
    frames = value.get("frames") if isinstance(value, dict) else None
    if not isinstance(frames, list | tuple) or not frames:
        return value
    if "file" in value:
        raise wrong("there are both file and frames", "frames in place of file")
    first = str(value.get("first", 1))
    number = int(first) if first.isdecimal() else 1
    frame = frames[number - 1] if 0 < number <= len(frames) else frames[0]
    return {**value, "file": frame.get("file", "") if isinstance(frame, dict) else frame}


def shape(value: Any) -> Any:
    """`4:5`, width to height."""
    if isinstance(value, str) and _SHAPE.fullmatch(value.strip()):
        return value.strip()
    raise wrong(f"{show(value)} is not a shape", "width to height, such as '4:5'")


def growth(value: Any) -> Any:
    """px, or the shape the whole is to have."""
    if isinstance(value, str) and (_PX.fullmatch(value.strip()) or _SHAPE.fullmatch(value.strip())):
        return value.strip()
    if isinstance(value, str) and value.strip().isdecimal():
        raise wrong(f"{show(value)} px is more than a picture can grow", "9999 px at most")
    raise wrong(f"{show(value)} is neither px nor a shape", "px such as 180, or a shape such as '4:5'")


def share(value: Any) -> Any:
    """`auto`, or a fraction from 0 to 1."""
    if value == "auto":
        return value
    try:
        if isinstance(value, str) and 0 <= Decimal(value) <= 1:
            return value
    except InvalidOperation:
        pass
    raise wrong(f"{show(value)} is not a share", "auto, or a fraction from 0 to 1")


def rounds(value: Any) -> Any:
    """How often something plays; 0 stands for `forever`."""
    if value == "forever":
        return 0
    if isinstance(value, int) or (isinstance(value, str) and value.strip().isdecimal()):
        count = int(value)
        if 1 <= count <= 1000:
            return count
    raise wrong(f"{show(value)} is not how often", "a number from 1 to 1000, or forever")


def tinge(value: Any) -> Any:
    """A colour, or the name of one: a role of the house style, or `auto`."""
    if isinstance(value, str) and re.fullmatch(NAME, value):
        return value
    return colour(value)


def number(value: Any) -> Any:
    if isinstance(value, str):
        try:
            number = Decimal(value)
        except InvalidOperation:
            number = Decimal("NaN")
        if not number.is_finite():
            raise wrong(f"{value!r} is not a number", "a number")
        return number
    return value


def several(value: Any) -> Any:
    return [value] if isinstance(value, (str, dict)) else value


def show(value: Any) -> str:
    """A wrong value as a message repeats it: numbers bare, text in quotes, long text cut."""
    if isinstance(value, str):
        return repr(value if len(value) <= _SHOWN else value[: _SHOWN - 1] + "…")
    return str(value) if isinstance(value, int | float) else kind(value)


def kind(value: Any) -> str:
    names: dict[type, str] = {type(None): "nothing", dict: "a mapping", list: "a list", str: "text"}
    return names.get(type(value), str(value))


@dataclass(frozen=True, slots=True)
class Choice:
    """Takes one of the options."""

    options: tuple[str, ...]

    def __call__(self, value: Any) -> Any:
        if value not in self.options:
            near = nearest(value, self.options) if isinstance(value, str) else ""
            raise wrong(f"{show(value)} is not a choice", "one of " + ", ".join(self.options), near)
        return value


@dataclass(frozen=True, slots=True)
class Reference:
    """Takes a key alone for an entry that says no more."""

    key: str

    def __call__(self, value: Any) -> Any:
        return {self.key: value} if isinstance(value, str) else value


def one_of_two(amount: str | None, info: Any) -> str | None:
    """A code's `amount`, where it has no `percent`."""
    if amount is not None and info.data.get("percent") is not None:
        raise wrong("a code takes off a percent or an amount, not both", "one of the two")
    return amount
