"""Draw the sample shop's pictures: turned shapes from profiles, lit from the left, rendered by a browser.

Leaves: ../pictures/*.jpg and *.png, at twice the size mails show them. Needs Chromium (CHROMIUM names it),
pngquant and Pillow. The same run gives the same drawing.
"""

# ruff: noqa: E501  (paths of drawings)

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from PIL import Image

PICTURES = Path(__file__).resolve().parent.parent / "pictures"
FLAGS = (
    "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
    "--default-background-color=00000000",
)  # fmt: skip

Profile = Sequence[tuple[float, float]]  # (height, radius) from the rim down, px


def mix(one: str, other: str, share: float) -> str:
    """`share` (0 to 1) of the colour `other` in `one`."""
    pairs = zip(bytes.fromhex(one[1:]), bytes.fromhex(other[1:]), strict=True)
    return "#" + bytes(round(a + (b - a) * share) for a, b in pairs).hex()


def outline(points: Sequence[tuple[float, float]]) -> str:
    """A smooth curve through points (Catmull-Rom as cubic Béziers)."""
    path = f"M{points[0][0]:.1f} {points[0][1]:.1f}"
    for at in range(len(points) - 1):
        before, start, end, after = (
            points[max(at - 1, 0)], points[at], points[at + 1], points[min(at + 2, len(points) - 1)],
        )  # fmt: skip
        one = (start[0] + (end[0] - before[0]) / 6, start[1] + (end[1] - before[1]) / 6)
        two = (end[0] - (after[0] - start[0]) / 6, end[1] - (after[1] - start[1]) / 6)
        path += f"C{one[0]:.1f} {one[1]:.1f} {two[0]:.1f} {two[1]:.1f} {end[0]:.1f} {end[1]:.1f}"
    return path


