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

from PIL import Image, ImageChops, ImageFilter

Colour = tuple[int, int, int]

ART = Path(__file__).resolve().parent
PICTURES = ART.parent / "pictures"

PRODUCTS = (
    "kettle",
    "stove",
    "billy",
    "skillet",
    "copper-kettle",
    "pots",
    "wind-shield",
    "mugs",
    "coffee-pot",
    "flask",
    "casserole",
    "ladle",
    "bowls",
    "mill",
)
PRODUCT_SIDE = 1040  # px: shown at up to 520
LOGO_SIZE = (286, 72)  # px: shown 36 high
ICON_SIDE = 72  # px: shown 36 x 36

# Rims: the ground that a mark is made for; `logo-dark` is dark, and made for light ones.
RIM_BLUR = 2  # px
RIMS: dict[str, Colour] = {
    "logo-dark": (0xFB, 0xF1, 0xE0),
    "logo-light": (0x14, 0x1C, 0x2B),
    "icon": (0x1A, 0x23, 0x35),
}

# Scene: size in px, the colour its top must keep, for how many rows, and the colour of its last row.
# The mail goes on in those colours above and below the picture.
SCENES: dict[str, tuple[tuple[int, int], Colour, int, Colour]] = {
    "hero": ((1200, 1500), (0x12, 0x1B, 0x2E), 0, (0x14, 0x1C, 0x2B)),
    "sunrise": ((1200, 900), (0xFB, 0xF1, 0xE0), 1, (0x1A, 0x23, 0x35)),
    "sunrise-dark": ((1200, 900), (0x3B, 0x2F, 0x3D), 1, (0x0F, 0x16, 0x26)),
}

# Rows left out at the top: what comes from a photographer is rarely as tall as the words over it need, so the
# mail has handbill grow it (`extend`) into the night.
CUT = {"hero": 260}

# Shots as four workshops send them: drawing, size of the shot in px, its backdrop, how wide the drawing is in
# it and where its middle stands (shares of the shot). The cut-outs above are the fifth kind.
SHOTS: dict[str, tuple[tuple[int, int], str, float, tuple[float, float]]] = {
    "coffee-pot": ((1400, 1400), "#ffffff", 0.58, (0.42, 0.56)),
    "flask": ((1000, 1500), "#e4e6e9", 0.9, (0.55, 0.48)),
    "mill": ((1500, 1000), "#f3ead8", 0.5, (0.64, 0.5)),
}
SHOT_QUALITY = 90

# The usual JPEG colour space (8-bit YCbCr) has no value for #121b2e or #fbf1e0: both decode one step
# off. The scenes are stored as RGB JPEG with every channel at full resolution, and so keep their edges.
QUALITY = {"hero": 84, "sunrise": 86, "sunrise-dark": 86}

SHADOW: Colour = (0x04, 0x06, 0x0B)
EDGE = 56  # px over which a shadow fades before the side of the picture
SHADOW_STEP = 6  # steps of alpha kept in a shadow, of 255: about 40 of the 256 palette entries

# Colours and dithering strength for pngquant. Iron grain and brushed steel hide a coarser palette, and
# would otherwise weigh over 150 KB.
PALETTE = {"skillet": (160, 0.3), "wind-shield": (200, 0.5)}
FULL_PALETTE = (256, 1.0)

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


def noise(size: tuple[int, int], levels: int) -> Image.Image:
    """Return even noise from 0 to levels - 1, the same on each run.

    The formula is Jimenez' interleaved gradient noise (SIGGRAPH 2014 course "Next Generation Post
    Processing in Call of Duty: Advanced Warfare"; from memory).
    """
    width, height = size
    values = bytearray(width * height)
    for y in range(height):
        for x in range(width):
            turn = (52.9829189 * ((0.06711056 * x + 0.00583715 * y) % 1.0)) % 1.0
            values[y * width + x] = int(turn * levels)
    return Image.frombytes("L", size, bytes(values))


def fade(size: tuple[int, int]) -> Image.Image:
    """Return a mask that falls to 0 over the last EDGE px before each side."""
    mask = Image.new("L", size, 0)
    width, height = size
    for step in range(EDGE):
        level = 255 * (step + 1) // EDGE
        mask.paste(level, (step, step, width - step, height - step))
    return mask


