"""A campaign compiled: all its variants or some. Enters: a campaign file; leaves: files under out/, a result.

Everything is made first, and put in its place only when nothing is wrong: a campaign with a mistake in any
variant writes nothing. What lies there byte by byte already is not touched.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path

from handbill.base.errors import Fault, Mistake, MistakesError, Place
from handbill.base.files import inside
from handbill.base.signals import uninterrupted
from handbill.base.source import child, place, scalar
from handbill.batch.how import How
from handbill.batch.result import CompiledCampaign, CompiledVariant, Hosting
from handbill.batch.spread import Outcome, spread
from handbill.batch.work import Bench, Job, Row, open_desk
from handbill.loader import Loader
from handbill.pipeline import Desk
from handbill.preflight.brief import Brief
from handbill.vary.plan import twins
from handbill.write.store import PICTURES, Listed, Store

Open = dict[tuple[str, str], set[str]]  # pictures that a map does not name, by the map and where they are
Step = Callable[[int, int], None]  # is told how many variants of how many are done


def compile_campaign(
    loader: Loader,
    path: Path,
    out: Path,
    how: How,
    *,
    stamp: str = "",
    step: Step | None = None,
    drawn: Step | None = None,
) -> CompiledCampaign:
    """One campaign from YAML to files below `out`; raises MistakesError and then has written nothing.

    `drawn` is told how many pictures of how many are made. `stamp` stands for the content of all inputs,
    where it is known (`batch.seen`).
    """
    job = Job(str(loader.root), str(path), how.brand, how.pictures, str(out), "", "", stamp, how.strict)
    desk = open_desk(job, loader)
    desk.drawn = drawn
    numbers = sorted(set(desk.numbers(how.variants))) if how.variants else range(len(desk))
    campaign = _named(desk, numbers, str(out))
    try:
        store = Store(out, campaign, loader.name(path))
    except Fault as fault:
        raise MistakesError([fault.at(Place(str(out)))]) from None
    try:
        _own_folder(loader, desk, store)
        job = job._replace(folder=str(store.folder))
        rows = spread(job, desk, store, numbers, how.jobs, how.executor)
        hosted: Open = {}
        made, listed, findings = _made(rows, len(numbers), step, store.folder, desk, hosted)
        with uninterrupted():
            changes = store.commit(listed, desk.scope, partial=bool(how.variants))
    except Fault as fault:
        raise MistakesError([fault.at(Place(str(out)))]) from None
    finally:
        store.close()
    budgets = loader.workspace.budgets
    limits = budgets.html_kb * 1024, budgets.pictures_kb * 1024
    hosting = tuple(_hosting(loader.root, out, hosted))
    return CompiledCampaign(
        campaign, store.folder, made, changes.removed, changes.any, *limits, findings, hosting
    )


def _own_folder(loader: Loader, desk: Desk, store: Store) -> None:
    """Raises MistakesError where the folder holds what another file, still of this name, was made into."""
    other, campaign = store.source_before, store.folder.name
    try:
        path = inside(loader.root, loader.root, other) if other not in ("", store.source) else None
        if path is None or not path.is_file():
            return
        theirs = scalar(child(loader.read(path).root, "campaign"))
    except Fault:
        return
    except MistakesError:  # it cannot be read just now, and is there all the same
        theirs = campaign
    if theirs == campaign:
        named = child(desk.doc.root, "campaign") or desk.doc.root
        message = f"{other} is called {campaign} too, and their folder holds its mails"
        raise MistakesError([Mistake(place(named), "campaign", message, "another name")])


def _hosting(root: Path, out: Path, hosted: Open) -> Iterator[Hosting]:
    """What the maps of hosted pictures leave open, now that all pictures are in their place."""
    if not hosted:
        return
    from handbill.catalogue.hosted import read

    known = {one.name for one in out.glob(f"*/{PICTURES}/*")}
    for (file, base), missing in sorted(hosted.items()):
        named = read((root / file).read_bytes(), file).addresses
        unknown = tuple(sorted(named.keys() - known))
        if missing or unknown:
            yield Hosting(file, base, tuple(sorted(missing)), unknown)


def _named(desk: Desk, numbers: Sequence[int], out: str) -> str:
    """The campaign's name; raises MistakesError with what is wrong in any variant when the first has none."""
    try:
        name: str = desk.mail(numbers[0]).campaign.campaign
    except MistakesError:
        bench, mistakes = Bench(desk, _Nowhere(), out), set[Mistake]()
        for number in numbers:
            try:
                bench.make(number)
            except MistakesError as error:
                mistakes.update(error.mistakes)
        raise MistakesError(mistakes) from None
    return name


class _Nowhere:
    """A sink for what is only checked."""

    def stage(self, _variant: str, _files: Mapping[str, bytes]) -> bool:
        return False

    def picture(self, _name: str, _data: bytes) -> bool:
        return False


def _made(
    rows: Iterable[Outcome], total: int, step: Step | None, folder: Path, desk: Desk, hosted: Open
) -> tuple[tuple[CompiledVariant, ...], list[Listed], tuple[Brief, ...]]:
    """All rows in order, and what was found in any of them; `hosted` takes what maps of pictures leave open.

    Raises MistakesError with everything wrong in any variant, and for two alike.
    """
    made: dict[int, tuple[CompiledVariant, Listed]] = {}
    mistakes: set[Mistake] = set()
    known: dict[tuple[str, ...], tuple[str, ...]] = {}
    first_of: dict[bytes, int] = {}
    alike: dict[Place, Mistake] = {}
    findings: set[Brief] = set()
    for row in rows:
        if isinstance(row, Row):
            names = known.setdefault(row.names, row.names)  # most variants use the same pictures
            first = first_of.setdefault(row.digest, row.number)
            if first != row.number:
                mistake = twins(desk.plan, *(desk.plan[one] for one in sorted((first, row.number))))
                if mistake is not None:  # once for each place: an axis may make thousands of pairs
                    alike.setdefault(mistake.place, mistake)
            made[row.number] = (
                CompiledVariant(
                    row.id, folder, row.subject, row.html, row.text, row.eml, row.pictures, row.written
                ),
                Listed(row.id, names, desk.scope),
            )
            findings.update(row.findings)
            if row.hosted is not None:
                hosted.setdefault(row.hosted[:2], set()).update(row.hosted[2])
            if step is not None:
                step(len(made), total)
        else:
            mistakes.update(row)
    if mistakes or alike:
        raise MistakesError([*mistakes, *alike.values()])
    ordered = [made[number] for number in sorted(made)]
    return tuple([one for one, _ in ordered]), [one for _, one in ordered], tuple(sorted(findings))
