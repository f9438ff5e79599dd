"""What every test stands on: a cache of its own, steady property tests, and a small shop to compile."""

from __future__ import annotations

import os
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from hypothesis import settings
from PIL import Image

settings.register_profile("steady", derandomize=True, deadline=None, database=None)
settings.load_profile("steady")


@pytest.fixture(scope="session", autouse=True)
def own_cache(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Compiled blocks of earlier runs, or the user's own, must not decide whether a test passes.

    Processes that share the tests of one run share it: the demo's pictures are made once for all.
    """
    folder = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        folder = folder.parent
    os.environ["HANDBILL_CACHE"] = str(folder / "cache")


HANDBILL_YAML = """\
handbill: 1
fields: {first_name: {}, vip: {}, ref: {}}
samples:
  - address: ida@reader.example
    fields: {first_name: Ida, ref: a b}
    links: {unsubscribe: "https://pellow.example/stop?reader=ida"}
"""

BRAND_YAML = """\
handbill: 1
brand: pellow
name: Pellow
site: https://pellow.example
pictures_at: https://pictures.pellow.example/letters/
languages: [en-IE]
timezone: Europe/Dublin
currency: EUR
sender: {name: Pellow, address: letters@pellow.example, reply_to: hello@pellow.example}
postal_address: 4 Tin Lane, Harrowmere
legal: You asked for these letters on [our site](/letters).
navigation:
  - {label: Lamps, link: /lamps}
link_tags: {from: letter, part: "${section.id}"}
products: {file: products.csv}
reviews: {file: reviews.csv}
logo: {for_light: logo.png, alt: Pellow, width: 120}
"""

PRODUCTS_CSV = """\
sku,name,kind,price,was,colours,picture,alt,link,copy
L-100,Wren,lamp,40,80,brass:#c8a04a;black:#101010,wren.png,A brass lamp,/lamps/wren,Bright and small.
L-200,Rook,lamp,30.50,,,rook.png,,/lamps/rook,
"""

REVIEWS_CSV = """\
id,product,name,place,stars,text,verified
R-1,L-100,Nan Ashe,Corrin,5,Nothing here is unusable and all of it is bright.,order number
R-2,,Tom Vale,,,It is fine.,
"""

FOOT = "  - block: footer-nav\n"


class Made(NamedTuple):
    """A mail compiled."""

    mail: Any
    built: Any
    folder: Path
    result: Any


@dataclass(frozen=True)
class Shop:
    """A small workspace of an invented shop: files to change, campaigns to compile."""

    root: Path

    def put(self, name: str, content: str | bytes) -> Path:
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    def change(self, name: str, old: str, new: str) -> None:
        text = (self.root / name).read_text("utf-8")
        assert old in text
        self.put(name, text.replace(old, new))

    def campaign(self, stack: str, head: str = "", foot: str = FOOT, name: str = "spring") -> Path:
        """A campaign whose stack is `stack` and `foot`; `head` adds to its head, or sets it anew."""
        given = {line.partition(":")[0] for line in head.splitlines()}
        base = {"brand": "pellow", "send": "2027-01-15T08:00", "subject": "A letter"}
        lines = [f"{key}: {value}" for key, value in base.items() if key not in given]
        lines += filter(None, [head.rstrip("\n")])
        text = "\n".join(["handbill: 1", f"campaign: {name}", *lines, "stack:"])
        return self.put(f"campaigns/{name}.yaml", f"{text}\n{stack}{foot}")

    def compile(self, stack: str | Path, head: str = "", **how: Any) -> Any:
        """The first variant, written to out/: its mail, its files in memory, its folder, the `Result`."""
        from handbill.base.cache import Cache
        from handbill.batch.how import How
        from handbill.batch.run import compile_campaign
        from handbill.loader import Loader
        from handbill.pipeline import Desk

        path = stack if isinstance(stack, Path) else self.campaign(stack, head)
        loader = Loader(self.root, Cache())
        result = compile_campaign(loader, path, self.root / "out", How(**how))
        desk = Desk(loader, loader.read(path), brand=how.get("brand"), pictures=how.get("pictures", "base"))
        mail, name = desk.mail(0), result.variants[0].id
        return Made(mail, desk.render(mail, name), result.folder / name, result)

    def mistakes(self, stack: str | Path, head: str = "", **how: Any) -> list[str]:
        """What is wrong, one line each; nothing may have been written."""
        from handbill.base.errors import MistakesError

        with pytest.raises(MistakesError) as caught:
            self.compile(stack, head, **how)
        assert not (self.root / "out").exists()
        return [str(one) for one in caught.value.mistakes]


@pytest.fixture(scope="session")
def small_pictures() -> dict[str, bytes]:
    """Three pictures of 600 by 400 px."""
    made = {}
    for name, colour in (("logo.png", "#204060"), ("wren.png", "#c8a04a"), ("rook.png", "#101010")):
        data = BytesIO()
        Image.new("RGB", (600, 400), colour).save(data, "PNG")
        made[name] = data.getvalue()
    return made


@pytest.fixture
def shop(tmp_path: Path, small_pictures: dict[str, bytes]) -> Shop:
    """A workspace of its own for each test."""
    made = Shop(tmp_path / "shop")
    made.put("handbill.yaml", HANDBILL_YAML)
    made.put("brands/pellow/brand.yaml", BRAND_YAML)
    made.put("brands/pellow/products.csv", PRODUCTS_CSV)
    made.put("brands/pellow/reviews.csv", REVIEWS_CSV)
    for name, data in small_pictures.items():
        made.put(f"brands/pellow/pictures/{name}", data)
    return made
