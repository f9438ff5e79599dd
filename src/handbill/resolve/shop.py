"""What all sections of a mail share. Enters: a brand's loaded parts; leaves: a `Shop` with its lookups."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from copy import copy
from pathlib import Path
from typing import TYPE_CHECKING, Any

from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, Place, nearest
from handbill.base.files import inside
from handbill.base.frozen import dataclass, field
from handbill.base.kept import Kept
from handbill.base.source import Node, child, place
from handbill.base.urls import base_url
from handbill.brand.parts import BrandParts
from handbill.library.build import Library
from handbill.loader import Loader
from handbill.models.read import CATEGORIES
from handbill.pictures.plan import Plan, plan
from handbill.pictures.source import Source, inspect
from handbill.resolve.context import Context
from handbill.resolve.facts import Ref, parse
from handbill.resolve.icons import icon_file, is_icon
from handbill.resolve.locale import Locale
from handbill.resolve.stock import Catalogue, Stock
from handbill.resolve.text import Text, Voice, check_characters
from handbill.resolve.values import Address, Fields

if TYPE_CHECKING:
    from handbill.catalogue.hosted import Hosted
    from handbill.models.brand import Brand

BASE, CID, RELATIVE = "base", "cid", "relative"
FIELDS = 400  # kept at a time
# what a picture may have besides, as templates ask for it
NOTHING_MORE: dict[str, Any] = dict.fromkeys(
    ("dark", "over", "under", "phone", "radius", "ink", "own_ground", "free", "free_px")
)
_ENDINGS = (".png", ".jpg", ".jpeg", ".gif", ".webp", ".bmp", ".tif", ".tiff", ".avif")


@dataclass(frozen=True, slots=True)
class CopyOn:
    """Copy on a picture: its colour #rrggbb, its least contrast ratio and the 5th percentile."""

    ink: str
    least: float
    low: float


class Pictures:
    """Finds picture files, plans them, and says where the mail will find them.

    `hosted` is where some of them are instead of at `base`. `spare` is a folder of handbill's own whose
    pictures stand in for those the brand has not. `most_kb` is what one that stands still may weigh.
    """

    def __init__(
        self, folders: Sequence[Path], root: Path, base: str, mode: str, cache: Cache, domain: str,
        spare: Path | None = None, hosted: Hosted | None = None, most_kb: int | None = None,
    ) -> None:  # fmt: skip
        self.folders = folders
        self.root = root
        self.base = base
        self.mode = mode
        self.cache = cache
        self.domain = domain
        self.spare = spare
        self.most_kb = most_kb
        self.hosted = hosted if mode == BASE else None
        self.plans: dict[str, Plan] = {}
        self.copy_on: dict[str, CopyOn] = {}
        self.asked: dict[str, tuple[Place, str]] = {}
        self._sources: dict[str, Source] = {}
        #: What pictures came to that were asked for in the same way; `wishes` says of what.
        self.outcomes: Kept[tuple[Any, CopyOn | None]] = Kept(200)

    def afresh(self) -> Pictures:
        """The same pictures, none of them used yet; files that were looked at stay known."""
        made = copy(self)
        made.plans, made.asked, made.copy_on = {}, {}, {}
        return made

    def note(self, others: Pictures) -> None:
        """What was used of `others`, as if it had been used here."""
        self.plans.update(others.plans)
        for name, spot in others.asked.items():
            self.asked.setdefault(name, spot)
        for name, found in others.copy_on.items():
            self.stand(name, found)

    def stand(self, name: str, found: CopyOn) -> None:
        """Copy stands on the picture `name`; of two such places the one of less contrast is remembered."""
        before = self.copy_on.get(name)
        if before is None or found.least < before.least:
            self.copy_on[name] = found

    def source(self, name: str) -> Source:
        """The file `name` in the brand's pictures, then in its parents', or a built-in icon. Raises Fault."""
        found = self._sources.get(name)
        if found is None:
            path = icon_file(name, self._known()) if is_icon(name) else self._file(name)
            found = self._sources[name] = inspect(path, self.cache)
        return found

    def _known(self) -> Iterator[str]:
        """The names of the brand's and its parents' picture files."""
        for folder in self.folders:
            for at in (folder / "pictures", folder):
                yield from (one.name for one in at.glob("*.*") if one.suffix.lower() in _ENDINGS)

    def _file(self, name: str) -> Path:
        for folder in self.folders:
            for at in (folder / "pictures", folder):
                path = inside(self.root, at, name)
                if path.is_file():
                    return path
        if self.spare is not None:
            for at in (self.spare / "pictures", self.spare):
                if (path := inside(self.spare, at, name)).is_file():
                    return path
        where = ", ".join(folder.relative_to(self.root).as_posix() + "/pictures" for folder in self.folders)
        raise Fault(f"no picture {name} in {where}", nearest=nearest(name, self._known()))

    def plan(self, name: str, width: int, *, spot: tuple[Place, str], **how: Any) -> Plan:
        """A picture for a slot `width` CSS px wide, remembered as used; `spot` says by which field.

        Raises Fault for a file that is not there or is no picture.
        """
        return self.use(plan(self.source(name), width=width, **how), spot)

    def use(self, made: Plan, spot: tuple[Place, str]) -> Plan:
        """The same plan, remembered as used by the field at `spot`."""
        self.plans[made.name] = made
        self.asked.setdefault(made.name, spot)
        return made

    def address(self, name: str, voice: Voice) -> Text:
        """Where the mail finds the picture."""
        return Address((self.where(name),), voice)

    def where(self, name: str) -> str:
        """The same as plain text."""
        if self.mode == CID:
            return f"cid:{cid(name, self.domain)}"
        if self.mode == RELATIVE:
            return "../pictures/" + name
        own = self.hosted.addresses.get(name) if self.hosted is not None else None
        return own if own is not None else self.base + name


