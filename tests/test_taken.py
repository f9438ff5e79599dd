"""A house style from a logo or photo: what is taken, and that it can be read, sent and not complained of.

Against: WCAG 2.2 SC 1.4.3 and 1.4.11 and OKLab by coloraide; open photographs that scikit-image carries.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import skimage
from click.testing import CliRunner
from coloraide import Color
from PIL import Image, ImageDraw

from handbill.apps.style import palette
from handbill.apps.taken import Taken, taken
from handbill.base.cache import Cache
from handbill.base.errors import Fault
from handbill.cli.main import cli

SCIKIT = Path(skimage.__file__).parent / "data"
DEMO = Path(__file__).resolve().parents[1] / "demo" / "brands"
WORDS = ("title", "text", "muted", "accent", "link", "outline")


def mark(
    path: Path, *colours: str, ground: str | None = "#ffffff", size: tuple[int, int] = (300, 120)
) -> Path:
    """A logo of rising bars, the first the largest, on a ground or on nothing."""
    picture = Image.new("RGBA", size, ground or "#00000000")
    draw, left = ImageDraw.Draw(picture), 20
    for number, colour in enumerate(colours):
        wide = 140 // (number + 1)
        draw.rectangle((left, 20, left + wide, 100), fill=colour)
        left += wide + 10
    picture.save(path)
    return path


def apart(one: str, other: str) -> float:
    return float(Color(one).distance(other, space="oklab")) * 100


def look(path: Path) -> Taken:
    return taken(path, Cache())


@pytest.mark.parametrize("ground", ["#ffffff", None])
def test_a_logo_gives_its_colours_the_larger_one_first(tmp_path: Path, ground: str | None) -> None:
    found = look(mark(tmp_path / "mark.png", "#7a1f4b", "#1f6f7a", ground=ground))
    assert [apart(one, other) < 1 for one, other in zip(found.colours, ("#7a1f4b", "#1f6f7a"), strict=True)]
    assert len(found.colours) == 2
    assert apart(found.ground, "#ffffff") < 1


def test_shades_of_one_colour_are_no_second_one(tmp_path: Path) -> None:
    assert len(look(mark(tmp_path / "mark.png", "#7a1f4b", "#b0507f")).colours) == 1


def test_a_black_and_white_logo_leads_with_its_black(tmp_path: Path) -> None:
    assert look(mark(tmp_path / "mark.png", "#000000")).colours == ("#000000",)


def test_a_pale_ground_lies_under_the_words(tmp_path: Path) -> None:
    found = look(mark(tmp_path / "mark.png", "#7a1f4b", ground="#f7efe2"))
    assert apart(found.ground, "#f7efe2") < 1
    assert apart(palette(found.colours, found.ground).colours["ground"][0], "#f7efe2") < 1
    assert look(mark(tmp_path / "deep.png", "#f7efe2", ground="#7a1f4b")).ground == "#ffffff"


def plain(path: Path, colour: str) -> Path:
    Image.new("RGBA", (64, 64), colour).save(path)
    return path


def test_a_picture_of_one_colour_gives_that(tmp_path: Path) -> None:
    assert apart(look(plain(tmp_path / "one.png", "#2060c0")).colours[0], "#2060c0") < 1
    white = look(plain(tmp_path / "white.png", "#ffffff"))
    assert apart(white.colours[0], "#1b1b1b") < 1
    assert white.parts[0].share == 0  # nothing in it is that colour, and nobody is told so


@pytest.mark.parametrize(
    ("name", "lead"),
    # by eye: the orange suit, the red cup, the dusk behind the launch, the cat's coat
    [
        ("astronaut.png", "#d9602e"),
        ("coffee.png", "#a83018"),
        ("rocket.jpg", "#0c2746"),
        ("chelsea.png", "#946e52"),
    ],
)
def test_photographs_give_what_the_eye_takes_from_them(name: str, lead: str) -> None:
    assert apart(look(SCIKIT / name).colours[0], lead) < 6


PICTURES = [
    *sorted(DEMO.glob("*/pictures/logo-*.png")), *sorted(DEMO.glob("*/pictures/hero*.jpg")),
    *(SCIKIT / name for name in ("astronaut.png", "camera.png", "coffee.png", "horse.png", "page.png",
                                 "rocket.jpg", "color.png", "text.png", "moon.png", "brick.png")),
]  # fmt: skip


@pytest.mark.parametrize("path", PICTURES, ids=lambda path: f"{path.parents[1].name} {path.name}")
def test_every_pair_can_be_read(path: Path) -> None:
    found = look(path)
    assert look(path) == found
    made = palette(found.colours, found.ground)
    for tone in (made.colours, *({**made.colours, **own} for own in made.tones.values())):
        for dark in (0, 1):
            colour = {role: Color(pair[dark]) for role, pair in tone.items()}
            for ground in ("ground", "card"):
                for roles, least in ((WORDS, 4.5), (("button", "ring"), 3.0)):
                    for role in roles:
                        ratio = colour[role].contrast(colour[ground], method="wcag21")
                        assert ratio >= least - 0.01, (role, ground, dark)
            assert colour["button-label"].contrast(colour["button"], method="wcag21") >= 4.49


def run(root: Path, *words: str) -> str:
    done = CliRunner().invoke(cli, [*words, "--workspace", str(root)], catch_exceptions=False)
    assert done.exit_code == 0, done.stderr
    return done.stdout


@pytest.mark.parametrize(
    "name", ["quillfern logo", "orrowby hero", "astronaut", "black and white", "one colour"]
)
def test_a_first_mail_has_no_finding_above_note(tmp_path: Path, name: str) -> None:
    pictures = {
        "quillfern logo": DEMO / "quillfern/pictures/logo-dark.png",
        "orrowby hero": DEMO / "orrowby/pictures/hero.jpg",
        "astronaut": SCIKIT / "astronaut.png",
        "black and white": SCIKIT / "horse.png",
    }
    root = tmp_path / "shop"
    root.mkdir()
    source = pictures.get(name) or plain(tmp_path / "One Colour!.PNG", "#e0c020")
    said = run(root, "new", "--house-style", "alder", "--from", str(source))
    assert " leads: buttons (" in said
    yaml = (root / "brands/alder/brand.yaml").read_text("utf-8")
    file = "one-colour.png" if name == "one colour" else source.name
    assert f"taken from pictures/{file}" in yaml.splitlines()[0]
    assert (root / "brands/alder/pictures" / file).read_bytes() == source.read_bytes()
    run(root, "new", "launch", "--brand", "alder")
    campaign = str(root / "campaigns/launch.yaml")
    done = CliRunner().invoke(cli, ["preflight", campaign, "--format", "json"], catch_exceptions=False)
    assert done.exit_code == 0
    found = json.loads(done.stdout)
    assert {one["severity"] for one in _findings(found)} == {"note"}


def _findings(data: object) -> list[dict[str, str]]:
    if isinstance(data, dict):
        own = [data] if {"severity", "rule"} <= data.keys() else []
        return own + [one for value in data.values() for one in _findings(value)]
    return [one for value in data for one in _findings(value)] if isinstance(data, list) else []


@pytest.mark.parametrize(
    ("file", "said"),
    [
        ("nothing.png", "--from: no picture file nothing.png"),
        ("words.png", "--from: picture words.png is not a picture that can be read (JPEG, PNG,"),
        (
            "mark.svg",
            "--from: mark.svg is an SVG: refused, readers do not show it; expected export it as PNG",
        ),
        ("clear.png", "--from: picture clear.png is transparent all over; expected a picture that shows"),
        ("moves.gif", "--from: picture moves.gif moves; expected a still picture"),
        (".", "is not a file; expected a picture file"),
    ],
)
def test_what_is_no_picture_is_one_line_and_writes_nothing(tmp_path: Path, file: str, said: str) -> None:
    (tmp_path / "words.png").write_text("words")
    (tmp_path / "mark.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"/>')
    plain(tmp_path / "clear.png", "#00000000")
    frames = [Image.new("RGB", (8, 8), colour) for colour in ("red", "blue")]
    frames[0].save(tmp_path / "moves.gif", save_all=True, append_images=frames[1:], duration=500)
    root = tmp_path / "shop"
    root.mkdir()
    done = CliRunner().invoke(
        cli, ["new", "--house-style", "x", "--from", str(tmp_path / file), "--workspace", str(root)]
    )
    text = done.stderr + str(done.exception or "")
    assert done.exit_code
    assert said in text
    assert len(text.strip().splitlines()) == 1
    assert list(root.iterdir()) == []


@pytest.mark.parametrize(
    "words",
    [["launch", "--from", "x.png"], ["--house-style", "x", "--from", "x.png", "--colour", "#123456"]],
)
def test_wrong_use_is_said(words: list[str]) -> None:
    done = CliRunner().invoke(cli, ["new", *words], standalone_mode=False)
    assert "--from" in str(done.exception)


def test_a_damaged_picture_is_told(tmp_path: Path) -> None:
    data = (SCIKIT / "coffee.png").read_bytes()
    (tmp_path / "half.png").write_bytes(data[: len(data) // 2])
    with pytest.raises(Fault):
        look(tmp_path / "half.png")
