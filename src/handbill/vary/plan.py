"""Which variants there are. Enters: a campaign's `variants:`; leaves: a plan that gives each when asked.

Axes multiply, `only` and `except` trim, named variants are added. Ids follow the axes in the order they are
written in, so a new value changes no other variant's id. Memory grows with what is written; where `only` or
`except` trim, by four bytes for each variant as well.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterator, Mapping, Sequence
from math import prod

from handbill.base.errors import Fault, Mistake, Place, nearest
from handbill.base.frozen import dataclass
from handbill.base.source import Doc, Node, child, place, scalar

MAIN = "main"  # the one variant of a campaign without axes
MOST = 100_000  # variants before trimming: past that a campaign is a mistake or an attack
MOST_SHOWN = 12  # ids in a message
MOST_ID = 200  # characters of an id, which becomes a folder's name; file systems take 255 bytes
LANGUAGE, BRAND = "language", "brand"
NAMED = "variant"  # texts for a named variant are under `variant=NAME`, as if there were an axis of them


@dataclass(frozen=True, slots=True)
class Value:
    """A value of an axis, or with no axis a named variant. `at` is where its name is written; `node` its
    patch, None where it has none. `brand` and `language` are what it chooses."""

    axis: str
    name: str
    at: Node
    node: Node | None
    path: str
    brand: Node | None = None
    language: Node | None = None
    same: bool = False

    @property
    def label(self) -> str:
        """How messages and ids call it."""
        return f"{self.axis}={self.name}" if self.axis else self.name

    @property
    def changes(self) -> bool:
        """Whether it changes anything beside the brand."""
        return self.language is not None or bool(self.node is not None and self.node.value)


@dataclass(frozen=True, slots=True)
class Axis:
    """What varies independently of the rest."""

    name: str
    at: Node
    values: tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class Variant:
    """One mail of a campaign. `choices` are by axis (a named variant has at most brand and language), made by
    `values`; `place` is the last of them that changes anything. `same`: another may be equal to it."""

    id: str
    choices: Mapping[str, str]
    brand: str | None
    language: str | None
    values: tuple[Value, ...]
    same: bool
    place: Place

    @property
    def patches(self) -> tuple[Value, ...]:
        """The values that change anything."""
        return tuple(one for one in self.values if one.changes)


class Plan(Sequence[Variant]):
    """A campaign's variants in order: axes like a clock's hands, the last one fastest; named ones after."""

    def __init__(
        self, doc: Doc, axes: Sequence[Axis] = (), named: Sequence[Value] = (),
        kept: array[int] | None = None, same: bool = False, at: Node | None = None,
    ) -> None:  # fmt: skip
        self.doc, self.axes, self.named, self.same = doc, tuple(axes), tuple(named), same
        self.kept = kept  # places in the whole product, where it is trimmed
        self.at = at if at is not None else doc.root
        self.product = prod(len(axis.values) for axis in self.axes)

    def __len__(self) -> int:
        return (self.product if self.kept is None else len(self.kept)) + len(self.named)

    def __getitem__(self, number: int) -> Variant:  # type: ignore[override]  # no slices
        size = len(self)
        if not -size <= number < size:
            raise IndexError(number)
        number %= size
        of_axes = size - len(self.named)
        if number >= of_axes:
            return self._of(self.named[number - of_axes].name, (self.named[number - of_axes],), {})
        if not self.axes:
            return self._of(MAIN, (), {})
        values = self.values(number if self.kept is None else self.kept[number])
        return self._of(",".join(one.label for one in values), values, {one.axis: one.name for one in values})

    def __iter__(self) -> Iterator[Variant]:
        return (self[number] for number in range(len(self)))

    def values(self, place_: int) -> tuple[Value, ...]:
        """The values at a place in the whole product, trimmed or not."""
        found = []
        for axis in reversed(self.axes):
            place_, number = divmod(place_, len(axis.values))
            found.append(axis.values[number])
        return tuple(reversed(found))

    def every(self) -> Iterator[Value]:
        """Every value of every axis, and every named variant."""
        for axis in self.axes:
            yield from axis.values
        yield from self.named

    def find(self, name: str) -> Variant:
        """The variant of an id. Raises Fault."""
        return self[self.where(name)]

    def where(self, name: str) -> int:
        """The number of the variant of an id. Raises Fault with the nearest one."""
        number = self.number(name)
        if number is None:
            few = [one.id for one in self] if len(self) <= MOST_SHOWN else []
            expected = "one of " + "; ".join(few) if few else "an id that handbill variants list shows"
            raise Fault(f"no variant {name}", expected=expected, nearest=self.near(name))
        return number

    def near(self, name: str) -> str:
        """The id that `name` may be meant for: axes that it does not name are as in the baseline."""
        named = nearest(name, [one.name for one in self.named])
        if named or not self.axes:
            return named or nearest(name, [MAIN])
        usual = {one.axis: one.label for one in self.baseline.values if one.axis}
        found = {}
        for axis in self.axes:
            labels = [one.label for one in axis.values]
            close = [nearest(part, labels) for part in name.split(",")]
            found[axis.name] = next(filter(None, close), "")
        if not any(found.values()):
            return ""
        meant = ",".join(found[axis.name] or usual.get(axis.name, "") for axis in self.axes)
        return meant if self.number(meant) is not None else ""

    def number(self, name: str) -> int | None:
        """Where the variant of an id is, None where there is none."""
        for number, one in enumerate(self.named):
            if one.name == name:
                return len(self) - len(self.named) + number
        if not self.axes:
            return 0 if name == MAIN else None
        parts = name.split(",")
        if len(parts) != len(self.axes):
            return None
        place_ = 0
        for axis, part in zip(self.axes, parts, strict=True):
            labels = [one.label for one in axis.values]
            if part not in labels:
                return None
            place_ = place_ * len(labels) + labels.index(part)
        if self.kept is None:
            return place_
        from bisect import bisect_left

        number = bisect_left(self.kept, place_)
        return number if number < len(self.kept) and self.kept[number] == place_ else None

    @property
    def baseline(self) -> Variant:
        """The variant that changes least: of each axis the value without a patch, else the first one. Of
        several brands or languages without one, the campaign's own."""
        place_ = 0
        for axis in self.axes:
            bare = [number for number, one in enumerate(axis.values) if not (one.node and one.node.value)]
            own = scalar(child(self.doc.root, axis.name)) if axis.name in (BRAND, LANGUAGE) else None
            mine = [number for number in bare if axis.values[number].name == own]
            place_ = place_ * len(axis.values) + next(iter((*mine, *bare)), 0)
        if self.kept is None or not self.axes or place_ in self.kept:
            return self.find(",".join(one.label for one in self.values(place_))) if self.axes else self[0]
        return self[0]

    def choices(self) -> dict[str, list[str]]:
        """The axes with their values; named variants' languages and brands count as values."""
        found = {axis.name: [one.name for one in axis.values] for axis in self.axes}
        for one in self.named:
            for axis, name in ((BRAND, scalar(one.brand)), (LANGUAGE, scalar(one.language))):
                values = found.setdefault(axis, []) if name is not None else []
                if name is not None and name not in values:
                    values.append(name)
        return found

    def together(self, one: Value, other: Value) -> bool:
        """Whether some variant has both values."""
        if not (one.axis and other.axis) or one.axis == other.axis:
            return one is other
        if self.kept is None:
            return True
        names = [axis.name for axis in self.axes]
        first, second = names.index(one.axis), names.index(other.axis)
        for place_ in self.kept:
            values = self.values(place_)
            if values[first] is one and values[second] is other:
                return True
        return False

    def _of(self, name: str, values: tuple[Value, ...], choices: dict[str, str]) -> Variant:
        brand = next((scalar(one.brand) for one in values if one.brand is not None), None)
        language = next((scalar(one.language) for one in values if one.language is not None), None)
        if not choices:
            chosen = ((BRAND, brand), (LANGUAGE, language))
            choices = {axis: name_ for axis, name_ in chosen if name_ is not None}
        telling = [one for one in values if one.changes] or values
        same = self.same or any(one.same for one in values)
        return Variant(
            name, choices, brand, language, values, same, place(telling[-1].at if telling else self.at)
        )


def twins(plan: Plan, one: Variant, other: Variant) -> Mistake | None:
    """The mistake of two variants that came out equal byte by byte; None where that is intended."""
    if one.same or other.same:
        return None
    theirs = {value.label for value in one.values}
    differing = [value for value in other.values if value.label not in theirs]
    differing = [value for value in differing if value.changes] or differing
    node, path = (differing[-1].at, differing[-1].path) if differing else (plan.at, "variants")
    message = f"{other.id} comes out the same as {one.id}"
    return Mistake(place(node), path, message, "a change that shows, or same: intended beside it")