class Drawing:
    """Collects definitions and shapes of one picture."""

    def __init__(self, width: int, height: int) -> None:
        self.size = (width, height)
        self.defs = [
            f'<filter id="blur{size}" x="-60%" y="-60%" width="220%" height="220%">'
            f'<feGaussianBlur stdDeviation="{size}"/></filter>'
            for size in (3, 8, 18, 40)
        ]
        self.shapes: list[str] = []
        self.count = 0

    def name(self) -> str:
        self.count += 1
        return f"n{self.count}"

    def gradient(self, stops: Sequence[tuple[float, str, float]], way: str = "0 0 1 0") -> str:
        """A linear gradient across the shape it fills; stops are (place, colour, opacity)."""
        name, ends = self.name(), way.split()
        inner = "".join(
            f'<stop offset="{at}" stop-color="{colour}" stop-opacity="{seen}"/>' for at, colour, seen in stops
        )
        corners = " ".join(
            f'{key}="{value}"' for key, value in zip(("x1", "y1", "x2", "y2"), ends, strict=True)
        )
        self.defs.append(f'<linearGradient id="{name}" {corners}>{inner}</linearGradient>')
        return f"url(#{name})"

    def add(self, shape: str) -> None:
        self.shapes.append(shape)

    def turned(
        self, x: float, y: float, profile: Profile, colour: str, *, foot: str | None = None,
        speckled: bool = False, gloss: float = 0.5, inside: str | None = None, flat: float = 0.16,
    ) -> None:  # fmt: skip
        """A shape off the wheel: `x` its middle, `y` the height its foot stands at."""
        bottom = profile[-1][0]
        left = [(x - radius, y - bottom + height) for height, radius in profile]
        right = [(x + radius, y - bottom + height) for height, radius in reversed(profile)]
        base = profile[-1][1]
        path = (
            outline(left) + f"A{base:.1f} {base * flat:.1f} 0 0 0 {x + base:.1f} {y:.1f}"
            + "L" + outline(right)[1:] + "Z"
        )  # fmt: skip
        clip = self.name()
        self.defs.append(f'<clipPath id="{clip}"><path d="{path}"/></clipPath>')
        dark, light = mix(colour, "#1d1712", 0.5), mix(colour, "#ffffff", 0.38)
        round_ = self.gradient([
            (0, mix(colour, "#1d1712", 0.16), 1), (0.16, colour, 1), (0.3, light, 1), (0.46, colour, 1),
            (0.84, dark, 1), (1, mix(colour, "#1d1712", 0.36), 1),
        ])  # fmt: skip
        self.add(f'<path d="{path}" fill="{round_}"/>')
        widest = max(radius for _height, radius in profile)
        top = y - bottom
        self.add(f'<g clip-path="url(#{clip})">')
        if foot:
            tall = bottom * 0.24
            bare = self.gradient([
                (0, mix(foot, "#1d1712", 0.12), 1), (0.3, mix(foot, "#ffffff", 0.2), 1), (0.5, foot, 1),
                (0.86, mix(foot, "#1d1712", 0.5), 1), (1, mix(foot, "#1d1712", 0.34), 1),
            ])  # fmt: skip
            edge = y - tall
            self.add(
                f'<path d="M{x - widest:.1f} {edge:.1f}A{widest:.1f} {widest * 0.1:.1f} 0 0 0 {x + widest:.1f} {edge:.1f}'
                f'L{x + widest:.1f} {y + 60:.1f}L{x - widest:.1f} {y + 60:.1f}Z" fill="{bare}"/>'
            )
        if speckled:
            chance = random.Random(f"{x} {y} {colour}")
            for _ in range(int(widest * 1.5)):
                across, down = chance.uniform(-widest, widest), chance.uniform(0, bottom)
                size = chance.choice((0.7, 0.9, 1.2, 1.7))
                self.add(
                    f'<circle cx="{x + across:.1f}" cy="{top + down:.1f}" r="{size}" fill="#33261b" '
                    f'opacity="{chance.uniform(0.15, 0.5):.2f}"/>'
                )
        shade = self.gradient([(0, "#140e09", 0), (0.6, "#140e09", 0), (1, "#140e09", 0.3)], "0 0 0 1")
        self.add(
            f'<rect x="{x - widest}" y="{top}" width="{2 * widest}" height="{bottom + 40}" fill="{shade}"/>'
        )
        self.add(
            f'<ellipse cx="{x - widest * 0.42:.1f}" cy="{top + bottom * 0.5:.1f}" rx="{widest * 0.09:.1f}" '
            f'ry="{bottom * 0.26:.1f}" fill="#fff" opacity="{gloss}" filter="url(#blur8)"/></g>'
        )
        mouth = profile[0][1]
        hollow = self.gradient([
            (0, mix(inside or colour, "#120d09", 0.7), 1), (0.55, mix(inside or colour, "#120d09", 0.42), 1),
            (1, mix(inside or colour, "#ffffff", 0.05), 1),
        ])  # fmt: skip
        self.add(
            f'<ellipse cx="{x}" cy="{top}" rx="{mouth}" ry="{mouth * flat:.1f}" fill="{hollow}" '
            f'stroke="{mix(colour, "#ffffff", 0.3)}" stroke-width="3.4"/>'
        )

    def shadow(self, x: float, y: float, radius: float, long: float = 1.0, depth: float = 0.42) -> None:
        """What an object on a table keeps from the light: close below it, and long to the right."""
        self.add(
            f'<ellipse cx="{x + radius * 0.9 * long:.1f}" cy="{y + 4:.1f}" rx="{radius * (1 + 0.8 * long):.1f}" '
            f'ry="{radius * 0.2:.1f}" fill="#2a1d12" opacity="{depth * 0.75}" filter="url(#blur18)"/>'
            f'<ellipse cx="{x + radius * 0.12:.1f}" cy="{y + 3:.1f}" rx="{radius * 1.04:.1f}" '
            f'ry="{radius * 0.15:.1f}" fill="#20150c" opacity="{depth}" filter="url(#blur8)"/>'
        )

    def handle(self, points: Sequence[tuple[float, float]], colour: str, width: float) -> None:
        path = outline(points)
        for tone, share, dx, soft in (
            (mix(colour, "#1d1712", 0.4), 1.0, 0, ""), (mix(colour, "#1d1712", 0.08), 0.5, -3, "blur3"),
            (mix(colour, "#ffffff", 0.3), 0.14, -5, "blur3"),
        ):  # fmt: skip
            self.add(
                f'<path d="{path}" transform="translate({dx} {dx / 2})" fill="none" stroke="{tone}" '
                f'stroke-width="{width * share:.1f}" stroke-linecap="round"'
                + (f' filter="url(#{soft})"/>' if soft else "/>")
            )

    def pear(self, x: float, y: float, size: float, colour: str, lean: float = 0) -> None:
        """A pear whose foot stands at `y`, `size` px wide."""
        half = size / 2
        side = [
            (0, -2.5),
            (0.26, -2.42),
            (0.36, -2.0),
            (0.5, -1.55),
            (0.86, -1.0),
            (1, -0.55),
            (0.8, -0.12),
            (0.3, 0),
        ]
        points = [(half * a, half * b) for a, b in side]
        ring = points + [(-a, b) for a, b in reversed(points)]
        glow = self.name()
        self.defs.append(
            f'<radialGradient id="{glow}" cx=".34" cy=".58" r=".72"><stop offset="0" '
            f'stop-color="{mix(colour, "#ffffff", 0.42)}"/><stop offset=".4" stop-color="{colour}"/>'
            f'<stop offset="1" stop-color="{mix(colour, "#3a2412", 0.66)}"/></radialGradient>'
        )
        chance = random.Random(f"{x} {y}")
        dots = "".join(
            f'<circle cx="{chance.gauss(half * 0.3, half * 0.35):.1f}" cy="{chance.gauss(-half * 0.7, half * 0.3):.1f}" '
            f'r="{chance.uniform(0.6, 1.5):.1f}" fill="#7a4a1e" opacity=".45"/>' for _ in range(46)
        )  # fmt: skip
        clip = self.name()
        body = outline([*ring, ring[0]])
        self.defs.append(f'<clipPath id="{clip}"><path d="{body}"/></clipPath>')
        self.add(
            f'<g transform="translate({x} {y}) rotate({lean} 0 {-half})">'
            f'<path d="M0 {-half * 2.45:.1f}C{half * 0.06:.1f} {-half * 2.8:.1f} {half * 0.16:.1f} {-half * 2.95:.1f} '
            f'{half * 0.3:.1f} {-half * 3.05:.1f}" fill="none" stroke="#4a3320" stroke-width="{size * 0.045:.1f}" '
            f'stroke-linecap="round"/><path d="{body}" fill="url(#{glow})"/>'
            f'<g clip-path="url(#{clip})"><ellipse cx="{half * 0.75:.1f}" cy="{-half * 0.7:.1f}" rx="{half * 0.5:.1f}" '
            f'ry="{half:.1f}" fill="#a5522a" opacity=".3" filter="url(#blur18)"/>{dots}</g></g>'
        )

    def svg(self) -> str:
        width, height = self.size
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
            f'viewBox="0 0 {width} {height}"><defs>{"".join(self.defs)}</defs>{"".join(self.shapes)}</svg>'
        )


