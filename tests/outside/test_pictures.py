"""Pictures as a browser shows them (Debian's Chromium): joins of new ground, pairs for narrow screens,
blocked boxes, copy on shaded pictures.

Sources: WCAG 2.2 SC 1.1.1 (a text alternative, read once) by Chromium's accessibility tree, SC 1.4.3 by
screen pixels; HTML Living Standard, 15.3.4 (an img's width and height give its box a shape).
"""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from shutil import copy, copytree
from typing import Any

import numpy as np
import pytest
import skimage
import sklearn
from PIL import Image

from handbill.base.cache import Cache
from handbill.pictures import inspect, plan, produced
from handbill.pictures.asked import Asked, Extend

from .browser import Reader, View
from .mails import ROOT, Mail, compile_campaign

PHOTOGRAPHS = (
    Path(sklearn.__file__).parent / "datasets" / "images" / "china.jpg",
    Path(skimage.__file__).parent / "data" / "camera.png",
    Path(skimage.__file__).parent / "data" / "clock_motion.png",
    ROOT / "demo" / "brands" / "orrowby" / "pictures" / "hero.jpg",
    ROOT / "demo" / "brands" / "quillfern" / "pictures" / "plant-splitleaf.jpg",
)
ROOM = 40  # rows on either side of the join that are compared with it
PIXELS = """(image) => {
    const canvas = document.createElement("canvas");
    canvas.width = image.naturalWidth; canvas.height = image.naturalHeight;
    const pen = canvas.getContext("2d");
    pen.drawImage(image, 0, 0);
    return Array.from(pen.getImageData(0, 0, canvas.width, canvas.height).data);
}"""
ALT = "A path between two stones"
CAMPAIGN = """handbill: 1
campaign: pairs
brand: quillfern
send: 2027-01-15T08:00
subject: Pairs
preheader: Two of a kind
stack:
  - block: hero
    layout: below
    picture: {file: plant-fern.jpg, alt: %s, phone: {crop: '4:5'}}
    headline: One or the other
    button: {label: Go on, link: /x}
  - block: story
    layout: over
    copy_on: picture
    ink: light
    headline: Words on a bright wall
    copy: They are read against the worst of it.
    picture: {file: plant-splitleaf.jpg, decorative: true, shade: auto}
  - standing: footer
"""


@pytest.mark.parametrize("file", PHOTOGRAPHS, ids=lambda path: path.name)
def test_no_column_changes_more_at_the_join_than_beside_it(
    file: Path, reader: Reader, tmp_path: Path
) -> None:
    """As decoded by Chromium, JPEG and all: at the join no column steps further than columns do beside it."""
    cache = Cache(tmp_path / "cache")
    one = plan(inspect(file, cache), width=300, density=2, asked=Asked(Extend(top=120)))
    folder = tmp_path / "pictures"
    folder.mkdir()
    (folder / one.name).write_bytes(produced(one, cache))
    html = f'<!DOCTYPE html><title>x</title><img src="{one.name}" alt="">'
    with reader.open(html, folder, View(600)) as opened:
        flat = opened.page.eval_on_selector("img", PIXELS)
    levels = np.array(flat, dtype=int).reshape(one.pixels[1], one.pixels[0], 4)[..., :3]
    assert one.inner is not None
    join = one.inner[1]
    steps = np.abs(np.diff(levels[join - ROOM : join + ROOM], axis=0)).max(axis=2)  # rows, columns
    beside = np.delete(steps, slice(ROOM - 2, ROOM + 1), axis=0)
    assert steps[ROOM - 1].max() <= beside.max()
    assert steps[ROOM - 1].mean() <= beside.mean(axis=1).max()


@pytest.fixture(scope="module")
def pairs(tmp_path_factory: pytest.TempPathFactory) -> Mail:
    shop = tmp_path_factory.mktemp("shop")
    copytree(ROOT / "demo" / "brands", shop / "brands")
    copy(ROOT / "demo" / "handbill.yaml", shop)
    (shop / "campaigns").mkdir()
    path = shop / "campaigns" / "pairs.yaml"
    path.write_text(CAMPAIGN % ALT, "utf-8")
    return compile_campaign(path, tmp_path_factory.mktemp("pairs"))


