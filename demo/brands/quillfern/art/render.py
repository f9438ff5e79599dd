"""Draw the shop's pictures from its SVGs.

Enters: art/*.svg. Leaves: pictures/*.png and *.jpg, at twice the size the mail shows them.
Needs Chromium (CHROMIUM names it; librsvg drops parts of these drawings), pngquant 2.17 and Pillow.
"""

from __future__ import annotations

import colorsys
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image, ImageFilter

ART = Path(__file__).resolve().parent
PICTURES = ART.parent / "pictures"

HERO_SIDE = 1104  # px: shown 552 wide
PLANT_SIDE = 760  # px: shown up to 380 wide, on phones
TILE_SIZE = (540, 608)  # px: shown 270 wide, its lowest part under a button
LOGO_SIZE = (356, 110)  # px: shown 178 wide
ICON_SIDE = 88  # px: shown 44 x 44
MARKS = ("star", "star-dark", "star-empty", "star-empty-dark", "verified", "verified-dark")
MARK_SIDE = 44  # px: shown 22 x 22

# Rims: the ground a mark is made for, and how much of it shows; stars and ticks stand on cards of any colour.
RIM_BLUR = 2  # px
RIMS = {
    "logo-light": ((0xF4, 0xF8, 0xEC), 1.0),
    "logo-dark": ((0x0C, 0x2E, 0x22), 1.0),
    "star": ((0xFF, 0xFF, 0xFF), 0.5),
    "star-empty": ((0xFF, 0xFF, 0xFF), 0.5),
    "verified": ((0xFF, 0xFF, 0xFF), 0.5),
}

# The part of a drawing that a picture shows, in the drawing's own units: left, top, width, height.
TILE_VIEW = "31 0 938 1056"
CUTS = {
    "plant-cactus": ("dept-desk", "474 60 700 700"),
    "plant-rosette": ("dept-desk", "-62 150 560 560"),
    "plant-trailing": ("dept-trailing", "0 0 1000 1000"),
}

# Cultivars: a drawing with another's wall and pot, its greens turned by so much (of a circle), with
# saturation and lightness as parts of what they were.
CULTIVARS: dict[str, tuple[str, str, str, tuple[float, float, float]]] = {
    "plant-frost": ("plant-coin", "plant-sword", "plant-splitleaf", (0.06, 0.38, 1.12)),
    "plant-ember": ("plant-feather", "plant-fern", "plant-sword", (-0.33, 0.95, 0.92)),
    "plant-gilt": ("plant-sword", "plant-coin", "plant-fern", (-0.17, 1.3, 1.18)),
    "plant-bronze": ("plant-splitleaf", "plant-feather", "plant-coin", (-0.27, 0.75, 0.9)),
}
GRADIENTS = {"wall": ("wl", "fl", "fe"), "pot": ("pg", "pi")}
QUALITY = 83

CHROMIUM_FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--default-background-color=00000000",
)


def source(name: str) -> str:
    """Return the SVG that a picture is drawn from."""
    if name in CUTS:
        drawing, view = CUTS[name]
        return seen(source(drawing), view)
    if name in CULTIVARS:
        return cultivar(*CULTIVARS[name])
    text = (ART / f"{name}.svg").read_text("utf-8")
    return seen(text, TILE_VIEW) if name.startswith("dept-") else text


def seen(drawing: str, view: str) -> str:
    """Return the drawing with another part of it in view."""
    return re.sub(r'viewBox="[^"]*"', f'viewBox="{view}"', drawing, count=1)


def cultivar(plant: str, wall: str, pot: str, leaf: tuple[float, float, float]) -> str:
    """Return a plant's drawing before another's wall, in another's pot, with leaves of another colour."""
    head, body = source(plant).split("</defs>", 1)
    for part, other in (("wall", source(wall)), ("pot", source(pot))):
        for name in GRADIENTS[part]:
            before, after = gradient(head, name), gradient(other, name)
            head = head.replace(before, after)
            if name == "fe":  # what the shadows on the wall are tinted with
                body = body.replace(tint(before), tint(after))
    return head + "</defs>" + re.sub(r'(?<=")#[0-9a-f]{3,6}(?=")', lambda found: turned(found[0], leaf), body)


def gradient(drawing: str, name: str) -> str:
    """Return one gradient of a drawing; raise ValueError where there is none."""
    found = re.search(rf'<linearGradient id="{name}".*?</linearGradient>', drawing, re.DOTALL)
    if found is None:
        raise ValueError(f"no gradient {name}")
    return found[0]


