"""Finished pictures by readers of other hands: Debian's giflib, gifsicle, pngcheck, exiftool, libjpeg-turbo
and libwebp, and Chromium's decoders.

Sources: GIF89a 17, 20, 23 and the NETSCAPE2.0 extension; PNG (third edition) 5 and 11; ITU-T T.81 and JFIF
1.02; the RIFF container of WebP; WebCodecs' ImageDecoder; check values I01 to I12.
"""

from __future__ import annotations

import json
import re
import subprocess
from base64 import b64encode
from io import BytesIO
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from tests.odd_pictures import whole_files

from handbill.base.cache import Cache
from handbill.pictures import Plan, inspect, plan, produced
from handbill.pictures.asked import Asked, Border
from handbill.pictures.moving import Reel, moving

from .browser import Reader, View
from .mails import ROOT, Mail

SHOTS = ROOT / "demo" / "brands" / "quillfern" / "pictures"
TIMES = (150, 80, 230)  # hundredths of a second
LINE = "#c03020"
DECODED = """async ([address, most]) => {
    const data = await (await fetch(address)).arrayBuffer();
    const decoder = new ImageDecoder({data, type: "image/gif"});
    await decoder.tracks.ready;
    await decoder.completed;
    const track = decoder.tracks.selectedTrack;
    const frames = [];
    for (let at = 0; at < Math.min(track.frameCount, most); at++) {
        const {image} = await decoder.decode({frameIndex: at});
        const canvas = new OffscreenCanvas(image.displayWidth, image.displayHeight);
        const pen = canvas.getContext("2d");
        pen.drawImage(image, 0, 0);
        const {data} = pen.getImageData(0, 0, canvas.width, canvas.height);
        frames.push([image.duration / 1000, canvas.width, canvas.height, Array.from(data)]);
    }
    return [track.repetitionCount === Infinity ? -1 : track.repetitionCount, frames];
}"""
PIXELS = """(image) => {
    const canvas = document.createElement("canvas");
    canvas.width = image.naturalWidth; canvas.height = image.naturalHeight;
    const pen = canvas.getContext("2d");
    pen.drawImage(image, 0, 0);
    const {data} = pen.getImageData(0, 0, canvas.width, canvas.height);
    return [canvas.width, canvas.height, Array.from(data)];
}"""


