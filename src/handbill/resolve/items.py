"""Products, reviews and the brand as fields. Enters: rows of the shop's files; leaves: values for templates."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from handbill.base.errors import Fault
from handbill.library.fields import ButtonIn, PictureIn, field_value
from handbill.library.spec import FieldSpec
from handbill.resolve.context import product_facts
from handbill.resolve.copy import Copy
from handbill.resolve.values import Address, Fields, literal_copy, words

if TYPE_CHECKING:
    from handbill.resolve.section import SectionResolver, Way

STAR, NO_STAR = "★", "☆"


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
    shop = at.shop
    row = at.attempt(way, lambda: _pick(shop.products, entry.sku, "product"), None)
    if row is None:
        return None
    voice, context = at.voice, shop.context
    mail_facts = at.facts
    at.facts = {**mail_facts, **product_facts(context, row, shop.site)}
    own = {name: field_value(entry, name) for name in spec.of}
    tone = getattr(entry, "tone", None) or tone
    chosen = at.choices(
        spec.of, own, (str(next(step for step in reversed(way) if isinstance(step, str))),), 0, counts
    )
    simple = {name: one for name, one in spec.of.items() if name not in ("copy", "button", "picture")}
    fields = at.fields(simple, own, chosen, way, tone)
    link = at.attempt(way, lambda: at.whole((row.link,)), ())
    button_spec, section_button = own.get("button"), given.get("button")
    button = None
    if button_spec is not None or section_button is not None:
        button = at.button(
            button_spec or ButtonIn(),
            section_button,
            (*way, "button") if button_spec else way,
            link=link,
            at=("button",),
        )
    if own.get("copy"):
        copy = at.copy(own["copy"], (*way, "copy"))
    else:
        copy = Copy(literal_copy(row.copy), voice) if row.copy else None
        at.sends = at.sends or bool(copy and copy.send)
    picture = None
    if row.picture:
        picture_in = PictureIn(file=row.picture, alt=row.alt or row.name)
        target = Address(link, voice)
        picture = at.attempt(
            way,
            lambda: at.planned(picture_in, spec, chosen, words(row.alt or row.name, voice), target, 0),
            None,
        )
    at.facts = mail_facts
    money = {
        name: at.isolated(context.money(value))
        for name, value in (("price", row.price), ("was", row.was))
        if value is not None
    }
    return Fields(
        **{
            "tone": tone,
            **fields,
            "sku": row.sku,
            "name": at.spoken(words(row.name, voice), way),
            "copy": copy,
            "price": words(money["price"], voice),
            "was": words(money["was"], voice) if "was" in money else None,
            "link": Address(link, voice),
            "picture": picture,
            "button": button,
            "colours": tuple(Fields(name=words(name, voice), colour=colour) for name, colour in row.colours),
            "colour_names": words(context.locale.join([name for name, _colour in row.colours]), voice)
            if row.colours
            else None,
        }
    )


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
    row = at.attempt(way, lambda: _pick(shop.reviews, entry.id, "review"), None)
    if row is None:
        return None
    own = {name: field_value(entry, name) for name in spec.of}
    tone = getattr(entry, "tone", None) or tone
    chosen = {
        **section,
        **at.choices(
            spec.of, own, (str(next(step for step in reversed(way) if isinstance(step, str))),), 0, counts
        ),
    }
    simple = {name: one for name, one in spec.of.items() if name not in ("quote", "picture")}
    fields = at.fields(
        simple, own, {name: value for name, value in chosen.items() if name in spec.of}, way, tone
    )
    text = " ".join(row.text.split())
    quote = own.get("quote") or text
    if " ".join(quote.split()) not in text:
        at.attempt((*way, "quote"), lambda: _differs(row.id), None)
    word = {name: made.plain for name, made in at.words.items()}
    who = (
        word.get("wrote", "{name}, {place}").format(name=row.name, place=row.place_of_person)
        if row.place_of_person
        else row.name
    )
    stars = row.stars or 0
    return Fields(
        **{
            "tone": tone,
            **fields,
            "id": row.id,
            "quoted": at.spoken(
                words(word["open_quote"] + " ".join(quote.split()) + word["close_quote"], voice), way
            ),
            "who": at.spoken(words(who, voice), way),
            "stars": words(STAR * stars + NO_STAR * (5 - stars), voice) if stars else None,
            "stars_words": words(word["stars"].format(stars=stars), voice) if stars else None,
            "verified": words(row.verified, voice) if row.verified else None,
            "relationship_words": words(word["relationship"].format(relationship=row.relationship), voice)
            if row.relationship and "relationship" in word
            else None,
            "picture": _review_picture(at, spec, row, own.get("picture"), chosen, way),
        }
    )


def _review_picture(
    at: SectionResolver, spec: FieldSpec, row: Any, own: PictureIn | None, chosen: Mapping[str, str], way: Way
) -> Fields | None:
    if own is not None:
        return at.picture(own, spec.of["picture"], {}, chosen, (*way, "picture"))
    products = at.shop.products
    if chosen.get("layout") != "card" or not row.product or products is None:
        return None
    product = products.get(row.product)
    if product is None or not product.picture:
        return None
    link = at.attempt(way, lambda: at.whole((product.link,)), ())
    picture = PictureIn(file=product.picture, alt=product.alt or product.name)
    alt = words(product.alt or product.name, at.voice)
    return at.attempt(way, lambda: at.planned(picture, spec, chosen, alt, Address(link, at.voice), 0), None)


def brand_fields(at: SectionResolver, tone: str) -> Fields:
    """The shop as templates take it; the logo that suits the section's ground in each scheme."""
    brand, voice = at.shop.brand, at.voice
    logo = logo_small = None
    if brand.logo is not None:
        logo = _logo(at, tone, brand.logo.width)
        logo_small = _logo(at, tone, brand.logo.width_small or brand.logo.width)
    return Fields(
        name=words(brand.name, voice),
        postal_address=words(brand.postal_address, voice) if brand.postal_address else None,
        logo=logo,
        logo_small=logo_small,
        navigation=tuple(
            Fields(label=words(item.label, voice), link=at.address(item.link, ()))
            for item in brand.navigation
        ),
        social=tuple(_social(at, item) for item in brand.social),
    )