def tint(text: str) -> str:
    """Return the first colour of a gradient."""
    return text.partition('stop-color="')[2].partition('"')[0]


def turned(colour: str, leaf: tuple[float, float, float]) -> str:
    """Return a green turned to another hue, and any other colour as it is."""
    digits = colour[1:] if len(colour) == 7 else "".join(2 * one for one in colour[1:])
    red, green, blue = (int(digits[at : at + 2], 16) / 255 for at in (0, 2, 4))
    hue, lightness, saturation = colorsys.rgb_to_hls(red, green, blue)
    if not (green > max(red, blue) and 0.17 < hue < 0.47):
        return colour
    turn, much, light = leaf
    lightness = min(0.93, lightness * light)
    back = colorsys.hls_to_rgb((hue + turn) % 1, lightness, min(1, saturation * much))
    return "#" + "".join(f"{round(255 * one):02x}" for one in back)


def draw(name: str, width: int, height: int, scratch: Path) -> Image.Image:
    """Return one picture as RGBA at the given size in px."""
    page, shot, drawing = scratch / "page.html", scratch / f"{name}.png", scratch / f"{name}.svg"
    drawing.write_text(source(name), encoding="utf-8")
    page.write_text(
        "<!doctype html><style>html,body{margin:0;background:transparent}"
        f"img{{display:block;width:{width}px;height:{height}px}}</style><img src='{drawing.as_uri()}'>",
        encoding="utf-8",
    )
    browser = os.environ.get("CHROMIUM") or shutil.which("chromium") or "chromium"
    # Chromium refuses very small windows, so a small picture is cut from a larger shot.
    size = f"--window-size={max(width, 500)},{max(height, 300)}"
    command = [browser, *CHROMIUM_FLAGS, size, f"--screenshot={shot}", page.as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=90)
    with Image.open(shot) as picture:
        return picture.convert("RGBA").crop((0, 0, width, height))


def rimmed(picture: Image.Image, rim: tuple[int, int, int], strength: float = 1) -> Image.Image:
    """Give a mark a thin rim in the colour of its ground: unseen there, and its outline on a dark screen
    where a reader turns the ground and leaves pictures as they are."""
    wide = picture.getchannel("A").filter(ImageFilter.GaussianBlur(RIM_BLUR))
    under = Image.new("RGBA", picture.size, rim)
    under.putalpha(wide.point([round(min(255, 5 * value) * strength) for value in range(256)]))
    under.alpha_composite(picture)
    return under


def save_palette(picture: Image.Image, target: Path) -> None:
    """Write an 8-bit PNG with alpha."""
    picture.save(target)
    command = ["pngquant", "--force", "--strip", "--speed", "1", "--output"]
    subprocess.run([*command, str(target), "256", str(target)], check=True)


def save_photo(picture: Image.Image, target: Path) -> None:
    """Write a JPEG; colour keeps half its resolution across, for leaves have fine edges on strong grounds."""
    picture.convert("RGB").save(target, quality=QUALITY, subsampling="4:2:2", optimize=True, progressive=True)


def main() -> int:
    """Draw every picture, or only those named on the command line."""
    wanted = set(sys.argv[1:])
    PICTURES.mkdir(exist_ok=True)
    small = {f"logo-{tone}": LOGO_SIZE for tone in ("light", "dark")}
    small |= {path.stem: (ICON_SIDE, ICON_SIDE) for path in sorted(ART.glob("icon-*.svg"))}
    small |= dict.fromkeys(MARKS, (MARK_SIDE, MARK_SIDE))
    plants = [*(path.stem for path in sorted(ART.glob("plant-*.svg"))), *CUTS, *CULTIVARS]
    photos = dict.fromkeys(plants, (PLANT_SIDE, PLANT_SIDE))
    photos["plant-splitleaf"] = (HERO_SIDE, HERO_SIDE)
    photos |= {path.stem: TILE_SIZE for path in sorted(ART.glob("dept-*.svg"))}
    with tempfile.TemporaryDirectory() as folder:
        scratch = Path(folder)
        for name, (width, height) in {**small, **photos}.items():
            if wanted and name not in wanted:
                continue
            picture = draw(name, width, height, scratch)
            if name in RIMS:
                picture = rimmed(picture, *RIMS[name])
            if name in small:
                save_palette(picture, PICTURES / f"{name}.png")
            else:
                save_photo(picture, PICTURES / f"{name}.jpg")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
