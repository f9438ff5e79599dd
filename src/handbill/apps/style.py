"""A house style from one or two colours. Enters: colours; leaves: brand.yaml and a sample catalogue.

Every pair that carries words holds 4.5:1, what only has to be seen 3:1 (WCAG 2.2, 1.4.3 and 1.4.11), in both
schemes; a colour that is too light or too dark for its place is mixed with black or white until it holds.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

from handbill.base.frozen import dataclass
from handbill.resolve.items import luminance

TEXT, SEEN = 4.5, 3.0
AIR = 0.05  # above the limits, so that another way to round does not fail
NO_COLOUR = "#2f4a4c"  # a quiet green-blue, when no colour is given
SMALL_WORDS = frozenset({"a", "and", "at", "in", "of", "on", "the"})
INK, PAPER = "#121212", "#ffffff"


@dataclass(frozen=True, slots=True)
class Palette:
    """Roles by name as (light, dark), for the page and for each tone."""

    given: tuple[str, ...]
    colours: Mapping[str, tuple[str, str]]
    tones: Mapping[str, Mapping[str, tuple[str, str]]]


def contrast(one: str, other: str) -> float:
    """The contrast ratio of two colours, 1 to 21 (WCAG 2.2, definitions)."""
    bright, dim = sorted((luminance(one), luminance(other)), reverse=True)
    return (bright + 0.05) / (dim + 0.05)


def mix(one: str, other: str, share: float) -> str:
    """`share` (0 to 1) of the colour `other` in `one`, channel by channel."""
    pairs = zip(bytes.fromhex(one[1:]), bytes.fromhex(other[1:]), strict=True)
    return "#" + bytes(round(a + (b - a) * share) for a, b in pairs).hex()


def until(colour: str, toward: str, grounds: Iterable[str], least: float) -> str:
    """`colour`, mixed with as little of `toward` as gives `least` on every ground; else `toward` itself."""
    against = tuple(grounds)
    for step in range(51):
        made = mix(colour, toward, step / 50)
        if all(contrast(made, ground) >= least + AIR for ground in against):
            return made
    return toward


def palette(colours: Sequence[str], ground: str = PAPER) -> Palette:
    """A palette of up to two colours given as #rgb or #rrggbb: the first leads, the second marks.

    `ground` is under the sections on light screens.
    """
    given = tuple(_full(one) for one in colours)
    lead = given[0] if given else NO_COLOUR
    mark = given[1] if len(given) > 1 else lead
    light = _scheme(
        lead, mark, page=mix(ground, lead, 0.05), ground=ground, card=mix(ground, lead, 0.07), dark=False
    )
    deep_page, deep_ground = mix("#0d0e10", lead, 0.06), mix("#17181b", lead, 0.08)
    dark = _scheme(lead, mark, page=deep_page, ground=deep_ground, card=mix("#212327", lead, 0.1), dark=True)
    return Palette(given, _pairs(light, dark), {
        "soft": _pairs(_soft(lead, mark, False), _soft(lead, mark, True)),
        "deep": _pairs(_deep(lead, mark, False), _deep(lead, mark, True)),
    })  # fmt: skip


def _full(colour: str) -> str:
    low = colour.lower()
    return low if len(low) == 7 else "#" + "".join(2 * digit for digit in low[1:])


def _pairs(light: Mapping[str, str], dark: Mapping[str, str]) -> dict[str, tuple[str, str]]:
    return {role: (light[role], dark[role]) for role in light}


def _soft(lead: str, mark: str, dark: bool) -> dict[str, str]:
    """A pale ground in the mark's colour; on dark screens one that is a little lighter than the page."""
    ground = mix("#1e2024", mark, 0.16) if dark else mix(PAPER, mark, 0.16)
    made = _scheme(
        lead, mark, page=ground, ground=ground, card=mix(ground, PAPER, 0.06 if dark else 0.5), dark=dark
    )
    return {role: colour for role, colour in made.items() if role != "page"}