def _logo(at: SectionResolver, tone: str, width: int) -> Fields | None:
    logo, house, pictures = at.shop.brand.logo, at.shop.library.house, at.shop.pictures
    assert logo is not None
    files = [
        logo.for_dark
        if logo.for_dark and luminance(house.colour("ground", tone, dark=dark)) < 0.18
        else logo.for_light
        for dark in (False, True)
    ]
    alt = words(logo.alt, at.voice)
    link = at.address(logo.link, ()) if logo.link else None

    def made(file: str) -> Fields:
        return at.shop.picture_fields(pictures.plan(file, width), alt, link, at.voice)

    def work() -> Fields:
        light = made(files[0])
        if files[0] == files[1]:
            return light
        return Fields(**{**vars(light), "dark": made(files[1])})

    return at.attempt((), work, None)


def _social(at: SectionResolver, item: Any) -> Fields:
    label, link = words(item.label, at.voice), at.address(item.link, ())
    picture = None
    if item.icon:
        picture = at.attempt(
            (),
            lambda: at.shop.picture_fields(at.shop.pictures.plan(item.icon, 44), label, link, at.voice),
            None,
        )
    return Fields(label=label, link=link, picture=picture)


def luminance(colour: str) -> float:
    """Relative luminance of #rrggbb, 0 to 1 (WCAG 2.2, definitions)."""
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4 for one in channels)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _pick(catalogue: Any, key: str, what: str) -> Any:
    if catalogue is None:
        raise Fault(f"the brand has no {what}s", expected=f"{what}s: with a file in brand.yaml")
    return catalogue.pick(key)


def _differs(key: str) -> Any:
    raise Fault(
        f"the quote is not in review {key} as it was written",
        expected="words of the review in their order; changed words are not the customer's",
    )