def cid(name: str, domain: str) -> str:
    """A picture's content id: letters, digits, dots and hyphens only (RFC 2392; see `write.eml.Inline`)."""
    return (
        "".join(one if (one.isalnum() and one.isascii()) or one in ".-" else "-" for one in name)
        + "@"
        + domain
    )


@dataclass(frozen=True, slots=True)
class Shop:
    """Everything a section's resolver may look up."""

    brand: Brand
    library: Library
    context: Context
    products: Catalogue | None
    reviews: Catalogue | None
    pictures: Pictures
    site: str
    language: str
    rtl: bool
    recipient: frozenset[str]
    brand_node: Node
    unread: frozenset[str] = frozenset()  # catalogues with mistakes: no row of them is missed again
    words: Words | None = None
    #: Fields that came out the same for mails before; `again` says which.
    fields: Kept[Any] = field(default_factory=lambda: Kept(FIELDS))

    def afresh(self, pictures: Pictures | None = None) -> Shop:
        """The same shop, of whose pictures none is used yet, or that notes them in `pictures`."""
        fields: dict[str, Any] = {name: getattr(self, name) for name in Shop.__slots__}
        return Shop(**{**fields, "pictures": pictures or self.pictures.afresh()})

    def speaking(
        self, language: str, rtl: bool, library: Library, context: Context, words: Words, parts: BrandParts,
        stock: Stock,
    ) -> Shop:  # fmt: skip
        """The same shop in another language or direction; `parts` and `stock` are what it says there."""
        fields: dict[str, Any] = {name: getattr(self, name) for name in Shop.__slots__}
        own = {
            "language": language, "rtl": rtl, "library": library, "context": context, "words": words,
            "brand": parts.brand, "brand_node": parts.files.root.root, "products": stock.products,
            "reviews": stock.reviews, "unread": stock.unread, "site": base_url(parts.brand.site, "site"),
            "fields": Kept(FIELDS),
        }  # fmt: skip
        return Shop(**{**fields, **own})

    def check_recipient(self, text: str) -> None:
        """Raise a Fault when `text` uses a recipient field and the workspace declares none at all."""
        if self.recipient or "${" not in text:
            return
        for part in parse(text):
            if isinstance(part, Ref) and part.names[0] == "recipient":
                raise undeclared(".".join(part.names))

    def word_table(self, block: str) -> Mapping[str, str]:
        """The house words that `block` may use, in this mail's language."""
        return self.words.of(block)[0] if self.words is not None else {}

    def picture_fields(self, made: Plan, alt: Text, link: Text | None, voice: Voice, **more: Any) -> Fields:
        """A planned picture as templates take it. `background` is false where backgrounds do not show."""
        return Fields(
            src=self.pictures.address(made.name, voice),
            alt=alt,
            width=made.width,
            height=made.height,
            link=link,
            background=self.pictures.mode != CID,
            **{**NOTHING_MORE, **more},
        )