def _deep(lead: str, mark: str, dark: bool) -> dict[str, str]:
    """A ground in the leading colour, deep enough for light words in both schemes."""
    ground = until(mix(lead, "#000000", 0.45 if dark else 0.1), "#000000", ["#f0f0f0"], 7)
    made = _scheme(
        mix(lead, PAPER, 0.8), mark, page=ground, ground=ground, card=mix(ground, PAPER, 0.06), dark=True
    )
    return {role: colour for role, colour in made.items() if role != "page"}


def _scheme(lead: str, mark: str, *, page: str, ground: str, card: str, dark: bool) -> dict[str, str]:
    grounds = (page, ground, card)
    away = PAPER if dark else "#000000"
    ink = mix("#f4f4f2", lead, 0.06) if dark else mix(INK, lead, 0.3)
    title = until(ink, away, grounds, 9)
    accent = until(mark, away, grounds, TEXT)
    button = until(lead, away, grounds, SEEN)
    label = max(
        ("#ffffff", until(mix("#111111", lead, 0.1), "#000000", [button], TEXT)),
        key=lambda one: contrast(one, button),
    )
    return {
        "page": page,
        "ground": ground,
        "card": card,
        "title": title,
        "text": until(mix(title, ground, 0.16), away, grounds, 7),
        "muted": until(mix(title, ground, 0.36), away, grounds, TEXT),
        "accent": accent,
        "link": accent,
        "line": mix(ground, title, 0.16),
        "ring": until(mix(ground, title, 0.4), away, grounds, SEEN),
        "button": button,
        "button-label": label,
        "outline": until(lead, away, grounds, TEXT),
    }


WHY = {
    "page": "around the mail",
    "ground": "under each section",
    "card": "under what is set apart: a quote, a code",
    "title": "headings, names and prices",
    "text": "running words",
    "muted": "small print, earlier prices",
    "accent": "the line above a heading, stars",
    "link": "links in copy",
    "line": "hairlines",
    "ring": "around swatches",
    "button": "seen at 3:1 or more on every ground",
    "button-label": "read at 4.5:1 or more on the button",
    "outline": "buttons that are only a line, and their words",
}
TONES = {
    "soft": "a pale ground for a section that should rest: `tone: soft`",
    "deep": "a strong ground for a section that should stand out, or for the foot: `tone: deep`",
}


def starter_files(name: str, made: Palette, samples: Path, source: Path | None = None) -> dict[str, bytes]:
    """What brands/NAME/ begins with: brand.yaml, and the sample shop's rows and pictures to replace.

    `source` is the picture that the colours were taken from; it goes with them.
    Each sample review says that it was made up, so that no reader takes it for a customer's.
    """
    own = "" if source is None else _plain_name(source)
    files = {"brand.yaml": brand_yaml(name, made, own).encode()}
    files["standing/footer.yaml"] = FOOTER.encode()
    files["products.csv"] = (samples / "products.csv").read_bytes()
    files["prices.csv"] = _history(samples / "products.csv")
    files["reviews.csv"] = _marked(samples / "reviews.csv")
    for path in sorted((samples / "pictures").iterdir()):
        files[f"pictures/{path.name}"] = path.read_bytes()
    if source is not None:
        files[f"pictures/{own}"] = source.read_bytes()
    return files


def _plain_name(path: Path) -> str:
    """A file's name as any system and any mail takes it."""
    return re.sub(r"[^a-z0-9]+", "-", path.stem.lower()).strip("-")[:40] + path.suffix.lower()


def _history(path: Path) -> bytes:
    """What the sample products cost since when: an old price up to the reduction, as the law counts it."""
    import csv

    lines = ["sku,from,price"]
    for row in csv.DictReader(path.read_text("utf-8").splitlines()):
        lines.append(f"{row['sku']},2026-09-01,{row['was'] or row['price']}")
        if row["was"]:
            lines.append(f"{row['sku']},2027-02-01,{row['price']}")
    return ("\n".join(lines) + "\n").encode()


