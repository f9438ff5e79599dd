"""Products, reviews and the brand as fields. Enters: rows of the shop's files; leaves: template values.

A row that mail cannot hold, or that leads nowhere, is a mistake at its own line in the shop's file.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

from handbill.base.errors import Fault
from handbill.library.block import field_value
from handbill.models.kept import stand_in
from handbill.pictures.study import own_colour
from handbill.resolve.context import product_facts
from handbill.resolve.copy import Copy
from handbill.resolve.facts import Fact, name_isolated
from handbill.resolve.icons import is_icon
from handbill.resolve.picture import picture_field, planned
from handbill.resolve.quote import check_quote
from handbill.resolve.text import Filled, Text, check_characters
from handbill.resolve.values import Address, Fields, literal_copy, words

if TYPE_CHECKING:
    from handbill.library.spec import FieldSpec
    from handbill.models.brand import Mark
    from handbill.models.picture import PictureIn
    from handbill.resolve.section import SectionResolver, Way

STAR, NO_STAR = "★", "☆"
MOST_STARS = 5
SHOT = "shot"  # in the catalogue, for the colour of the product's picture
SOCIAL_ICON = 44  # px: the least that is easy to press (WCAG 2.2, 2.5.5)
DARK_LUMINANCE = 0.18  # below it a ground counts as dark: white on it contrasts more than black (WCAG 2.2)
# the field of a social link's icon; 8 px around it make it 44
GLYPH: FieldSpec = stand_in(
    type="picture",
    slot="28",
    ratio=None,
    density=2,
    lower=None,
    overlap=None,
    tint="title",
    fit=None,
    under_copy=None,
    on=None,
)
T = TypeVar("T")
NONE: Filled = ()


def product_item(
    at: SectionResolver,
    spec: FieldSpec,
    entry: Any,
    given: Mapping[str, Any],
    way: Way,
    tone: str,
    counts: dict[str, int],
) -> Fields | None:
    """One product: the catalogue's row, the item's own words, and the section's button with its facts."""
    shop, voice = at.shop, at.voice
    if "product" in shop.unread:
        return None
    row = at.attempt(way, lambda: _pick(shop.products, entry.sku, "product"), None)
    if row is None:
        return None
    named = f"product {row.sku}"
    colours = [name for name, _colour in row.colours]
    cells = [(name, getattr(row, name)) for name in ("sku", "name", "kind", "copy", "alt", "stock")]
    sound = printable(at, row, named, [*cells, *(("colours", name) for name in colours)])
    link = in_row(at, row, f"{named}, link", lambda: at.whole((row.link,)), NONE)
    if not (sound and link):
        return None
    mail_facts = at.facts
    none: dict[str, Fact] = {}
    facts = in_row(at, row, named, lambda: product_facts(shop.context, row, shop.site), none)
    at.facts = mail_facts.with_product(facts, row.sku)
    own = {name: field_value(entry, name) for name in spec.of}
    tone = getattr(entry, "tone", None) or tone
    chosen = at.choices(spec.of, own, (_last_name(way),), counts)
    simple = {name: one for name, one in spec.of.items() if name not in ("copy", "button", "picture")}
    fields = at.fields(simple, own, chosen, way, tone)
    button_in, section_button = own.get("button"), given.get("button")
    button = None
    if button_in is not None or section_button is not None:
        where = (*way, "button") if button_in else way
        button = at.button(
            button_in or stand_in(label=None, link=None), section_button, where, link=link, at=("button",)
        )
    copy: Copy | None = None
    if own.get("copy"):
        copy = at.copy(own["copy"], (*way, "copy"))
    elif row.copy:
        copy = at.told(Copy(literal_copy(row.copy), voice))
    at.facts = mail_facts
    target = Address(link, voice)
    return Fields(
        **{
            "tone": tone,
            **fields,
            "sku": row.sku,
            "name": at.said(name_isolated(row.name, at.shop.rtl), way),
            "copy": copy,
            "price": _price(at, row.price),
            "was": _price(at, row.was) if row.was is not None else None,
            "link": target,
            "picture": _row_picture(at, spec, row, {**at.chosen, **chosen}, target, way, tone),
            "button": button,
            "colours": _swatches(at, row, way),
            "colours_word": at.said(at.counted("colours", len(colours)), way),
            "colour_names": at.said(shop.context.locale.join(colours), way) if colours else None,
        }
    )


