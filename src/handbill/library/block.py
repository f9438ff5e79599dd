"""A block ready for use. Enters: block.yaml validated and a brand's choices; leaves: frozen plain values.

Widths are worked out here, so that templates do no arithmetic: a slot's columns share the width it is `of`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from handbill.base.errors import Fault, nearest
from handbill.base.frozen import dataclass
from handbill.brand.style import HouseStyle
from handbill.library.tokens import substitute, unsafe

if TYPE_CHECKING:
    from handbill.library.spec import BlockSpec, FieldSpec, Slot

MAIL_WIDTH = 600  # px; common practice

PREFIX = (
    "field_"  # of a field in its section's model: one may be called copy or json, as pydantic's methods are
)
Measures = Mapping[str, tuple[str, str]]


@dataclass(frozen=True, slots=True)
class Block:
    """One block in one brand's house style."""

    name: str
    folder: str
    label: str
    spec: BlockSpec
    measures: Measures
    defaults: Mapping[str, Any]
    words: Mapping[str, Mapping[str, str]]
    uses: frozenset[str] = frozenset()  # the names its templates ask for

    def widths(self, house: HouseStyle, container: int = MAIL_WIDTH, cell: bool = False) -> dict[str, Any]:
        """px of `full`, `inset` and every slot's columns, in a section (or a cell, whose inset is the
        other block's) `container` px wide."""
        side = 0 if cell else house.px("side")
        widths: dict[str, Any] = {"full": container, "inset": container - 2 * side}
        for name, slot in self.spec.slots.items():
            widths[name] = self._columns(name, slot, widths, house)
        return widths

    def _columns(self, name: str, slot: Slot, widths: Mapping[str, Any], house: HouseStyle) -> dict[str, int]:
        total = look_up(slot.of, widths, f"slots.{name}.of")
        gap = self.pixels(slot.gap, house)
        shared = total - gap * max(0, len(slot.columns) - 1)
        fixed = {
            column: self._share(value, shared, house)
            for column, value in slot.columns.items()
            if value != "rest"
        }
        if sum(value == "rest" for value in slot.columns.values()) > 1:
            raise Fault(f"slots.{name}: more than one column takes the rest")
        rest = shared - sum(fixed.values())
        if rest < 0:
            raise Fault(f"slots.{name}: the columns are {-rest} px wider than the {total} px they share")
        return {column: fixed.get(column, rest) for column in slot.columns} | {"gap": gap}

    def _share(self, value: str, shared: int, house: HouseStyle) -> int:
        """A column's px: a fraction `1/2` of what the columns share, else as `pixels`."""
        part, slash, whole = str(value).partition("/")
        if slash and part.isdigit() and whole.isdigit() and int(whole):
            return shared * int(part) // int(whole)
        return self.pixels(value, house)

    def pixels(self, value: str, house: HouseStyle) -> int:
        """A number of px, or a measure `var(--name)`, on a desktop."""

        def answer(name: str) -> str:
            for table in (self.measures, house.measures):
                if name in table:
                    return table[name][0]
            raise Fault(f"unknown var(--{name})", nearest=nearest(name, [*self.measures, *house.measures]))

        text = substitute(str(value), answer).removesuffix("px")
        try:
            return round(float(text))
        except ValueError:
            raise Fault(f"{value!r} is not a width", expected="px or var(--measure)") from None


def look_up(name: str, widths: Mapping[str, Any], where: str) -> int:
    """A width by name: `full`, `inset`, `row.column`, or plain px."""
    if name.isdigit():
        return int(name)
    value: Any = widths
    for step in name.split("."):
        value = value.get(step) if isinstance(value, Mapping) else None
    if not isinstance(value, int):
        known = [
            *(key for key, item in widths.items() if isinstance(item, int)),
            *(f"{key}.{column}" for key, item in widths.items() if isinstance(item, dict) for column in item),
        ]
        raise Fault(
            f"{where}: no slot {name}", expected="one of " + ", ".join(known), nearest=nearest(name, known)
        )
    return value


def local_measures(
    declared: Mapping[str, Any], given: Mapping[str, Any], house: HouseStyle
) -> dict[str, tuple[str, str]]:
    """A block's measures, the brand's in place of the block's own; `var(--name)` borrows from the house."""
    result: dict[str, tuple[str, str]] = {}

    def resolve(value: Any, phone: bool) -> str:
        def answer(name: str) -> str:
            if name in result:
                return result[name][phone]
            if name in house.measures:
                return house.measures[name][phone]
            raise Fault(f"unknown var(--{name})", nearest=nearest(name, [*declared, *house.measures]))

        if not isinstance(value, str | int | float):
            raise Fault("a measure is one value", expected="12, var(--name), or {desktop: 12, phone: 8}")
        if problem := unsafe(str(value)):
            raise Fault(problem)
        text = substitute(str(value), answer)
        if text.lstrip("-").isdigit():
            return f"{text}px" if text != "0" else "0"
        return text

    for name, value in {**declared, **given}.items():
        if isinstance(value, Mapping):
            for key in value:
                if key not in ("desktop", "phone"):
                    expected = "desktop and phone"
                    raise Fault(
                        f"{name}: unknown field {key}",
                        expected=expected,
                        nearest=nearest(key, ("desktop", "phone")),
                    )
            desktop = value.get("desktop", 0)
            result[name] = (resolve(desktop, False), resolve(value.get("phone", desktop), True))
        else:
            result[name] = (resolve(value, False), resolve(value, True))
    return result


def field_value(values: Any, name: str) -> Any:
    """The value of a block's field in a validated section or entry, None when it has none."""
    return getattr(values, PREFIX + name, None)


def field_at(spec: BlockSpec, way: tuple[str, ...]) -> FieldSpec | None:
    """The field a dotted name leads to."""
    fields = spec.fields
    found: FieldSpec | None = None
    for step in way:
        found = fields.get(step)
        if found is None:
            return None
        fields = found.of
    return found
