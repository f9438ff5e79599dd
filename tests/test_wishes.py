"""Pictures as authors ask for them: each mistake in one line at its place, each wish in the mail and its
files.

Sources: WCAG 2.2 1.4.3 for copy over pictures; what `handbill compile` writes, read back with Pillow.
"""

from __future__ import annotations

import json
import os
import random
import re
import signal
import subprocess
import sys
import time
from contextlib import chdir, suppress
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from tests.workspaces import FOOT, HEAD, compile_files, make


def png(image: Image.Image) -> bytes:
    out = BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def sky(width: int = 400, height: int = 300) -> Image.Image:
    image = Image.new("RGB", (1, height))
    for y in range(height):
        image.putpixel((0, y), (60 + y // 4, 80 + y // 4, 120 + y // 4))
    return image.resize((width, height))


def leaves(width: int = 400, height: int = 300) -> Image.Image:
    return Image.frombytes("RGB", (width, height), random.Random(3).randbytes(width * height * 3))


def mug() -> Image.Image:
    image = Image.new("RGB", (500, 400), "#ffffff")
    image.paste("#803010", (200, 120, 330, 300))
    return image


PICTURES: dict[str, str | bytes | None] = {
    "brands/orrowby/pictures/sky.png": png(sky()),
    "brands/orrowby/pictures/leaves.png": png(leaves()),
    "brands/orrowby/pictures/mug.png": png(mug()),
}


def work(root: Path, stack: str, **more: str) -> Path:
    return make(root, {**PICTURES, "campaigns/x.yaml": HEAD + stack + FOOT, **more})


def hero(picture: str, more: str = "") -> str:
    return f"  - block: hero\n    headline: Up here\n    picture: {picture}\n{more}"


def story(picture: str) -> str:
    return (
        "  - block: story\n    layout: over\n"
        f"    picture: {picture}\n    copy_on: picture\n    headline: Over it\n"
    )


def compiled(root: Path) -> tuple[str, dict[str, Image.Image], dict[str, Any]]:
    with chdir(root):
        result = compile_files(root)
    assert result.code == 0, result.lines
    folder = root / "out" / "x"
    pictures = {path.name: Image.open(BytesIO(path.read_bytes())) for path in (folder / "pictures").iterdir()}
    manifest = json.loads((folder / "main" / "manifest.json").read_text("utf-8"))
    return (folder / "main" / "email.html").read_text("utf-8"), pictures, manifest


def refused(root: Path) -> str:
    with chdir(root):
        result = compile_files(root)
    assert (result.code, result.files) == (2, [])
    (line,) = result.lines
    return line


@pytest.mark.parametrize(
    ("stack", "words"),
    [
        (hero("{file: leaves.png, alt: Leaves, extend: 90}"),
         "11:14: stack[1] hero, picture: the top edge of picture leaves.png is too busy to extend"),
        (hero("{file: sky.png, alt: A sky, extend: {}}"), "extend says no side"),
        (hero("{file: sky.png, alt: A sky, extend: {top: 9, both: 9}}"), "extend says a side twice"),
        (hero("{file: sky.png, alt: A sky, extend: {top: '4:5', bottom: 9}}"), "extend has a shape and px"),
        (hero("{file: sky.png, alt: A sky, extend: {top: '9:1'}}"), "is already as tall as 9:1"),
        (hero("{file: sky.png, alt: A sky, extend: tall}"), "extend.top: 'tall' is neither px nor a shape"),
        (hero("{file: sky.png, alt: A sky, extend: {top: 99999}}"),
         "extend.top: '99999' px is more than a picture can grow; expected 9999 px at most"),
        (hero("{file: sky.png, alt: A sky, extend: {top: 9, join: cut}}"), "a plain band needs its colour"),
        (hero("{file: sky.png, alt: A sky, extend: {top: 9, colour: grund}}"),
         "extend: no colour role grund; expected a role of the house style, or '#1a2335'; nearest: ground"),
        (hero("{file: sky.png, alt: A sky, crop: wide}"), "picture.crop.ratio: 'wide' is not a shape"),
        (hero("{file: sky.png, alt: A sky, fit: trimm}"), "nearest: trim"),
        (hero("{file: sky.png, alt: A sky, fit: {how: trim, shape: '1:1'}}"), "has no plain backdrop"),
        (hero("{file: sky.png, alt: A sky, fit: contain}"), "needs the shape to fill"),
        (hero("{file: sky.png, alt: A sky, shade: auto}"), "no copy stands on this picture"),
        (hero("{file: sky.png, alt: A sky, shade: 1.5}"), "picture.shade.strength: '1.5' is not a share"),
        (hero("{file: sky.png, alt: A sky, phone: {}}"), "picture.phone: it says nothing that differs"),
        (hero("{file: sky.png, alt: A sky, phone: mug.png}", "    layout: over\n"),
         "picture.phone: copy stands on this picture: it has no other for phones; expected crop or focus"),
        (hero("{file: sky.png, alt: A sky, phone: mug.png}", "    layout: above\n    overlap: 60\n"),
         "picture.phone: copy stands on this picture"),
        (story("{file: sky.png, decorative: true, phone: mug.png}"), "copy stands on this picture"),
        (story("{frames: [sky.png, mug.png], alt: A sky}"), "copy stands on this picture: it cannot move"),
        (hero("{file: sky.png, alt: A sky, phone: {file: leaves.png, extend: 90}}", "    layout: below\n"),
         "picture.phone: the top edge of picture leaves.png is too busy to extend"),
        (hero("{file: sky.png, alt: A sky, phone: none.png}", "    layout: below\n"),
         "picture.phone: no picture none.png"),
        (hero("{file: sky.png, alt: A sky, fit: contain, extend: 9}"), "either fitted or extended"),
        (hero("{file: sky.png, alt: A sky, focus: middle}"), "is not a focal point"),
        (hero("{file: sky.png, alt: A sky, focus: 0.5 1.5}"), "lies outside"),
        (hero("{file: sky.png, alt: A sky, corners: {drawn: true}}"), "picture.corners.radius"),
        (hero("{file: sky.png, alt: A sky, density: 3}"), "picture.density: '3' is not a choice"),
        (hero("{file: sky.png, alt: A sky, border: {colour: line}}"), "picture.border.width"),
        (hero("{file: sky.png, alt: A sky, exptend: 9}"), "nearest: extend"),
    ],
)  # fmt: skip
def test_each_mistake_is_one_line_at_its_place(stack: str, words: str, tmp_path: Path) -> None:
    line = refused(work(tmp_path, stack))
    assert line.startswith("campaigns/x.yaml:11:")
    assert words in line


def test_new_ground_is_as_tall_as_asked(tmp_path: Path) -> None:
    """400 x 300 shown at 600 is 450 tall; the file has 400 pixels across, so 90 px are 60 of them."""
    _html, pictures, manifest = compiled(work(tmp_path, hero("{file: sky.png, alt: A sky, extend: 90}")))
    ((name, image),) = pictures.items()
    assert image.size == (400, 360)
    assert name.endswith(".jpg")
    (told,) = manifest["pictures"]
    assert (told["width"], told["height"], told["pixels"]) == (600, 540, [400, 360])


def test_growing_to_a_shape(tmp_path: Path) -> None:
    _html, pictures, _told = compiled(
        work(tmp_path, hero("{file: sky.png, alt: A sky, extend: {both: '4:5'}}"))
    )
    ((_name, image),) = pictures.items()
    assert image.size == (400, 500)


def test_ink_that_the_picture_decides(tmp_path: Path) -> None:
    """A dark sky takes light copy; the ground behind it is the sky's own colour, so that it stays legible."""
    html, _pictures, manifest = compiled(work(
        tmp_path, hero("{file: sky.png, alt: A sky, decorative: false}", "    layout: over\n    ink: auto\n"),
    ))  # fmt: skip
    (told,) = manifest["pictures"]
    assert told["copy"]["ink"] == "#ffffff"
    assert 1 <= told["copy"]["least"] <= told["copy"]["low"]
    assert "color:#ffffff" in html
    ground = html.split('background="')[0].rpartition('bgcolor="')[2][:7]
    assert sum(bytes.fromhex(ground[1:])) < 3 * 160


@pytest.mark.parametrize("ink", ["light", "dark", "house"])
def test_a_shade_makes_copy_legible(ink: str, tmp_path: Path) -> None:
    """WCAG 2.2 1.4.3, on the worst square."""
    _html, _pictures, manifest = compiled(work(
        tmp_path, hero("{file: leaves.png, alt: Leaves, shade: auto}", f"    layout: over\n    ink: {ink}\n"),
    ))  # fmt: skip
    assert len(manifest["pictures"]) == (2 if ink == "house" else 1)
    assert all(told["copy"]["least"] >= 4.5 for told in manifest["pictures"])


LAYERS = re.compile(r"url\('[^']*?([^/']+)'\),url\('[^']*?([^/']+)'\)")  # the light one lies on top


@pytest.mark.parametrize("picture", [hero, story])
def test_dark_screens_have_a_shade_of_their_own(picture: Any, tmp_path: Path) -> None:
    """WCAG 2.2 1.4.3 for the ink that the house has there; both layers are CSS Backgrounds 3, 2.9."""
    stack = picture("{file: leaves.png, alt: Leaves, shade: auto}")
    stack += "    layout: over\n" if picture is hero else ""
    html, _pictures, manifest = compiled(work(tmp_path, stack))
    copy = {told["file"]: told["copy"] for told in manifest["pictures"]}
    ((light, dark),) = LAYERS.findall(html)
    assert copy.keys() == {light, dark}
    assert copy[light]["ink"] != copy[dark]["ink"]
    assert min(one["least"] for one in copy.values()) >= 4.5
    assert "background-size:cover, 0 0" in html
    assert re.search(
        r"@media \(prefers-color-scheme:dark\).*background-size:0 0, cover!important", html, re.S
    )


def test_a_fixed_ink_keeps_its_picture_on_dark_screens(tmp_path: Path) -> None:
    stack = hero("{file: leaves.png, alt: Leaves, shade: auto}", "    layout: over\n    ink: light\n")
    html, pictures, _manifest = compiled(work(tmp_path, stack))
    assert len(pictures) == 1
    assert not LAYERS.search(html)


@pytest.mark.parametrize("asked", ["", ", extend: {top: 160, colour: ground}"])
def test_a_strip_under_copy_comes_out_of_its_ground(asked: str, tmp_path: Path) -> None:
    """Its upper edge has the ground's colour in either scheme, to what JPEG and dither move (3 levels)."""
    stack = hero(f"{{file: sky.png, alt: A sky{asked}}}", "    overlap: 120\n")
    html, pictures, manifest = compiled(work(tmp_path, stack))
    ((light, dark),) = LAYERS.findall(html)
    for name, ground in ((light, "ffffff"), (dark, "1a1b1d")):
        row = pictures[name].convert("RGB").crop((0, 0, pictures[name].width, 1))
        for (low, high), level in zip(row.getextrema(), bytes.fromhex(ground), strict=True):
            assert level - 3 <= low <= high <= level + 3
    heights = sorted(told["height"] for told in manifest["pictures"])
    # what goes on below is one picture where its strips alone differ
    assert heights == ([120, 120, 330] if not asked else [120, 120, 490, 490])


def test_a_pair_for_phones(tmp_path: Path) -> None:
    html, pictures, manifest = compiled(work(
        tmp_path, hero("{file: sky.png, alt: A sky, phone: {file: mug.png, crop: '1:1'}}"),
    ))  # fmt: skip
    assert sorted(name.partition("-")[0] for name in pictures) == ["mug", "sky"]
    assert len(manifest["pictures"]) == 2
    assert html.count('alt="A sky"') == 2
    before, _, after = html.partition("mug-")
    hidden = before.rpartition("<div")[2]
    assert "display:none" in hidden
    assert "max-height:0" in hidden
    assert "mso-hide:all" in hidden
    assert before.rstrip().rpartition("<!--[if !mso]><!-->")[2].count("<div") == 1
    assert "<!--<![endif]-->" in after
    assert "@media only screen and (max-width:599px)" in html


def test_all_of_a_picture_shows_below_copy_on_its_new_ground(tmp_path: Path) -> None:
    """400 x 300 at 600 px is 450 tall: three quarters of its width, at any width (CSS Box 3, 4: a padding in
    percent is one of the width). The picture is held by its foot, unless its focus says otherwise."""
    picture = "{file: sky.png, alt: A sky, extend: 240}"
    html, _pictures, manifest = compiled(work(tmp_path / "a", hero(picture, "    layout: over\n")))
    assert "padding-top:75%" in html
    assert 'height="450"' in html  # for word processors, which know no such padding
    assert "background-position:50% 100%" in html
    assert manifest["pictures"][0]["height"] == 690
    aimed = picture.replace("extend", "focus: 0.5 0.2, extend")
    assert (
        "background-position:50% 20%" in compiled(work(tmp_path / "b", hero(aimed, "    layout: over\n")))[0]
    )
    plain = hero("{file: sky.png, alt: A sky}", "    layout: over\n")
    assert "padding-top:75%" not in compiled(work(tmp_path / "c", plain))[0]


def cut_out(width: int, height: int) -> bytes:
    image = Image.new("RGBA", (width, height))
    image.paste("#803010", (width // 8, height // 8, width - width // 8, height - height // 8))
    return png(image)


@pytest.mark.parametrize(
    ("size", "choice", "shown"),
    [((700, 1000), "", (300, 300)), ((1000, 700), "", (300, 210)), ((700, 1000), "shape: wide", (300, 240))],
)
def test_a_tall_cut_out_is_shown_whole_in_its_square(
    size: tuple[int, int], choice: str, shown: tuple[int, int], tmp_path: Path
) -> None:
    stack = f"  - block: product-stack\n    products: [{{sku: K-101, {choice}}}]\n"
    products = "sku,name,price,was,picture,alt,link\nK-101,Tarn,45,,can.png,A can,/a\n"
    root = work(tmp_path, stack, **{"brands/orrowby/products.csv": products})
    (root / "brands/orrowby/pictures/can.png").write_bytes(cut_out(*size))
    _html, pictures, manifest = compiled(root)
    (told,) = manifest["pictures"]
    assert (told["width"], told["height"]) == shown
    ((_name, image),) = pictures.items()
    assert image.convert("RGBA").getpixel((0, 0))[3] == 0
    _left, top, _right, bottom = image.convert("RGBA").getchannel("A").getbbox()
    if size[1] > size[0] and not choice:  # three quarters of its height is the thing, as in the file
        assert (bottom - top) / image.height == pytest.approx(0.75, abs=0.02)


def test_products_stand_alike_on_the_tile(tmp_path: Path) -> None:
    rows = (
        "sku,name,price,was,picture,alt,link",
        "K-101,Tarn,45,,mug.png,A mug,/a",
        "K-102,Fell,30,,mug.png,Two,/b",
    )
    products = "\n".join(rows) + "\n"
    stack = "  - block: product-strip\n    across: two\n    shots: matched\n    products: [K-101, K-102]\n"
    root = work(tmp_path, stack, **{"brands/orrowby/products.csv": products})
    _html, pictures, _told = compiled(root)
    assert len(pictures) == 2  # light and dark screens have tiles of their own
    for image in pictures.values():
        assert image.width == image.height
    corners = {image.convert("RGB").getpixel((1, 1)) for image in pictures.values()}
    assert corners == {(0xF3, 0xF3, 0xF1), (0x26, 0x28, 0x2B)}


def test_an_interrupted_run_leaves_no_broken_picture(tmp_path: Path) -> None:
    """Killed while pictures are being made (POSIX SIGKILL), then run again: the bytes of a run in peace."""
    stack = "".join(
        hero(f"{{file: sky.png, alt: A sky, extend: {90 + number}}}", f"    id: h{number}\n")
        for number in range(24)
    )
    root = work(tmp_path / "w", stack)
    command = [str(Path(sys.executable).with_name("handbill")), "compile", "campaigns/x.yaml", "--out"]

    def run(out: str, cache: str) -> subprocess.Popen[bytes]:
        environment = {**os.environ, "HANDBILL_CACHE": str(tmp_path / cache)}
        return subprocess.Popen([*command, str(tmp_path / out)], cwd=root, env=environment,
                                stdout=subprocess.DEVNULL)  # fmt: skip

    def images(out: str) -> dict[str, bytes]:
        return {path.name: path.read_bytes() for path in (tmp_path / out / "x" / "pictures").iterdir()}

    broken = run("one", "cache")
    deadline = time.monotonic() + 60
    while time.monotonic() < deadline and broken.poll() is None:
        with suppress(FileNotFoundError):  # a name that is being written has gone when it is looked at
            entries = [path for path in (tmp_path / "cache").glob("??/*") if path.stat().st_size > 2000]
            if sum(path.read_bytes()[:2] == b"\xff\xd8" for path in entries) >= 2:
                break
        time.sleep(0.005)
    broken.send_signal(signal.SIGKILL)
    broken.wait()
    assert run("one", "cache").wait() == 0
    assert run("two", "other").wait() == 0
    assert len(images("two")) == 24
    assert images("one") == images("two")