def _swatches(at: SectionResolver, row: Any, way: Way) -> tuple[Fields, ...]:
    """The colours a product comes in, where its block shows any; `shot` is that of the row's picture."""

    def colour(written: str) -> str:
        if written != SHOT:
            return written
        if not row.picture:
            raise Fault(
                f"{SHOT} is the colour of the picture, and there is none", expected="a picture, or #rrggbb"
            )
        pictures = at.shop.pictures
        return own_colour(pictures.source(row.picture), pictures.cache)

    named = f"product {row.sku}, colours"
    made = [(name, in_row(at, row, named, partial(colour, written), "")) for name, written in row.colours]
    return tuple([Fields(name=at.said(name, way), colour=one) for name, one in made])


def _price(at: SectionResolver, amount: Any) -> Text:
    return words(at.isolated(at.shop.context.money(amount)), at.voice)


def _picture(file: str, alt: str | None = None) -> PictureIn:
    made: PictureIn = stand_in(
        file=file, alt=alt, decorative=False, dark=None, link=None, focus=None, tint=False, crop=None,
        extend=None, fit=None, border=None, corners=None, shade=None, density=None, phone=None,
        frames=None, first=None, fade=0, rounds=1, max_kb=None, format="auto",
    )  # fmt: skip
    return made


def _row_picture(
    at: SectionResolver,
    spec: FieldSpec,
    row: Any,
    chosen: Mapping[str, str],
    link: Address,
    way: Way,
    tone: str,
) -> Fields | None:
    """A product's own picture, linked to it; its alt text is the row's, else the product's name."""
    if not row.picture:
        return None
    named = f"product {row.sku}, picture"
    if not in_row(at, row, named, lambda: bool(at.shop.pictures.source(row.picture)), False):
        return None
    written = _picture(row.picture, row.alt or row.name)
    alt = at.said(row.alt or row.name, way)
    return at.attempt(way, lambda: planned(at, written, spec, chosen, alt, link, way, tone), None)


def review_item(
    at: SectionResolver,
    spec: FieldSpec,
    entry: Any,
    section: Mapping[str, str],
    way: Way,
    tone: str,
    counts: dict[str, int],
) -> Fields | None:
    """One review. Its words are shown as the file has them: a shorter quote must occur in them."""
    shop, voice = at.shop, at.voice
    if "review" in shop.unread:
        return None
    row = at.attempt(way, lambda: _pick(shop.reviews, entry.id, "review"), None)
    if row is None:
        return None
    columns = ("id", "name", "place_of_person", "verified", "relationship", "title", "text")
    cells = [(column.removesuffix("_of_person"), getattr(row, column)) for column in columns]
    if not printable(at, row, f"review {row.id}", cells):
        return None
    own = {name: field_value(entry, name) for name in spec.of}
    tone = getattr(entry, "tone", None) or tone
    own_choices = at.choices(spec.of, own, (_last_name(way),), counts)
    chosen = {**section, **own_choices}
    simple = {name: one for name, one in spec.of.items() if name not in ("quote", "picture")}
    fields = at.fields(simple, own, own_choices, way, tone)
    quote = " ".join((own.get("quote") or row.text).split())
    at.attempt((*way, "quote"), lambda: check_quote(quote, row.text, row.id), None)
    word = at.shop.word_table(at.valid.block.name)
    number = at.shop.context.locale.number
    who, where = row.name, row.place_of_person
    who, where = name_isolated(who, at.shop.rtl), name_isolated(where, at.shop.rtl)
    if where:
        who = _put(word.get("wrote", "{name}, {place}"), name=who, place=where)
    stars = row.stars or 0
    relationship = None
    if row.relationship:
        relationship = _put(word.get("relationship", "{relationship}"), relationship=row.relationship)
    return Fields(
        **{
            "tone": tone,
            **fields,
            "id": row.id,
            "quoted": at.said(word.get("open_quote", "") + quote + word.get("close_quote", ""), way),
            "who": at.said(who, way),
            "stars": words(STAR * stars + NO_STAR * (MOST_STARS - stars), voice) if stars else None,
            "stars_words": at.said(
                _put(at.counted("stars", stars), stars=number(stars), most=number(MOST_STARS)), way
            )
            if stars
            else None,
            **_marks(at, stars, tone, "card" if chosen.get("layout") == "card" else "ground"),
            "verified": at.said(row.verified, way) if row.verified else None,
            "how_words": at.said(_put(word.get("how", "({how})"), how=row.verified), way)
            if row.verified
            else None,
            "relationship_words": at.said(relationship, way) if relationship else None,
            "picture": _review_picture(at, spec, row, own.get("picture"), chosen, way, tone),
        }
    )


