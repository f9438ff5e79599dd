"""Prior prices. Enters: a file of what each product cost since when; leaves: the lowest of thirty days.

Directive 98/6/EC, article 6a: a reduction shows the lowest price that was asked in a period of at least
thirty days before it; C-330/23: the percent too is worked out from that price.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path

from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.files import inside
from handbill.base.frozen import dataclass
from handbill.base.money import Money, parse_money
from handbill.base.source import Node, place
from handbill.catalogue.sheet import Row, decode, read_csv

DAYS = 30  # days before a reduction
MAX_BYTES = 20_000_000
_COLUMNS = ("sku", "from", "price")


@dataclass(frozen=True, slots=True)
class Asked:
    """A price and the first day that it was asked; `place` is its row."""

    since: date
    price: Money
    place: Place


@dataclass(frozen=True, slots=True)
class Prior:
    """The lowest price of the days before a reduction; `covered` says how many of them the file tells of."""

    lowest: Asked
    start: date
    covered: int


History = Mapping[str, Sequence[Asked]]
"""Each product's prices, the earliest first."""


def load(name: str, folders: Sequence[Path], root: Path, currency: str, at: Node) -> History:
    """The price history `name` of the first of `folders` that has it. Raises MistakesError with all mistakes.

    `at` is the field that names the file.
    """
    try:
        paths = [inside(root, folder, name) for folder in folders]
        path = next((one for one in paths if one.is_file()), None)
        if path is None:
            others = [one.name for one in folders[0].glob("*.csv")]
            raise Fault(f"no such file: {name}", expected="a .csv file", nearest=nearest(name, others))
        if path.stat().st_size > MAX_BYTES:
            raise Fault(f"{name} has more than the {MAX_BYTES:,} bytes allowed")
        raw = path.read_bytes()
    except Fault as fault:
        raise MistakesError([fault.at(place(at), "truth.prices")]) from None
    except OSError as error:
        raise MistakesError(
            [Mistake(place(at), "truth.prices", f"cannot be read: {error.strerror}")]
        ) from None
    return read(raw, path.relative_to(root).as_posix(), currency)


def read(raw: bytes, label: str, currency: str) -> History:
    """The history in a file's bytes. Raises MistakesError."""
    sheet = read_csv(decode(raw, label), label, lambda names: sum(one.lower() in _COLUMNS for one in names))
    wrong = list(sheet.mistakes)
    known = {cell.value.lower(): cell.value for cell in sheet.headers}
    for column in _COLUMNS:
        if column not in known:
            near = nearest(column, known)
            wrong.append(Mistake(Place(label, 1, 1), "", f"no column for {column}", "sku, from, price", near))
    if wrong:
        raise MistakesError(wrong)
    found: dict[str, dict[date, Asked]] = {}
    for row in sheet.rows:
        try:
            sku, asked = _row(row, known, label, currency, wrong)
        except Fault:
            continue
        before = found.setdefault(sku, {})
        if asked.since in before:
            line = before[asked.since].place.line
            message = f"{sku} has another price from {asked.since} (line {line})"
            wrong.append(Mistake(asked.place, row.name, message, "one price for a day"))
        before[asked.since] = asked
    if wrong:
        raise MistakesError(wrong)
    return {sku: [days[day] for day in sorted(days)] for sku, days in found.items()}


def _row(
    row: Row, known: Mapping[str, str], label: str, currency: str, wrong: list[Mistake]
) -> tuple[str, Asked]:
    """A row's values; raises Fault once its mistakes are in `wrong`."""
    cells = {name: row.cells[known[name]] for name in _COLUMNS}
    before = len(wrong)

    def refuse(name: str, fault: Fault) -> None:
        wrong.append(fault.at(Place(label, cells[name].line, cells[name].column), f"{row.name}, {name}"))

    sku, price, since = cells["sku"].value.strip(), None, None
    if not sku:
        refuse("sku", Fault("no sku", expected="a product's sku"))
    written = cells["from"].value.strip()
    try:
        if len(written) != 10:
            raise ValueError
        since = date.fromisoformat(written)
    except ValueError:
        refuse("from", Fault(f"{written!r} is not a date", expected="such as 2027-01-31"))
    try:
        price = parse_money(cells["price"].value.strip(), currency)
    except Fault as fault:
        refuse("price", fault)
    if len(wrong) > before or price is None or since is None:
        raise Fault("the row has mistakes")
    return sku, Asked(since, price, Place(label, row.line, row.column))


def reduced_on(prices: Sequence[Asked], now: Money, send: date) -> date | None:
    """The day, not after `send`, from which the product is at `now`; None where the file does not say so."""
    current = [one for one in prices if one.since <= send]
    if not current or current[-1].price != now:
        return None
    at = len(current) - 1
    while at and current[at - 1].price == now:
        at -= 1
    return current[at].since


def prior(prices: Sequence[Asked], start: date, days: int = DAYS) -> Prior | None:
    """The lowest price asked in the `days` before `start`, that day left out; None where none is known."""
    first = start - timedelta(days=days)
    before = [one for one in prices if one.since < start]
    if not before:
        return None
    held = [one for one in before if one.since > first]
    opening = [one for one in before if one.since <= first][-1:]
    asked = [*opening, *held]
    covered = days if opening else (start - held[0].since).days
    return Prior(min(asked, key=lambda one: (one.price.amount, one.since)), start, covered)