def _marked(path: Path) -> bytes:
    import csv
    import io

    out = io.StringIO()
    rows = list(csv.DictReader(path.read_text("utf-8").splitlines()))
    writer = csv.DictWriter(out, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    for row in rows:
        writer.writerow({**row, "verified": "", "relationship": "a made-up review that shows how one looks"})
    return out.getvalue().encode()


def brand_yaml(name: str, made: Palette, source: str = "") -> str:
    """The house style as a file with a comment on every part; `source` is the picture it was taken from."""
    words = name.split("-")
    title = " ".join(one if one in SMALL_WORDS and one != words[0] else one.capitalize() for one in words)
    given = " and ".join(made.given) if made.given else "no colour at all"
    given += f", taken from pictures/{source}" if source else ""
    colours = "\n".join(
        f'  {role}: {{light: "{light}", dark: "{dark}"}}  # {WHY[role]}'
        for role, (light, dark) in made.colours.items()
    )
    tones = "\n".join(
        f"  {tone}:  # {TONES[tone]}\n"
        + "\n".join(
            f'    {role}: {{light: "{light}", dark: "{dark}"}}' for role, (light, dark) in roles.items()
        )
        for tone, roles in made.tones.items()
    )
    return _BRAND.format(name=name, title=title, given=given, colours=colours, tones=tones,
        logo=source or "logo.png",
    )  # fmt: skip


FOOTER = """\
# How every mail of this shop ends: `- standing: footer`. It takes the place of handbill's own footer.
block: footer-nav
tone: deep
rule: false
"""

_BRAND = """\
# The house style of {title}, made of {given}. What is left out has plain defaults (docs/house-style.md).
handbill: 1
brand: {name}
name: {title}

# Where links and hosted pictures live, and who the mail is from. All of these are to be replaced:
# .example is a name that never leads anywhere (RFC 2606).
site: https://{name}.example
pictures_at: https://pictures.{name}.example/
sender: {{name: {title}, address: letters@{name}.example}}
# A postal address and the reason why the reader gets the mail: in many places the law asks for both.
postal_address: 1 Example Street, Exampletown
legal: You get this letter because you asked for it.
languages: [en-GB]
timezone: Europe/London  # deadlines are meant in this zone
currency: EUR

# The links at the foot.
navigation:
  - {{label: Everything, link: /all}}
  - {{label: New, link: /new}}
  - {{label: About us, link: /about}}

# Six made-up products and four made-up reviews, so that a first mail has something to show. Put your own rows
# in; `columns:` says under which header each field stands, if yours are called otherwise.
products: {{file: products.csv}}
reviews: {{file: reviews.csv}}
truth: {{prices: prices.csv}}  # what each product cost since when: old prices are held against it

# A logo at twice the width it is shown, for light grounds and for dark. Until then the name stands there.
# logo: {{for_light: {logo}, for_dark: logo-light.png, alt: {title}, width: 140}}

# Light and dark screens. Words hold 4.5:1 on page, ground and card, buttons 3:1 (WCAG 2.2, 1.4.3 and 1.4.11).
colours:
{colours}

# Grounds that a section or a product can take.
tones:
{tones}

# Faces that nearly every system has. Sizes in px; the phone's follow where they differ.
type:
  display:
    {{face: "Georgia, 'Times New Roman', serif", size: 56, line: 58, weight: "400", tracking: -1.2,
     phone: {{size: 42, line: 45, tracking: -0.8}}}}
  title: {{size: 36, line: 42, weight: "400", tracking: -0.5, phone: {{size: 30, line: 36}}}}
  feature: {{size: 34, line: 40, weight: "400", tracking: -0.4, phone: {{size: 30, line: 36}}}}
  name: {{size: 24, line: 30, weight: "400"}}
  price: {{face: "Arial, Helvetica, sans-serif", size: 18, line: 26, weight: "700"}}
  quote: {{face: "Georgia, 'Times New Roman', serif", size: 20, line: 31}}
  kicker: {{size: 15, line: 22, weight: "700"}}

space:
  side: {{desktop: 44, phone: 24}}  # beside the copy
  section: {{desktop: 60, phone: 44}}  # above and below a section

corners: {{picture: 6, card: 6}}
button: {{height: 50, inset: 28, corner: 6, full_width_on_phone: true}}
"""