def _marks(at: SectionResolver, stars: int, tone: str, under: str) -> dict[str, Any]:
    """The shop's own stars and tick, where it has them and the block says how large they are.

    `under` is the role of the colour they stand on.
    """
    marks, block = at.shop.brand.marks, at.valid.block
    result: dict[str, Any] = {"star_marks": (), "star_twins": False, "mark": None}

    def put(name: str, mark: Mark, alt: str) -> Fields | None:
        width = block.pixels(f"var(--{name})", at.shop.library.house)
        said = words(alt, at.voice)
        with at.reading(at.shop.brand_node, ""):
            return by_ground(at, mark.for_light, mark.for_dark, tone, under, width, said, None, ("marks",))

    if "star" in block.measures and stars and marks.star and marks.star_empty:
        kinds = ((marks.star, STAR), *((marks.star_empty, NO_STAR),) * (stars < 5))
        one, *other = (put("star", mark, alt) for mark, alt in kinds)
        result["star_marks"] = (one,) * stars + tuple(other) * (5 - stars) if one else ()
        result["star_twins"] = bool(one and one.dark)
    if "mark" in block.measures and marks.verified:
        result["mark"] = put("mark", marks.verified, "")
    return result


def _review_picture(
    at: SectionResolver,
    spec: FieldSpec,
    row: Any,
    own: PictureIn | None,
    chosen: Mapping[str, str],
    way: Way,
    tone: str,
) -> Fields | None:
    if own is not None:
        return picture_field(at, own, spec.of["picture"], {}, chosen, (*way, "picture"), tone)
    products = at.shop.products
    if chosen.get("layout") != "card" or not row.product or products is None:
        return None
    product = products.get(row.product)
    if product is None or not product.picture:
        return None
    link = in_row(at, product, f"product {product.sku}, link", lambda: at.whole((product.link,)), NONE)
    return _row_picture(at, spec, product, chosen, Address(link, at.voice), way, tone) if link else None


def brand_fields(at: SectionResolver, tone: str, under: str = "ground") -> Fields:
    """The shop as templates take it; the logo that suits the colour role `under` it in each scheme.

    The resolver reads brand.yaml meanwhile (`SectionResolver.reading`).
    """
    brand = at.shop.brand
    logo = logo_small = None
    if brand.logo is not None:
        logo = _logo(at, tone, under, brand.logo.width)
        logo_small = _logo(at, tone, under, brand.logo.width_small or brand.logo.width)
    return Fields(
        name=at.said(name_isolated(brand.name, at.shop.rtl), ("name",)),
        postal_address=at.said(name_isolated(brand.postal_address, at.shop.rtl), ("postal_address",))
        if brand.postal_address
        else None,
        logo=logo,
        logo_small=logo_small,
        navigation=tuple(
            _labelled(at, item, ("navigation", number), tone) for number, item in enumerate(brand.navigation)
        ),
        social=tuple(
            _labelled(at, item, ("social", number), tone) for number, item in enumerate(brand.social)
        ),
    )