def told(*command: str | Path) -> str:
    """What a command prints; it must be content."""
    done = subprocess.run([str(one) for one in command], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def facts(*files: Path) -> list[dict[str, Any]]:
    """What exiftool finds in files, numbers as they are stored."""
    found = json.loads(told("exiftool", "-json", "-G", "-n", *files))
    assert isinstance(found, list)
    return found


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Cache:
    return Cache(tmp_path_factory.mktemp("cache"))


@pytest.fixture(scope="module")
def reel(cache: Cache, tmp_path_factory: pytest.TempPathFactory) -> tuple[Plan, Path]:
    """Three shots of a shop with a time for each, a border, played three times."""
    names = ("plant-fern.jpg", "plant-coin.jpg", "plant-sword.jpg")
    frames = tuple((inspect(SHOTS / name, cache), time) for name, time in zip(names, TIMES, strict=True))
    made = moving(
        Reel(frames, rounds=3), width=120, density=2, ratio=(4, 3), focus=(0.5, 0.5), crop=None,
        border=Border(2, LINE), corners=None, cache=cache,
    )  # fmt: skip
    file = tmp_path_factory.mktemp("reel") / made.name
    file.write_bytes(produced(made, cache))
    return made, file


def test_giflib_reads_the_blocks(reel: tuple[Plan, Path]) -> None:
    """I01, I02, I04: version, size, times in 1/100 s, what becomes of each frame, and the rounds."""
    plan, file = reel
    said = told("giftext", file)
    assert "GIF89a" in file.read_bytes()[:6].decode()
    assert re.search(rf"Screen Size - Width = {plan.pixels[0]}, Height = {plan.pixels[1]}", said)
    assert [int(one) for one in re.findall(r"DelayTime: (\d+)", said)] == list(TIMES)
    assert set(re.findall(r"Disposal Mode: (\d)", said)) == {"1"}
    assert "GIF file terminated normally" in said


def test_gifsicle_tells_the_same(reel: tuple[Plan, Path]) -> None:
    plan, file = reel
    said = told("gifsicle", "--info", "--no-warnings", file)
    assert re.findall(r"delay ([\d.]+)s", said) == [f"{time / 100:.2f}" for time in TIMES]
    assert f"logical screen {plan.pixels[0]}x{plan.pixels[1]}" in said
    assert "loop count 2" in said  # I04: so many times more after the first


def test_120_ms_and_a_frame_that_goes(cache: Cache, tmp_path: Path) -> None:
    """I03: 0C00 in 1/100 s, disposal 2 in bits 2 to 4; with transparency its flag is the lowest bit."""
    frames = [Image.new("RGBA", (90, 60)) for _ in range(2)]
    for number, frame in enumerate(frames):
        frame.paste((200, 40, 20, 255), (10 + 30 * number, 10, 30 + 30 * number, 50))
    frames[0].save(
        tmp_path / "a.gif", save_all=True, append_images=frames[1:], duration=120, disposal=2, loop=0
    )
    made = produced(plan(inspect(tmp_path / "a.gif", cache), width=30, density=1), cache)
    controls = re.findall(rb"\x21\xf9\x04(.)\x0c\x00(.)\x00", made, re.DOTALL)
    assert [packed[0] & ~1 for packed, _index in controls] == [0b01000] * 2
    (tmp_path / "b.gif").write_bytes(made)
    said = told("giftext", tmp_path / "b.gif")
    assert re.findall(r"Disposal Mode: (\d)", said) == ["2", "2"]
    assert re.findall(r"DelayTime: (\d+)", said) == ["12", "12"]
    assert "loop forever" in told("gifsicle", "--info", tmp_path / "b.gif")


def decoded(reader: Reader, file: Path, most: int = 50) -> tuple[int, list[tuple[float, np.ndarray]]]:
    """Rounds and frames (ms, levels) by Chromium's own decoder."""
    address = "data:image/gif;base64," + b64encode(file.read_bytes()).decode()
    with reader.open("<!DOCTYPE html><title>x</title>", file.parent, View(600)) as shown:
        rounds, frames = shown.page.evaluate(DECODED, [address, most])
    return rounds, [
        (time, np.array(data, dtype=int).reshape(high, wide, 4)) for time, wide, high, data in frames
    ]


def test_chromium_shows_each_frame_for_its_time(reel: tuple[Plan, Path], reader: Reader) -> None:
    """I05, I12: times as they were asked for, none so short that a browser changes it; the first frame is the
    one that was named, the border exact in all."""
    made, file = reel
    rounds, frames = decoded(reader, file)
    assert rounds == 2
    assert [time for time, _ in frames] == [10 * time for time in TIMES]
    line = [int(LINE[at : at + 2], 16) for at in (1, 3, 5)]
    width = round(2 * made.sharpness)
    for (_time, levels), source in zip(frames, made.frames, strict=True):
        edge = np.ones(levels.shape[:2], bool)
        edge[width:-width, width:-width] = False
        assert (levels[edge][:, :3] == line).all()
        assert (levels[~edge][:, :3] != line).any()
        assert (levels[..., 3] == 255).all()
        with Image.open(source.path) as shot:
            across, down = shot.size
            tall = across * 3 // 4
            top = (down - tall) // 2
            small = shot.convert("RGB").crop((0, top, across, top + tall)).resize(made.pixels)
        inside = np.abs(levels[..., :3] - np.asarray(small, int))[~edge]
        assert inside.mean() < 8


def test_times_too_short_for_browsers_do_not_occur(reader: Reader, cache: Cache, tmp_path: Path) -> None:
    """I05: a browser shows 1/100 s and less for a tenth (common practice); what is made of it says so."""
    frames = [Image.new("RGB", (90, 60), colour) for colour in ("#a03010", "#10a030", "#1030a0")]
    frames[0].save(tmp_path / "a.gif", save_all=True, append_images=frames[1:], duration=[10, 0, 60])
    (tmp_path / "b.gif").write_bytes(
        produced(plan(inspect(tmp_path / "a.gif", cache), width=30, density=1), cache)
    )
    _rounds, shown = decoded(reader, tmp_path / "b.gif")
    assert [time for time, _ in shown] == [100, 100, 60]
    said = told("giftext", tmp_path / "b.gif")
    assert [int(one) for one in re.findall(r"DelayTime: (\d+)", said)] == [10, 10, 6]


# -- PNG and JPEG


def test_every_png_is_sound_and_bare(campaign: Mail) -> None:
    """I06, I07: signature, order, CRCs and IEND by pngcheck. I08: no pHYs, so no reader scales by it."""
    files = sorted(campaign.pictures.glob("*.png"))
    assert files
    for file in files:
        said = told("pngcheck", "-v", file)
        assert "No errors detected" in said
        assert set(re.findall(r"chunk (\w{4}) at offset", said)) <= {"IHDR", "PLTE", "tRNS", "IDAT", "IEND"}


def test_every_jpeg_is_whole_and_bare(campaign: Mail) -> None:
    """I09: SOI and JFIF, SOF0, 4:4:4; decoded by libjpeg-turbo without a warning; nothing else in it.

    A shop's own JPEG that needs nothing may be progressive, SOF2.
    """
    files = sorted(campaign.pictures.glob("*.jpg"))
    for found in facts(*files) if files else ():
        file = Path(found["SourceFile"])
        assert file.read_bytes()[:4] == b"\xff\xd8\xff\xe0"
        assert file.read_bytes()[-2:] == b"\xff\xd9"
        assert found["JFIF:JFIFVersion"]
        assert found["JFIF:ResolutionUnit"] == 0  # a shape, no density
        assert found["File:EncodingProcess"] in (0, 2)
        assert found["File:YCbCrSubSampling"] == "1 1"
        groups = {name.partition(":")[0] for name in found}
        assert groups <= {"SourceFile", "ExifTool", "File", "JFIF", "Composite"}
        done = subprocess.run(["djpeg", str(file)], capture_output=True, check=True)
        assert done.stderr == b""
        with Image.open(file) as image:
            across, down = image.size
        assert done.stdout.startswith(b"P6\n%d %d\n255\n" % (across, down))


def test_pixels_are_those_that_the_mail_says(campaign: Mail) -> None:
    """I11: a file as wide as the manifest says; twice the px of its width attribute, or as many as its source
    has, and never more than three times."""
    manifest = json.loads((campaign.folder / "manifest.json").read_text("utf-8"))
    listed = {one["file"]: one for one in manifest["pictures"]}
    found = {Path(one["SourceFile"]).name: one for one in facts(*sorted(campaign.pictures.iterdir()))}
    for name, one in listed.items():
        (across,) = [value for key, value in found[name].items() if key.endswith(":ImageWidth")]
        assert across == one["pixels"][0]
        assert across <= 3 * one["width"]
    twice = [one for one in listed.values() if one["pixels"][0] == 2 * one["width"]]
    assert len(twice) >= len(listed) / 2


# -- odd files


@pytest.fixture(scope="module")
def odd(cache: Cache, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("odd")
    for name, data in whole_files().items():
        (folder / name).write_bytes(data)
        source = inspect(folder / name, cache)
        made = plan(source, width=source.width, density=1, asked=Asked(form="png"))
        (folder / f"made-{name}.png").write_bytes(produced(made, cache))
    return folder


@pytest.mark.parametrize("name", whole_files())
def test_an_odd_file_looks_in_chromium_as_what_is_made_of_it(name: str, odd: Path, reader: Reader) -> None:
    """On black and on white at once: colours are compared as they show on either."""
    html = f'<!DOCTYPE html><title>x</title><img src="{name}" alt=""><img src="made-{name}.png" alt="">'
    with reader.open(html, odd, View(600)) as shown:
        both = [one.evaluate(PIXELS) for one in shown.page.query_selector_all("img")]
    (wide, high, first), (wide_2, high_2, second) = both
    assert (wide, high) == (wide_2, high_2)
    levels = [np.array(one, dtype=float).reshape(-1, 4) for one in (first, second)]
    black = [one[:, :3] * one[:, 3:] / 255 for one in levels]
    assert np.abs(black[0] - black[1]).max() <= 3
    assert np.abs(levels[0][:, 3] - levels[1][:, 3]).max() <= 1


def test_a_webp_is_read_as_libwebp_reads_it(cache: Cache, tmp_path: Path) -> None:
    """I10: RIFF and WEBP, written by cwebp, decoded by dwebp."""
    source = SHOTS / "plant-fern.jpg"
    told("cwebp", "-quiet", "-q", "90", "-resize", "120", "0", source, "-o", tmp_path / "a.webp")
    data = (tmp_path / "a.webp").read_bytes()
    assert (data[:4], data[8:12]) == (b"RIFF", b"WEBP")
    assert "No error detected" in told("webpinfo", tmp_path / "a.webp")
    told("dwebp", "-quiet", tmp_path / "a.webp", "-o", tmp_path / "a.png")
    source_of = inspect(tmp_path / "a.webp", cache)
    made = produced(plan(source_of, width=120, density=1), cache)
    with Image.open(BytesIO(made)) as shown, Image.open(tmp_path / "a.png") as wanted:
        apart = np.abs(np.asarray(shown.convert("RGB"), int) - np.asarray(wanted.convert("RGB"), int))
    assert apart.mean() < 3