JUG: Profile = [(0, 58), (18, 51), (58, 53), (118, 80), (186, 110), (246, 116), (300, 106), (330, 90), (340, 80)]  # fmt: skip
BOWL: Profile = [(0, 150), (36, 142), (80, 118), (118, 76), (132, 60)]  # fmt: skip
BOTTLE: Profile = [(0, 22), (14, 22), (22, 18), (90, 19), (150, 27), (205, 62), (250, 80), (380, 82), (412, 70)]  # fmt: skip
CUP: Profile = [(0, 74), (24, 72), (90, 66), (126, 56), (138, 46)]  # fmt: skip
STICK: Profile = [(0, 30), (14, 32), (24, 16), (90, 13), (122, 24), (140, 14), (176, 20), (204, 70), (216, 78)]  # fmt: skip
CREAM, DEEP, SAGE, CLAY, OAK, INK = "#e9dfd0", "#3d5a60", "#8a9a88", "#b8694a", "#b98a5c", "#38404a"
BARE = "#c39a75"


def jug(made: Drawing, x: float, y: float, scale: float = 1) -> None:
    profile = [(a * scale, b * scale) for a, b in JUG]
    s = scale
    made.handle(
        [(x + 50 * s, y - 318 * s), (x + 112 * s, y - 322 * s), (x + 158 * s, y - 262 * s),
         (x + 140 * s, y - 180 * s), (x + 96 * s, y - 148 * s)], CREAM, 26 * s,
    )  # fmt: skip
    made.turned(x, y, profile, CREAM, foot=BARE, speckled=True)


