"""A share of a campaign's variants, as any executor may run it. Enters and leaves: plain data and bytes.

A worker opens the campaign once and keeps it for its next share. What it makes goes straight into the run's
hidden folder where it sees the same disk, else back to whoever asked.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import astuple
from pathlib import Path
from threading import local
from typing import TYPE_CHECKING, NamedTuple, Protocol

from handbill.base.cache import Cache
from handbill.base.errors import Fault, Mistake, MistakesError, Place
from handbill.batch.blame import Blame
from handbill.loader import Loader
from handbill.pictures.produce import produced
from handbill.pipeline import Desk, campaign_file
from handbill.preflight.brief import Brief
from handbill.resolve.shop import CID
from handbill.write.store import Tray

if TYPE_CHECKING:
    from handbill.resolve.mail import Mail

Flat = tuple[str | int, ...]  # a mistake with its place, as plain data


class Job(NamedTuple):
    """What all shares of a run have in common.

    `stamp` stands for the inputs: another one means another run, an empty one that nothing is kept for it.
    `staging` is empty where workers do not see the disk that is written to; `out` is how messages call it.
    A `strict` run takes findings for mistakes.
    """

    root: str
    file: str
    brand: str | None
    pictures: str
    out: str
    folder: str
    staging: str
    stamp: str
    strict: bool = False


class Row(NamedTuple):
    """One variant made: sizes in bytes, its pictures by name, a digest that tells two alike, findings.

    `hosted`: the map of its pictures' addresses, where those are that it does not name, and their names.
    """

    number: int
    id: str
    subject: str
    html: int
    text: int
    eml: int
    pictures: int
    names: tuple[str, ...]
    digest: bytes
    written: bool
    findings: tuple[Brief, ...] = ()
    hosted: tuple[str, str, tuple[str, ...]] | None = None


class Share(NamedTuple):
    """What became of a share. `files` and `pictures` are empty where they went into the hidden folder."""

    rows: tuple[Row, ...]
    mistakes: tuple[Flat, ...]
    files: Mapping[str, Mapping[str, bytes]]
    pictures: Mapping[str, bytes]


class Sink(Protocol):
    """Where a variant's files and pictures go; both say whether that changes anything."""

    def stage(self, variant: str, files: Mapping[str, bytes]) -> bool: ...
    def picture(self, name: str, data: bytes) -> bool: ...


class _Basket:
    """A sink that carries everything back."""

    def __init__(self) -> None:
        self.files: dict[str, Mapping[str, bytes]] = {}
        self.pictures: dict[str, bytes] = {}

    def stage(self, variant: str, files: Mapping[str, bytes]) -> bool:
        self.files[variant] = files
        return True

    def picture(self, name: str, data: bytes) -> bool:
        self.pictures[name] = data
        return True


class Bench:
    """A campaign at work: its desk, where its files go, and the pictures that went there already."""

    def __init__(self, desk: Desk, sink: Sink, out: str, strict: bool = False) -> None:
        self.desk, self.sink, self.out, self.strict = desk, sink, out, strict
        self.blame = Blame(desk)
        self.put_by: set[str] = set()

    def make(self, number: int) -> Row:
        """One variant. Raises MistakesError."""
        desk = self.desk
        name, mail = desk.id(number), desk.mail(number)
        try:
            built = desk.render(mail, name)
        except MistakesError as error:
            raise MistakesError(self.blame.told(number, error.mistakes)) from None
        findings = desk.findings(mail)
        if self.strict and any(one.stops for one in findings):
            raise MistakesError(_mistake(one) for one in findings if one.stops)
        plans = () if desk.pictures == CID else mail.plans
        try:
            for plan in plans:
                if plan.name not in self.put_by:
                    self.sink.picture(plan.name, produced(plan, desk.loader.cache))
                    self.put_by.add(plan.name)
            written = self.sink.stage(name, built.files())
        except Fault as fault:
            raise MistakesError([fault.at(Place(self.out))]) from None
        sizes, names = built.sizes, tuple(plan.name for plan in plans)
        return Row(
            number, name, mail.subject.sampled.header, sizes.html, sizes.text, sizes.eml, sizes.pictures,
            names, built.digest, written, findings, _hosted(mail, names),
        )  # fmt: skip


def _hosted(mail: Mail, names: Iterable[str]) -> tuple[str, str, tuple[str, ...]] | None:
    pictures = mail.shop.pictures
    if pictures.hosted is None:
        return None
    known = pictures.hosted.addresses
    return pictures.hosted.file, pictures.base, tuple([name for name in names if name not in known])


class _Mine(local):
    """What a worker, or a thread of one, has open: one campaign, and where it writes."""

    desk: tuple[Job, Desk] | None = None
    bench: tuple[Job, Bench] | None = None


_mine = _Mine()


def open_desk(job: Job, loader: Loader | None = None) -> Desk:
    """The campaign of a job; the same one as before while its inputs are the same. Raises MistakesError."""
    key = job._replace(out="", folder="", staging="")
    if _mine.desk is None or _mine.desk[0] != key or not job.stamp:
        loader = loader or Loader(Path(job.root), Cache())
        doc = campaign_file(loader, Path(job.file))
        _mine.desk = key, Desk(loader, doc, brand=job.brand, pictures=job.pictures, strict=job.strict)
    return _mine.desk[1]


def share(job: Job, numbers: tuple[int, ...], have: tuple[str, ...] = ()) -> Share:
    """The variants of these numbers; `have` names pictures that need not come back."""
    basket = _Basket()
    rows: list[Row] = []
    mistakes: set[Mistake] = set()
    try:
        bench = _bench(job, basket, have)
        for number in numbers:
            try:
                rows.append(bench.make(number))
            except MistakesError as error:
                mistakes.update(error.mistakes)
    except MistakesError as error:
        mistakes.update(error.mistakes)
    return Share(tuple(rows), tuple(map(flat, mistakes)), basket.files, basket.pictures)


def _bench(job: Job, basket: _Basket, have: tuple[str, ...]) -> Bench:
    if not job.staging:
        bench = Bench(open_desk(job), basket, job.out, job.strict)
        bench.put_by.update(have)
        return bench
    if _mine.bench is None or _mine.bench[0] != job:
        tray = Tray(Path(job.folder), Path(job.staging))
        _mine.bench = job, Bench(open_desk(job), tray, job.out, job.strict)
    return _mine.bench[1]


def _mistake(one: Brief) -> Mistake:
    """A finding that a strict run stops for."""
    return Mistake(Place(one.file, one.line, one.column), f"{one.section}, {one.rule}", one.message)


def flat(mistake: Mistake) -> Flat:
    """A mistake as plain data."""
    place, *words = astuple(mistake)
    return (*place, *words)


def mistakes_of(flats: tuple[Flat, ...]) -> Iterator[Mistake]:
    """The other way round."""
    for file, line, column, *words in flats:
        yield Mistake(Place(str(file), int(line), int(column)), *map(str, words))