def with_grained_shadow(picture: Image.Image, grain: Image.Image, edges: Image.Image) -> Image.Image:
    """Dither the alpha of the ground shadow before the palette is chosen, and end it inside the picture.

    pngquant does not dither faint alpha, so a soft shadow would end in visible rings. A shadow that
    runs on to the picture's edge would draw a line on the row's ground.
    """
    red, green, blue, alpha = picture.split()
    brightest = ImageChops.lighter(ImageChops.lighter(red, green), blue)
    dark = brightest.point([255 if value < 30 else 0 for value in range(256)])
    sheer = alpha.point([255 if value < 240 else 0 for value in range(256)])
    shadow = ImageChops.multiply(dark, sheer)
    steps = [value // SHADOW_STEP * SHADOW_STEP for value in range(256)]
    stepped = ImageChops.add(ImageChops.multiply(alpha, edges), grain).point(steps)
    flat = Image.merge("RGBA", (*Image.new("RGB", picture.size, SHADOW).split(), stepped))
    result = Image.composite(flat, picture, shadow)
    seen = result.getchannel("A").point([0] + [255] * 255)
    return Image.composite(result, Image.new("RGBA", picture.size, (0, 0, 0, 0)), seen)


def rimmed(picture: Image.Image, rim: Colour) -> Image.Image:
    """Give a mark a thin rim in the colour of its ground: unseen there, and its outline on a dark screen
    where a reader turns the ground and leaves pictures as they are."""
    wide = picture.getchannel("A").filter(ImageFilter.GaussianBlur(RIM_BLUR))
    under = Image.new("RGBA", picture.size, rim)
    under.putalpha(wide.point([min(255, 5 * value) for value in range(256)]))
    under.alpha_composite(picture)
    return under


def save_palette(picture: Image.Image, target: Path) -> None:
    """Write an 8-bit PNG with alpha, dithered so that broad shades do not band."""
    colours, dither = PALETTE.get(target.stem, FULL_PALETTE)
    picture.save(target)
    command = ["pngquant", "--force", "--strip", "--speed", "1", f"--floyd={dither}", "--output"]
    subprocess.run([*command, str(target), str(colours), str(target)], check=True)


def save_shot(picture: Image.Image, target: Path) -> None:
    """Write a drawing as a workshop's photograph on its own backdrop."""
    (width, height), backdrop, share, (x, y) = SHOTS[target.stem]
    side = round(width * share)
    shot = Image.new("RGBA", (width, height), backdrop)
    small = picture.resize((side, side), Image.Resampling.LANCZOS)
    shot.alpha_composite(small, (round(width * x - side / 2), round(height * y - side / 2)))
    shot.convert("RGB").save(target, quality=SHOT_QUALITY, subsampling=0, optimize=True)


def save_scene(picture: Image.Image, target: Path, top: Colour, rows: int, bottom: Colour) -> None:
    """Write a JPEG; raise ValueError when its decoded edges miss their colours by even one step."""
    picture.convert("RGB").save(
        target,
        quality=QUALITY[target.stem],
        keep_rgb=True,
        subsampling=0,
        optimize=True,
        progressive=True,
    )
    with Image.open(target) as decoded:
        plain = decoded.convert("RGB")
    width, height = plain.size
    for first, last, colour in ((0, rows, top), (height - 1, height, bottom)):
        if first == last:
            continue
        found = plain.crop((0, first, width, last)).getcolors(width * height) or []
        if [value for _, value in found] != [colour]:
            raise ValueError(f"{target.name}: rows {first} to {last} hold {found[:4]}, not {colour}")


def main() -> int:
    """Draw every picture, or only those named on the command line."""
    wanted = set(sys.argv[1:])
    PICTURES.mkdir(exist_ok=True)
    grain = noise((PRODUCT_SIDE, PRODUCT_SIDE), SHADOW_STEP)
    edges = fade((PRODUCT_SIDE, PRODUCT_SIDE))
    with tempfile.TemporaryDirectory() as folder:
        scratch = Path(folder)
        small = [(f"logo-{tone}", *LOGO_SIZE) for tone in ("light", "dark")]
        small += [(path.stem, ICON_SIDE, ICON_SIDE) for path in sorted(ART.glob("icon-*.svg"))]
        for name, width, height in small:
            if not wanted or name in wanted:
                mark = rimmed(draw(name, width, height, scratch), RIMS[name if name in RIMS else "icon"])
                save_palette(mark, PICTURES / f"{name}.png")
        for name in PRODUCTS:
            if not wanted or name in wanted:
                picture = with_grained_shadow(draw(name, PRODUCT_SIDE, PRODUCT_SIDE, scratch), grain, edges)
                if name in SHOTS:
                    save_shot(picture, PICTURES / f"{name}.jpg")
                else:
                    save_palette(picture, PICTURES / f"{name}.png")
        for name, (size, top, rows, bottom) in SCENES.items():
            if not wanted or name in wanted:
                scene = draw(name, *size, scratch).crop((0, CUT.get(name, 0), *size))
                save_scene(scene, PICTURES / f"{name}.jpg", top, rows, bottom)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