def bowl(made: Drawing, x: float, y: float, scale: float = 1, colour: str = DEEP) -> None:
    made.turned(
        x,
        y,
        [(a * scale, b * scale) for a, b in BOWL],
        colour,
        gloss=0.34,
        inside=mix(colour, "#ffffff", 0.2),
    )


def bottle(made: Drawing, x: float, y: float, scale: float = 1) -> None:
    made.turned(x, y, [(a * scale, b * scale) for a, b in BOTTLE], SAGE, gloss=0.42, speckled=True)


def cup(made: Drawing, x: float, y: float, scale: float = 1) -> None:
    made.turned(x, y, [(a * scale, b * scale) for a, b in CUP], CLAY, foot=BARE, gloss=0.26, inside="#e8d9c4")


def board(made: Drawing, x: float, y: float, scale: float = 1) -> None:
    """A board of oak that leans; `y` is its lower edge."""
    wide, tall = 230 * scale, 370 * scale
    left, top = x - wide / 2, y - tall
    clip = made.name()
    shape = f'x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{tall:.1f}" rx="{34 * scale:.1f}"'
    made.defs.append(f'<clipPath id="{clip}"><rect {shape}/></clipPath>')
    wood = made.gradient(
        [(0, mix(OAK, "#ffffff", 0.22), 1), (0.5, OAK, 1), (1, mix(OAK, "#3a2412", 0.34), 1)], "0 0 1 .3"
    )
    edge = f'x="{left + 9 * scale:.1f}" y="{top + 3 * scale:.1f}" width="{wide:.1f}" height="{tall:.1f}" rx="{34 * scale:.1f}"'
    made.add(
        f'<g transform="rotate(5 {x} {y})"><rect {edge} fill="{mix(OAK, "#3a2412", 0.6)}"/><rect {shape} fill="{wood}"/>'
    )
    made.add(f'<g clip-path="url(#{clip})" fill="none" stroke="#6b4526" opacity=".34">')
    chance = random.Random("grain")
    for step in range(17):
        at = left + wide * (step + chance.uniform(0.1, 0.8)) / 17
        bend = [(at + chance.gauss(0, 5 * scale), top + tall * part / 6) for part in range(-1, 8)]
        made.add(f'<path d="{outline(bend)}" stroke-width="{chance.uniform(0.8, 2.4):.1f}"/>')
    hole = 15 * scale
    made.add(
        f'</g><circle cx="{x}" cy="{top + 46 * scale:.1f}" r="{hole:.1f}" fill="#2b1c10"/>'
        f'<circle cx="{x + 2}" cy="{top + 48 * scale:.1f}" r="{hole * 0.8:.1f}" fill="#3d2917"/></g>'
    )


