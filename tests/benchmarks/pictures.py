"""What pictures cost. Enters: the demo's photographs and shots; leaves: a cold and a warm compile.

One mail: a hero extended upwards, a moving picture of five frames, eight product shots taken off their
backdrops. Cold is held against a script that only resizes the same files to the same sizes and saves them as
Pillow does by itself; warm against the same mail without any of these pictures.
"""

from __future__ import annotations

import json
import re
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from time import process_time

from PIL import Image, ImageOps

from handbill.base.cache import Cache
from handbill.batch.how import How
from handbill.batch.run import compile_campaign
from handbill.loader import Loader
from handbill.pictures import pixels, source
from handbill.pictures.plan import Plan
from handbill.pictures.produce import produce_all
from handbill.pipeline import Desk, campaign_file

from .clock import collector_off
from .demo import ROOT
from .figures import HANDBILL, launched

ROUNDS, PROGRAMS = 5, 12
FRAMES = ("plant-splitleaf.jpg", "plant-coin.jpg", "plant-sword.jpg", "plant-fern.jpg", "plant-feather.jpg")
SKUS = ("K-180", "P-420", "F-075", "T-060", "K-210", "S-110", "B-120", "K-240")
HEAD = """\
handbill: 1
campaign: {name}
brand: orrowby
send: 2027-02-25T18:00
subject: Pictures
stack:
  - block: masthead
  - block: {opening}
    headline: Pictures.
    copy: One grown, one that moves, eight off their ground.
    button: {{label: See them, link: /sale}}
"""
HERO = """\
    picture: {file: hero.jpg, alt: A kettle, extend: {top: 130, colour: ground}}
    overlap: 224
"""
MOVING = "  - block: picture\n    picture: {{frames: [{frames}], alt: Plants}}\n"
SHELF = """\
  - block: product-stack
    tone: gold
    {shots}button: {{label: "Get ${{product.name}}"}}
    products: [{products}]
  - standing: footer
"""
# what of the cache has to do with pictures, by how its keys begin
KEYS = ("picture ", "study ", "moving ")


class Cold(Cache):
    """The cache of the user, but for pictures: of those it knows nothing until it is told."""

    def __init__(self) -> None:
        super().__init__()
        self.own: dict[str, bytes] = {}

    def get(self, key: str) -> bytes | None:
        return self.own.get(key) if key.startswith(KEYS) else super().get(key)

    def put(self, key: str, data: bytes) -> None:
        if key.startswith(KEYS):
            self.own[key] = data
        else:
            super().put(key, data)

    def path(self, key: str) -> Path | None:
        return (Path("/") if key in self.own else None) if key.startswith(KEYS) else super().path(key)


@dataclass(frozen=True, slots=True)
class Pictures:
    """CPU seconds, and how often pictures were decoded or encoded in a warm run."""

    cold: float  # a compile less the same one with everything known
    script: float
    stills: float  # all but the moving picture, made one after the other
    script_stills: float
    warm: float  # whole programs
    without: float
    work: int  # in a warm run
    cold_work: int

    @property
    def ratios(self) -> dict[str, float]:
        return {
            "pictures made, against resizing and saving only": self.cold / self.script,
            "stills alone, against resizing and saving only": self.stills / self.script_stills,
            "pictures known, against a mail without": self.warm / self.without,
        }


def workspace(folder: Path) -> Path:
    """A copy of the demo with the mail measured here, and the same without its pictures; its root."""
    root = folder / "shop"
    shutil.copytree(ROOT / "demo", root, ignore=shutil.ignore_patterns("out", "art"))
    shop = root / "brands" / "orrowby"
    for name in FRAMES:
        shutil.copy(root / "brands" / "quillfern" / "pictures" / name, shop / "pictures")
    products = ", ".join(SKUS)
    full = HEAD.format(name="pictures", opening="hero") + HERO + MOVING.format(frames=", ".join(FRAMES))
    full += SHELF.format(products=products, shots="shots: matched\n    ")
    (root / "campaigns" / "pictures.yaml").write_text(full, "utf-8")
    plain = root / "brands" / "plain"
    plain.mkdir()
    brand = "handbill: 1\nbrand: plain\nextends: orrowby\nname: Plain\n"
    (plain / "brand.yaml").write_text(brand, "utf-8")
    for name in ("reviews.csv", "prices.csv"):
        shutil.copy(shop / name, plain)
    rows = (shop / "products.csv").read_text("utf-8")
    (plain / "products.csv").write_text(re.sub(r"pictures/[\w-]+\.(?:png|jpg)", "", rows), "utf-8")
    bare = HEAD.format(name="none", opening="closing").replace("orrowby", "plain") + SHELF.format(
        products=products, shots=""
    )
    (root / "campaigns" / "none.yaml").write_text(bare, "utf-8")
    return root


