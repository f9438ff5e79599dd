"""A brand made ready. Enters: brand.yaml's span tree; leaves: the validated `Brand` and its `HouseStyle`.

Both are kept in the cache by content, since validating a house style costs more than reading it back.
"""

from __future__ import annotations

import pickle
from typing import TYPE_CHECKING

from handbill.base.cache import seal, unseal
from handbill.base.errors import Fault, Mistake, MistakesError, Place, nearest
from handbill.base.frozen import dataclass
from handbill.base.source import child, find, key_place, place
from handbill.base.urls import base_url
from handbill.brand.style import HouseStyle, StyleFaultsError, house_style
from handbill.loader import BrandFiles, Loader
from handbill.models.kept import kept_as, plain_value

if TYPE_CHECKING:
    from handbill.models.brand import Brand


@dataclass(frozen=True, slots=True)
class BrandParts:
    """A brand in use: its files, its values and its style tokens."""

    files: BrandFiles
    brand: Brand
    house: HouseStyle


def load_brand(loader: Loader, name: str, where: Place, language: str | None = None) -> BrandParts:
    """The brand as it speaks `language`, its own first one without. Raises MistakesError for an unknown brand
    (at `where`) and for everything wrong in its brand.yaml."""
    files = loader.brand(name, where, "brand", language)
    key = f"brand {kept_as()} {name} {files.digest}"
    kept = unseal(loader.cache.get(key))
    if kept is not None:
        try:
            brand, house = pickle.loads(kept)  # the cache is private to the user; see library.build
            return BrandParts(files, brand, house)
        except Exception:  # a damaged entry is a miss, whatever it breaks on
            pass
    validated, house = _validated(files)
    brand = plain_value(validated)
    loader.cache.put(key, seal(pickle.dumps((brand, house), protocol=5)))
    return BrandParts(files, brand, house)


def _validated(files: BrandFiles) -> tuple[Brand, HouseStyle]:
    from handbill.models.brand import Brand
    from handbill.models.check import validate

    root = files.root.root
    brand, wrong = validate(Brand, root)
    if brand is None:
        raise MistakesError(wrong)
    if brand.brand != files.name:
        wrong.append(
            Mistake(
                key_place(root, ("brand",)),
                "brand",
                f"brand {brand.brand} lives in the folder {files.name}",
                files.name,
            )
        )
    wrong += _addresses(brand, files)
    try:
        house = house_style(brand)
    except StyleFaultsError as error:
        wrong += [fault.at(key_place(root, way), ".".join(way)) for way, fault in error.faults]
        raise MistakesError(wrong) from None
    if wrong:
        raise MistakesError(wrong)
    return brand, house


def _addresses(brand: Brand, files: BrandFiles) -> list[Mistake]:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError, available_timezones

    from handbill.base.money import minor_units

    wrong = []
    root = files.root.root
    for name, value in (("site", brand.site), ("pictures_at", brand.pictures_at)):
        try:
            base_url(value, name)
        except Fault as fault:
            wrong.append(fault.at(place(find(root, (name,))[0]), name))
    try:
        minor_units(brand.currency)
    except Fault as fault:
        wrong.append(fault.at(place(child(root, "currency") or root), "currency"))
    try:
        ZoneInfo(brand.timezone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        where = place(child(root, "timezone") or root)
        message, near = (
            f"no time zone {brand.timezone}",
            nearest(brand.timezone, sorted(available_timezones())),
        )
        wrong.append(Mistake(where, "timezone", message, "an IANA name such as Europe/Dublin", near))
    return wrong