def stick(made: Drawing, x: float, y: float, scale: float = 1) -> None:
    tall = 170 * scale
    top = y - 216 * scale - tall
    wax = made.gradient([(0, "#e6dac2", 1), (0.3, "#fffaf0", 1), (0.6, "#f0e5cf", 1), (1, "#b9a98c", 1)])
    made.turned(x, y, [(a * scale, b * scale) for a, b in STICK], INK, gloss=0.3, flat=0.2)
    half = 15 * scale
    made.add(
        f'<path d="M{x - half:.1f} {top:.1f}h{2 * half:.1f}v{tall + 2:.1f}a{half:.1f} {half * 0.24:.1f} 0 0 1 {-2 * half:.1f} 0z" fill="{wax}"/>'
        f'<ellipse cx="{x}" cy="{top:.1f}" rx="{half:.1f}" ry="{half * 0.24:.1f}" fill="#fffaf0"/>'
        f'<path d="M{x} {top:.1f}c1-8 3-12 2-18" stroke="#4a3320" stroke-width="2.6" fill="none"/>'
    )


def room(made: Drawing, horizon: float) -> None:
    """A plastered wall in window light above a wooden table."""
    width, height = made.size
    wall = made.gradient([(0, "#e8ddcc", 1), (0.5, "#dacbb6", 1), (1, "#bba68d", 1)], "0 0 1 .25")
    made.add(f'<rect width="{width}" height="{height}" fill="{wall}"/>')
    panes = ((0.05, 0.3), (0.34, 0.55))
    for first, last in panes:
        a, b, lean = width * first, width * last, horizon * 0.3
        for upper, lower in ((-0.1, 0.34), (0.38, 0.86)):
            p, q = horizon * upper, horizon * lower
            made.add(
                f'<path d="M{a + lean * upper:.0f} {p:.0f}L{b + lean * upper:.0f} {p + 40:.0f}L{b + lean * lower:.0f} {q + 40:.0f}'
                f'L{a + lean * lower:.0f} {q:.0f}Z" fill="#fff6e2" opacity=".5" filter="url(#blur8)"/>'
            )
    top = made.gradient([(0, "#c9ab86", 1), (0.4, "#b8966e", 1), (1, "#8a6a4a", 1)], "0 0 1 .4")
    made.add(f'<rect y="{horizon:.0f}" width="{width}" height="{height - horizon:.0f}" fill="{top}"/>')
    made.add(f'<rect y="{horizon:.0f}" width="{width}" height="7" fill="#f2dcb8" opacity=".55"/>')
    chance = random.Random("table")
    for _ in range(26):
        level = horizon + 14 + chance.random() * (height - horizon)
        bend = [(width * part / 5, level + chance.gauss(0, 3)) for part in range(-1, 7)]
        made.add(
            f'<path d="{outline(bend)}" fill="none" stroke="#5d4026" stroke-width="{chance.uniform(0.6, 1.8):.1f}" '
            f'opacity="{chance.uniform(0.08, 0.26):.2f}"/>'
        )
    fall = made.gradient([(0, "#fff2d8", 0.5), (0.55, "#fff2d8", 0), (1, "#20150c", 0.24)], "0 0 1 .2")
    made.add(f'<rect y="{horizon:.0f}" width="{width}" height="{height - horizon:.0f}" fill="{fall}"/>')


def wide() -> Drawing:
    made = Drawing(1200, 800)
    room(made, 520)
    for x, y, radius, long in ((735, 606, 110, 1.1), (950, 646, 128, 1.0), (590, 612, 82, 1.2)):
        made.shadow(x, y, radius, long * 1.25, 0.66)
    bottle(made, 590, 608)
    jug(made, 735, 606, 1.06)
    made.pear(900, 560, 84, "#c6a04a", -8)
    made.pear(985, 566, 88, "#b99a3e", 9)
    bowl(made, 945, 646, 0.98)
    made.shadow(455, 664, 44, 1.5, 0.62)
    made.pear(455, 668, 92, "#c9a64e", -4)
    return made


