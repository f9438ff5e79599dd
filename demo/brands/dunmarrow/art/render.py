"""Draw the shop's pictures from its SVGs.

Enters: art/*.svg. Leaves: pictures/*.png and *.jpg, at twice the size the mail shows them.
Needs Chromium (CHROMIUM names it; librsvg drops parts of these drawings), pngquant 2.17 and Pillow.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from PIL import Image, ImageFilter

Colour = tuple[int, int, int]

ART = Path(__file__).resolve().parent
PICTURES = ART.parent / "pictures"

LAMP_SIDE = 800  # px: shown at up to 400 on a phone, edge to edge
LOGO_SIZE = (528, 162)  # px: shown 264 wide
ICON_SIDE = 96  # px: shown 44 x 44

# Rims: the ground that a mark is made for.
RIM_BLUR = 2  # px
RIMS: dict[str, Colour] = {
    "logo-light": (0xFF, 0xC4, 0x6B),
    "logo-dark": (0x29, 0x0D, 0x14),
    "icon": (0x18, 0x07, 0x0B),
}

# The house's night. The first picture keeps it on every edge, so that it has no border in the mail.
NIGHT: Colour = (0x29, 0x0D, 0x14)
FADE = 96  # px over which that picture's glow ends before its sides
RIM = 16  # px at its sides that hold nothing else: one block of the JPEG
SCENES: dict[str, tuple[int, int]] = {"hero": (1200, 1400), "cause": (1200, 800)}
BORDERLESS = ("hero",)
QUALITY = {"hero": 84, "cause": 84, "lamp": 84}

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


def draw(name: str, width: int, height: int, scratch: Path) -> Image.Image:
    """Return one SVG as RGBA at the given size in px."""
    page, shot = scratch / "page.html", scratch / f"{name}.png"
    source = (ART / f"{name}.svg").as_uri()
    page.write_text(
        "<!doctype html><style>html,body{margin:0;background:transparent}"
        f"img{{display:block;width:{width}px;height:{height}px}}</style><img src='{source}'>",
        encoding="utf-8",
    )
    browser = os.environ.get("CHROMIUM") or shutil.which("chromium") or "chromium"
    # Chromium refuses very small windows, so a small picture is cut from a larger shot.
    size = f"--window-size={max(width, 500)},{max(height, 300)}"
    command = [browser, *CHROMIUM_FLAGS, size, f"--screenshot={shot}", page.as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=90)
    with Image.open(shot) as picture:
        return picture.convert("RGBA").crop((0, 0, width, height))


def rimmed(picture: Image.Image, rim: Colour) -> Image.Image:
    """Give a mark a thin rim in the colour of its ground: unseen there, and its outline on a dark screen
    where a reader turns the ground and leaves pictures as they are."""
    wide = picture.getchannel("A").filter(ImageFilter.GaussianBlur(RIM_BLUR))
    under = Image.new("RGBA", picture.size, rim)
    under.putalpha(wide.point([min(255, 5 * value) for value in range(256)]))
    under.alpha_composite(picture)
    return under


def save_palette(picture: Image.Image, target: Path) -> None:
    """Write an 8-bit PNG with alpha."""
    picture.save(target)
    command = ["pngquant", "--force", "--strip", "--speed", "1", "--output"]
    subprocess.run([*command, str(target), "256", str(target)], check=True)


def save_photo(picture: Image.Image, target: Path) -> None:
    """Write a JPEG, as RGB with all its colour: in 8-bit YCbCr the house's night comes out a step off."""
    picture.convert("RGB").save(
        target,
        quality=QUALITY[target.stem.partition("-")[0]],
        keep_rgb=True,
        subsampling=0,
        optimize=True,
        progressive=True,
    )


def into_night(picture: Image.Image) -> Image.Image:
    """Let the picture's left and right side run out into the night."""
    width, height = picture.size
    row = Image.new("L", (width, 1), 255)
    for x in range(FADE):
        level = round(255 * max(0, x - RIM) / (FADE - RIM))
        row.putpixel((x, 0), level)
        row.putpixel((width - 1 - x, 0), level)
    mask = row.resize((width, height))
    return Image.composite(picture.convert("RGB"), Image.new("RGB", picture.size, NIGHT), mask)


def check_edges(target: Path) -> None:
    """Raise ValueError when a decoded edge misses the night's colour by even one step."""
    with Image.open(target) as decoded:
        plain = decoded.convert("RGB")
    width, height = plain.size
    right, last = width - 1, height - 1
    for box in ((0, 0, width, 1), (0, last, width, height), (0, 0, 1, height), (right, 0, width, height)):
        found = plain.crop(box).getcolors(width * height) or []
        if [value for _, value in found] != [NIGHT]:
            raise ValueError(f"{target.name}: {box} holds {found[:4]}, not {NIGHT}")


def main() -> int:
    """Draw every picture, or only those named on the command line."""
    wanted = set(sys.argv[1:])
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        scratch = Path(folder)
        small = [(f"logo-{tone}", *LOGO_SIZE) for tone in ("light", "dark")]
        small += [(path.stem, ICON_SIDE, ICON_SIDE) for path in sorted(ART.glob("icon-*.svg"))]
        for name, width, height in small:
            if not wanted or name in wanted:
                mark = rimmed(draw(name, width, height, scratch), RIMS[name if name in RIMS else "icon"])
                save_palette(mark, PICTURES / f"{name}.png")
        lamps = {path.stem: (LAMP_SIDE, LAMP_SIDE) for path in sorted(ART.glob("lamp-*.svg"))}
        for name, (width, height) in {**lamps, **SCENES}.items():
            if not wanted or name in wanted:
                target = PICTURES / f"{name}.jpg"
                picture = draw(name, width, height, scratch)
                save_photo(into_night(picture) if name in BORDERLESS else picture, target)
                if name in BORDERLESS:
                    check_edges(target)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