@contextmanager
def counted() -> Iterator[list[str]]:
    """Every time that a picture is looked at, decoded or made."""
    done: list[str] = []
    before = {name: getattr(pixels, name) for name in ("look", "upright", "make")}

    def counting(name: str) -> object:
        def work(*args: object) -> object:
            done.append(name)
            return before[name](*args)

        return work

    try:
        for name in before:
            setattr(pixels, name, counting(name))
        yield done
    finally:
        for name, work in before.items():
            setattr(pixels, name, work)


def _compiled(root: Path, cache: Cache, out: Path) -> float:
    """CPU seconds of a compile of the mail, all threads together."""
    source._hashed.cache_clear()
    shutil.rmtree(out, ignore_errors=True)
    with collector_off():
        start = process_time()
        compile_campaign(Loader(root, cache), root / "campaigns" / "pictures.yaml", out, How())
        return process_time() - start


def plans_of(root: Path) -> tuple[Plan, ...]:
    """The finished pictures of the mail that this is about: neither logo nor icons."""
    loader = Loader(root, Cache())
    plans = Desk(loader, campaign_file(loader, root / "campaigns" / "pictures.yaml")).mail().plans
    return tuple(plan for plan in plans if plan.asked is not None)


def resized(plans: tuple[Plan, ...]) -> list[bytes]:
    """The script: each file opened, resized to the size that it has in the mail, saved as Pillow does."""
    made = []
    for plan in plans:
        frames = []
        for one in plan.frames or (plan.source,):
            with Image.open(one.path) as picture:
                frames.append(ImageOps.fit(picture, plan.pixels))
        out, kind = BytesIO(), plan.content_type.partition("/")[2].upper()
        if kind == "GIF":
            frames[0].save(out, kind, save_all=True, append_images=frames[1:], duration=1000)
        else:
            (frames[0] if kind == "PNG" else frames[0].convert("RGB")).save(out, kind)
        made.append(out.getvalue())
    return made


def _script(plans: tuple[Plan, ...]) -> float:
    with collector_off():
        start = process_time()
        resized(plans)
        return process_time() - start


def _made(plans: tuple[Plan, ...]) -> float:
    cache = Cold()
    with collector_off():
        start = process_time()
        produce_all(plans, cache, 1)
        return process_time() - start


def pictures() -> Pictures:
    """Measures both, in turns."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        root, out = workspace(folder), folder / "out"
        _compiled(root, Cache(), out)
        plans = plans_of(root)
        still = tuple(plan for plan in plans if not plan.frames)
        cold, warm, script, stills, script_stills = [], [], [], [], []
        for _ in range(ROUNDS):
            cache = Cold()
            cold.append(_compiled(root, cache, out))
            warm.append(_compiled(root, cache, out))
            script.append(_script(plans))
            script_stills.append(_script(still))
            stills.append(_made(still))
        with counted() as done:
            _compiled(root, cache, out)
        with counted() as all_done:
            _compiled(root, Cold(), out)
        programs = {
            each: [HANDBILL, "compile", str(root / "campaigns" / f"{each}.yaml"), "--out", str(out)]
            for each in ("pictures", "none")
        }
        found = launched(programs, PROGRAMS, folder, out)
    return Pictures(
        min(cold) - min(warm), min(script), min(stills), min(script_stills),
        found["pictures"]["seconds"], found["none"]["seconds"], len(done), len(all_done),
    )  # fmt: skip


def main() -> None:
    """Print what was measured."""
    found = pictures()
    print(json.dumps({name: round(value, 2) for name, value in found.ratios.items()}, indent=2))
    print(found)


if __name__ == "__main__":
    main()