def tall() -> Drawing:
    made = Drawing(960, 1200)
    room(made, 860)
    made.shadow(480, 1002, 130, 1.3, 0.66)
    stems = (
        [(470, 650), (440, 480), (380, 300), (330, 190)], [(486, 650), (520, 440), (600, 280), (640, 150)],
        [(478, 650), (486, 470), (470, 300), (490, 110)],
    )  # fmt: skip
    chance = random.Random("leaves")
    for bend in stems:
        made.add(
            f'<path d="{outline(bend)}" fill="none" stroke="#5c6147" stroke-width="5" stroke-linecap="round"/>'
        )
        for number, (x, y) in enumerate(_along(bend, 11)):
            turn = chance.uniform(20, 62) * (1 if number % 2 else -1)
            size = chance.uniform(34, 54)
            green = mix("#7c8a62", "#4d5a41" if number % 2 else "#b9bf95", chance.uniform(0.1, 0.7))
            made.add(
                f'<path transform="translate({x:.0f} {y:.0f}) rotate({turn:.0f})" d="M0 0C{size * 0.5:.0f} {-size * 0.4:.0f} '
                f"{size * 0.36:.0f} {-size * 1.1:.0f} 0 {-size * 1.5:.0f}C{-size * 0.36:.0f} {-size * 1.1:.0f} "
                f'{-size * 0.5:.0f} {-size * 0.4:.0f} 0 0Z" fill="{green}"/>'
            )
    jug(made, 480, 1000, 1.2)
    return made


def _along(bend: Sequence[tuple[float, float]], count: int) -> list[tuple[float, float]]:
    """Points on straight pieces between `bend`'s, the first fifth left bare."""
    found = []
    for step in range(count):
        share = (0.25 + 0.75 * step / (count - 1)) * (len(bend) - 1)
        at = min(int(share), len(bend) - 2)
        part = share - at
        (a, b), (c, d) = bend[at], bend[at + 1]
        found.append((a + (c - a) * part, b + (d - b) * part))
    return found


# What is drawn: its middle, the height it stands at, its scale and the radius of its shadow (px of 640).
PRODUCTS = {
    "sample-jug": (jug, 300, 540, 1.22, 96),
    "sample-bowl": (bowl, 320, 470, 1.55, 120),
    "sample-bottle": (bottle, 320, 566, 1.2, 92),
    "sample-cup": (cup, 320, 470, 1.9, 96),
    "sample-board": (board, 318, 562, 1.28, 140),
    "sample-stick": (stick, 320, 562, 1.24, 92),
}


def shot(svg: str, width: int, height: int, scratch: Path) -> Image.Image:
    """The SVG as RGBA px."""
    page, picture = scratch / "page.html", scratch / "shot.png"
    page.write_text(f"<!doctype html><style>html,body{{margin:0}}svg{{display:block}}</style>{svg}", "utf-8")
    browser = os.environ.get("CHROMIUM") or shutil.which("chromium") or "chromium"
    size = f"--window-size={max(width, 500)},{max(height, 300)}"  # smaller windows are refused
    command = [browser, *FLAGS, size, f"--screenshot={picture}", page.as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=90)
    with Image.open(picture) as opened:
        return opened.convert("RGBA").crop((0, 0, width, height))


def main() -> int:
    """Draw every picture."""
    PICTURES.mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        scratch = Path(folder)
        for name, scene in (("sample-wide", wide()), ("sample-tall", tall())):
            made = shot(scene.svg(), *scene.size, scratch).convert("RGB")
            made.save(PICTURES / f"{name}.jpg", quality=80, optimize=True, progressive=True)
        for name, (draw, x, y, scale, shadow) in PRODUCTS.items():
            drawing = Drawing(640, 640)
            drawing.shadow(x + 8, y, shadow, 0.15, 0.3)
            draw(drawing, x, y, scale)
            target = PICTURES / f"{name}.png"
            shot(drawing.svg(), 640, 640, scratch).save(target)
            command = ["pngquant", "--force", "--strip", "--speed", "1", "--output", target, "128", target]
            subprocess.run(command, check=True)
    return 0


if __name__ == "__main__":
    sys.exit(main())