def read_aloud(page: Any) -> list[str]:
    """The names of all pictures in Chromium's accessibility tree."""
    nodes = page.context.new_cdp_session(page).send("Accessibility.getFullAXTree")["nodes"]
    return [
        node.get("name", {}).get("value", "")
        for node in nodes
        if not node["ignored"] and node.get("role", {}).get("value") in ("image", "img")
    ]


SHOWN = """() => [...document.images].filter((one) => one.alt && one.getClientRects().length)
    .map((one) => [one.alt, one.currentSrc.split("/").pop(), one.clientWidth, one.clientHeight])"""
VIEWS = (View(375), View(1000), View(375, "dark"), View(375, styles=False), View(1000, styles=False))


@pytest.mark.parametrize("view", VIEWS, ids=str)
def test_one_of_a_pair_is_shown_and_read(pairs: Mail, reader: Reader, view: View) -> None:
    """SC 1.1.1: the text alternative is there once. Without styles the desktop's picture stands."""
    with reader.open(pairs.html, pairs.pictures, view) as opened:
        assert read_aloud(opened.page).count(ALT) == 1
        ((_alt, _name, across, down),) = [one for one in opened.page.evaluate(SHOWN) if one[0] == ALT]
    narrow = view.width < 600 and view.styles
    assert across / down == pytest.approx(4 / 5 if narrow else 1, rel=0.02)


@pytest.mark.parametrize("view", [View(375), View(1000)], ids=str)
def test_a_blocked_picture_keeps_its_box_and_its_words(campaign: Mail, reader: Reader, view: View) -> None:
    """HTML, 15.3.4: width and height give the box its shape; the words in it are all to be seen."""
    look = """() => [...document.images].filter((one) => one.alt && one.getClientRects().length)
        .map((one) => [one.alt, one.getBoundingClientRect().height, one.scrollHeight - one.clientHeight])"""
    with reader.open(campaign.html, campaign.pictures, view) as opened:
        shown = opened.page.evaluate(look)
    blocked = View(view.width, pictures=False)
    with reader.open(campaign.html, campaign.pictures, blocked) as opened:
        seen = opened.page.evaluate(look)
    assert len(seen) > 5
    both = [(alt, height, was) for (alt, height, _over), (_alt, was, _) in zip(seen, shown, strict=True)]
    large = [one for one in both if one[2] >= 90]
    assert large
    assert [one for one in large if abs(one[1] - one[2]) > 1] == []
    assert [alt for alt, _height, over in seen if over > 1] == []


def test_copy_on_a_shaded_picture_is_legible_on_the_screen(pairs: Mail, reader: Reader) -> None:
    """SC 1.4.3: behind every line of copy, in what the browser paints, 4.5:1 to white for 99 of 100 pixels
    and 3:1 for all (JPEG rings by a few levels)."""
    lines = """() => [...document.querySelectorAll("p, h1, h2")]
        .filter((one) => /worst of it|bright wall/.test(one.textContent) && one.getClientRects().length)
        .map((one) => { const r = one.getBoundingClientRect(); return [r.left, r.top, r.right, r.bottom];
        })"""
    for view in (View(375), View(1000)):
        with reader.open(pairs.html, pairs.pictures, view) as opened:
            boxes = opened.page.evaluate(lines)
            opened.page.add_style_tag(content="p, h1, h2 { visibility: hidden }")
            shot = opened.page.screenshot(full_page=True, path=None)
        image = Image.open(BytesIO(shot)).convert("RGB")
        assert len(boxes) == 2
        for box in boxes:
            part = np.asarray(image.crop(tuple(round(edge) for edge in box))).reshape(-1, 3) / 255
            light = np.where(part <= 0.04045, part / 12.92, ((part + 0.055) / 1.055) ** 2.4) @ (
                0.2126, 0.7152, 0.0722,
            )  # fmt: skip
            ratios = 1.05 / (light + 0.05)
            assert (ratios >= 4.5).mean() >= 0.99
            assert ratios.min() >= 3
