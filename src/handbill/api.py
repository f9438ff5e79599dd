"""handbill for other programs. Enters: paths; leaves: campaigns compiled, as typed values.

Everything wrong in the user's files is raised at once, as a MistakesError; nothing is printed.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Executor
from pathlib import Path
from typing import Literal, get_args

from handbill.base.cache import Cache
from handbill.base.errors import HandbillError, Mistake, MistakesError, Place, nearest
from handbill.base.files import MARK, find_root
from handbill.base.frozen import dataclass
from handbill.batch.how import How
from handbill.batch.result import CompiledCampaign, CompiledVariant
from handbill.batch.seen import Last
from handbill.preflight.brief import Brief

__all__ = [
    "Brief", "CompiledCampaign", "CompiledVariant", "HandbillError", "Mistake", "MistakesError", "Place",
    "Workspace", "compile", "load",
]  # fmt: skip

Pictures = Literal["base", "cid", "relative"]


@dataclass(frozen=True, slots=True)
class Workspace:
    """A folder with a handbill.yaml. `campaigns` are its campaign files, `brands` its shops' names."""

    root: Path
    campaigns: tuple[Path, ...]
    brands: tuple[str, ...]

    def compile(
        self,
        campaign: str | Path,
        *,
        out: str | Path | None = None,
        brand: str | None = None,
        pictures: Pictures = "base",
        variants: Iterable[str] = (),
        jobs: int = 1,
        executor: Executor | None = None,
        progress: Callable[[int, int], None] | None = None,
    ) -> CompiledCampaign:
        """As `handbill.compile`, for a campaign by its name or its path."""
        path = next((one for one in self.campaigns if one.stem == str(campaign)), self.root / campaign)
        if not path.exists() and Path(campaign).parent == Path():
            names = [one.stem for one in self.campaigns]
            expected, near = (
                f"one of {', '.join(names)}" if names else "a path",
                nearest(str(campaign), names),
            )
            raise MistakesError([Mistake(Place(str(campaign)), "", "no such campaign", expected, near)])
        return compile(
            path, out=out, brand=brand, pictures=pictures,
            variants=variants, jobs=jobs, executor=executor, progress=progress,
        )  # fmt: skip


def load(path: str | Path) -> Workspace:
    """The workspace that holds `path`, a folder or a file. Raises MistakesError."""
    from handbill.loader import Loader

    root = find_root(Path(os.path.abspath(path)))
    if root is None:
        raise MistakesError([Mistake(Place(str(path)), "", "not in a workspace", f"{MARK} there or above")])
    loader = Loader(root, Cache())
    return Workspace(root, tuple(sorted((root / "campaigns").glob("*.yaml"))), tuple(loader.brand_names()))


def compile(
    campaign: str | Path,
    *,
    out: str | Path | None = None,
    brand: str | None = None,
    pictures: Pictures = "base",
    variants: Iterable[str] = (),
    jobs: int = 1,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> CompiledCampaign:
    """Compile a campaign file into `out`, by default out/ in its workspace.

    `brand` stands in for the one in the file. `pictures` says where the mail finds them: at the brand's
    address, inside the mail (cid), or beside it. `variants` are the ids of those to make, all when there are
    none. `jobs` processes share the work, or whatever `executor` runs on; its workers read the workspace
    under the same path, this process alone writes. `progress` is told how many variants of how many are done.

    Raises MistakesError with everything wrong in any variant, and has then written nothing; HandbillError
    when a worker dies.
    """
    path = Path(os.path.abspath(campaign))
    root = find_root(path)
    wrong = [*_asked(pictures, variants, jobs)]
    if not path.is_file():
        near = nearest(path.name, sorted(one.name for one in path.parent.glob("*.yaml")))
        wrong.append(Mistake(Place(str(campaign)), "", "no such file", nearest=near))
    if wrong:
        raise MistakesError(wrong)
    if root is None:
        expected = f"{MARK} in a folder above the file"
        raise MistakesError([Mistake(Place(str(campaign)), "", "not in a workspace", expected)])
    folder = Path(os.path.abspath(out)) if out is not None else root / "out"
    cache, how = Cache(), How(brand, pictures, tuple(variants), jobs, executor)
    last = Last(cache, root, path, folder, how.options())
    if (result := last.result()) is not None:
        return result
    from handbill.batch.run import compile_campaign
    from handbill.loader import Loader

    result = compile_campaign(Loader(root, cache), path, folder, how, stamp=last.inputs, step=progress)
    last.keep(result)
    return result


def _asked(pictures: str, variants: Iterable[str], jobs: int) -> Iterator[Mistake]:
    """What cannot be meant by these arguments; a type checker may not have looked at them."""
    ways = get_args(Pictures)
    if pictures not in ways:
        expected, near = f"one of {', '.join(ways)}", nearest(str(pictures), ways)
        yield Mistake(Place("pictures="), "", f"{pictures!r} is not a choice", expected, near)
    if isinstance(variants, str):
        expected = f"several of them, such as variants=[{variants!r}]"
        yield Mistake(Place("variants="), "", "one text is no collection of ids", expected)
    if jobs < 1:
        yield Mistake(Place("jobs="), "", f"{jobs} processes", "1 or more")