def _logo(at: SectionResolver, tone: str, under: str, width: int) -> Fields | None:
    logo = at.shop.brand.logo
    assert logo is not None
    alt = at.said(logo.alt, ("logo", "alt"))
    link = at.address(logo.link, ("logo", "link")) if logo.link else None
    return by_ground(at, logo.for_light, logo.for_dark, tone, under, width, alt, link, ("logo",))


def by_ground(
    at: SectionResolver,
    for_light: str,
    for_dark: str | None,
    tone: str,
    under: str,
    width: int,
    alt: Text,
    link: Text | None,
    way: Way,
) -> Fields | None:
    """A drawing that suits the colour role it stands on in each scheme; a dark twin where they differ."""
    house, pictures = at.shop.library.house, at.shop.pictures
    files = [
        for_dark
        if for_dark and luminance(house.colour(under, tone, dark=dark)) < DARK_LUMINANCE
        else for_light
        for dark in (False, True)
    ]

    def made(file: str) -> Fields:
        plan = pictures.plan(file, width, spot=at.spot(way))
        return at.shop.picture_fields(plan, alt, link, at.voice)

    def work() -> Fields:
        light = made(files[0])
        if files[0] == files[1]:
            return light
        return Fields(**{**vars(light), "dark": made(files[1])})

    return at.attempt(way, work, None)


def _labelled(at: SectionResolver, item: Any, way: Way, tone: str) -> Fields:
    """A link of the brand's, with its icon where it has one.

    A built-in one is also there as `glyph`, smaller and without the link, for a template that makes room
    around it.
    """
    label, link = at.said(item.label, (*way, "label")), at.address(item.link, (*way, "link"))
    picture = glyph = None
    if item.icon and is_icon(item.icon):
        where = (*way, "icon")
        drawn = _picture(item.icon)

        def put(to: Text | None) -> Fields | None:
            return at.attempt(where, lambda: planned(at, drawn, GLYPH, {}, label, to, where, tone), None)

        picture, glyph = put(link), put(None)
    elif item.icon:
        where = (*way, "icon")

        def work() -> Fields:
            plan = at.shop.pictures.plan(item.icon, SOCIAL_ICON, spot=at.spot(where))
            return at.shop.picture_fields(plan, label, link, at.voice)

        picture = at.attempt(where, work, None)
    return Fields(label=label, link=link, picture=picture, glyph=glyph)


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb, 0 to 1 (WCAG 2.2, definitions)."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _pick(catalogue: Any, key: str, what: str) -> Any:
    if catalogue is None:
        raise Fault(f"the brand has no {what}s", expected=f"{what}s: with a file in brand.yaml")
    return catalogue.pick(key)


def in_row(at: SectionResolver, row: Any, path: str, work: Callable[[], T], otherwise: T) -> T:
    """`work`'s result, or `otherwise` and a mistake at the catalogue's row."""
    try:
        return work()
    except Fault as fault:
        at.mistakes.append(fault.at(row.place, path))
        return otherwise


def printable(at: SectionResolver, row: Any, named: str, cells: Sequence[tuple[str, str]]) -> bool:
    """Whether every cell holds only what mail may; each that does not is a mistake at the row."""
    before = len(at.mistakes)
    for column, text in cells:
        in_row(at, row, f"{named}, {column}", partial(check_characters, text), None)
    return len(at.mistakes) == before


def _last_name(way: Way) -> str:
    return next(step for step in reversed(way) if isinstance(step, str))


def _put(pattern: str, **values: str) -> str:
    """House words with their holes filled; `str.format` would let a brand's words reach into objects."""
    for name, value in values.items():
        pattern = pattern.replace("{" + name + "}", value)
    return pattern