def undeclared(dotted: str) -> Fault:
    """What is wrong with a recipient field in a workspace that declares none."""
    name = dotted.partition(".")[2] or "first_name"
    return Fault(
        f"{dotted} is used, but the workspace declares no recipient fields",
        expected=f"fields: {{{name}: {{}}}} in handbill.yaml",
    )


class Words:
    """House words of a library's blocks for a language tag, each block's worked out when it is asked for.

    A word is sought in the brand, the block and the shared macros, each for en-GB before en. The forms of a
    word that has some stand beside it as `word.one` and so on.
    """

    def __init__(self, library: Library, brand: Brand, language: str) -> None:
        self.library, self.brand = library, brand
        self.language = language
        self._found: dict[str, tuple[dict[str, str], list[str]]] = {}

    def of(self, name: str) -> tuple[dict[str, str], list[str]]:
        """The words of the block `name`, and those that are missing."""
        if name not in self._found:
            self._found[name] = self._of(self.library.blocks[name].words)
        return self._found[name]

    def _of(self, own: Mapping[str, Mapping[str, str]]) -> tuple[dict[str, str], list[str]]:
        shared = self.library.shared_words
        wanted = {word for table in (own, shared) for words in table.values() for word in words}
        found = _sought((shared, own, self.brand.words), self.language, wanted)
        return found, sorted(wanted - found.keys())


def check_words(
    shop: Shop, used: Iterable[str], at: Place | None = None, path: str = "languages"
) -> Iterator[Mistake]:
    """What is wrong with the words of the blocks `used` in the shop's language.

    `at` and `path` are of whatever asks for that language, the brand's languages where nothing else does.
    """
    if shop.words is None:
        return
    for name in sorted(set(used)):
        table, lacking = shop.words.of(name)
        if lacking:
            message = f"block {name} has no words in {shop.language}: {', '.join(lacking)}"
            where = at or place(child(shop.brand_node, "languages") or shop.brand_node)
            language = shop.language.split("-")[0]
            expected = f"words: {{{language}: …}} in brand.yaml or block.yaml"
            yield Mistake(where, path, message, expected)
        for word, text in table.items():
            try:
                check_characters(text)
            except Fault as fault:
                where = at or place(child(shop.brand_node, "words") or shop.brand_node)
                yield fault.at(where, f"block {name}, words.{word}")


def shared_word(library: Library, brand: Brand, language: str, word: str) -> str:
    """A word that belongs to no block, or itself where nobody says it in this language."""
    return _sought((library.shared_words, brand.words), language, {word}).get(word, word)


def _sought(
    sources: Iterable[Mapping[str, Mapping[str, Any]]], language: str, wanted: Collection[str]
) -> dict[str, str]:
    """The words `wanted`, from the last of `sources` that has them."""
    found: dict[str, str] = {}
    for source in sources:
        for tag in (language.split("-")[0], language):
            for word, said in source.get(tag, {}).items():
                if word not in wanted:
                    continue
                forms = {"other": said} if isinstance(said, str) else said
                for category in CATEGORIES:
                    found.pop(f"{word}.{category}", None)
                found[word] = forms["other"]
                if len(forms) > 1:
                    found.update({f"{word}.{category}": text for category, text in forms.items()})
    return found


def open_shop(
    loader: Loader, parts: BrandParts, library: Library, locale: Locale, rtl: bool, mode: str,
    stock: Stock, context: Context, samples: Path | None = None,
) -> Shop:  # fmt: skip
    """The shop for mails of one brand in one language that say the same facts (`context`).

    The folder `samples` (pictures/) stands in for what the brand lacks.
    """
    brand = parts.brand
    site, base = base_url(brand.site, "site"), base_url(brand.pictures_at, "pictures_at")
    domain = brand.sender.address.rpartition("@")[2]
    pictures = Pictures(
        parts.files.folders, loader.root, base, mode, loader.cache, domain, samples, stock.hosted,
        loader.workspace.budgets.picture_kb,
    )  # fmt: skip
    fields = frozenset(loader.workspace.fields)
    recipient = fields or frozenset(name for one in loader.workspace.samples for name in one.fields)
    return Shop(
        brand, library, context, stock.products, stock.reviews, pictures, site, locale.tag, rtl, recipient,
        parts.files.root.root, stock.unread, Words(library, brand, locale.tag),
    )  # fmt: skip
