"""The one way in: files to checked nouns, whole or not at all."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from stockroom.errors import BadFileError, Problem
from stockroom.intake.cells import marks_of
from stockroom.intake.columns import KINDS, FileKind
from stockroom.intake.faults import MOST, Faults, FilePlace, TooManyFaultsError
from stockroom.intake.known import BookFacts, LoadScope
from stockroom.intake.loaded import Loaded
from stockroom.intake.parsers import CellReading
from stockroom.intake.readers.agreements import read_standing, read_substitutes
from stockroom.intake.readers.catalogue import (
    read_closures,
    read_events,
    read_materials,
    read_offers,
    read_postage,
    read_services,
    read_shop,
    read_suppliers,
)
from stockroom.intake.readers.stock import read_counts, read_goods, read_opening, read_sales, read_uses, read_waste
from stockroom.intake.readers.work import read_jobs, read_recipes, read_tickets
from stockroom.intake.sheets import FileSheet
from stockroom.intake.sources import SourceSheet, arrange, parts, sources
from stockroom.intake.tables import Context, FileTable, ReadRow
from stockroom.phrases import Number, phrase

Progress = Callable[[str, int, int | None], None]  # file and sheet, rows read so far, rows in all where known
Reader = Callable[[Iterator[ReadRow], Context], Any]

_EVERY = 500  # rows between two words of progress

_READERS: Mapping[str, Reader] = {
    "shop": read_shop,
    "materials": read_materials,
    "suppliers": read_suppliers,
    "offers": read_offers,
    "jobs": read_jobs,
    "recipes": read_recipes,
    "closures": read_closures,
    "events": read_events,
    "postage": read_postage,
    "services": read_services,
    "substitutes": read_substitutes,
    "standing": read_standing,
    "opening": read_opening,
    "deliveries": read_goods,
    "past-jobs": read_tickets,
    "uses": read_uses,
    "sales": read_sales,
    "waste": read_waste,
    "counts": read_counts,
}


@dataclass(slots=True)
class _Load:
    """A load under way."""

    book: LoadScope
    locale: str
    digits: int
    progress: Progress | None
    counted: datetime | None = None
    now: datetime | None = None
    faults: Faults = field(default_factory=Faults)
    rows: dict[str, int] = field(default_factory=dict)


def read_files(
    paths: Sequence[str | Path],
    known: BookFacts,
    *,
    locale: str,
    digits: int,
    progress: Progress | None = None,
    counted: datetime | None = None,
    now: datetime | None = None,
) -> Loaded:
    """Read files and folders into checked nouns.

    Parameters
    ----------
    paths : sequence of str or Path
        Folders, files named after their kind, 'kind=file', or 'layout.toml=file'.
    known : Known
        What the book holds already and rows may refer to.
    locale : str
        How numbers and days are written, such as 'en_IE'; a shop file among the files overrules it.
    digits : int
        Decimals of the shop's currency; a shop file overrules it too.
    progress : callable, optional
        Called now and then with the file's name, the rows read and, where known, the rows in all.
    counted : datetime, optional
        When bins were counted whose rows don't say; without it such a row is a fault.
    now : datetime, optional
        The moment of reading: a row of what happened later is a fault.

    Returns
    -------
    Loaded
        Nouns by kind.

    Raises
    ------
    BadFileError
        With every fault of every file.
    """
    load = _Load(book=LoadScope(known), locale=locale, digits=digits, progress=progress, counted=counted, now=now)
    opened: list[SourceSheet] = []

    def read() -> Loaded:
        for source in sources(paths, load.faults):
            opened.extend(parts(source, load.faults, load.book))
        return _read_all(load, _once(opened))

    try:
        return _checked(load, read)
    finally:
        for part in opened:
            part.sheet.close()


def read_rows(
    rows: Mapping[str, Sequence[Mapping[str, str]]],
    known: BookFacts,
    *,
    locale: str,
    digits: int,
    now: datetime | None = None,
) -> Loaded:
    """Read rows that were typed, by the stem of their kind, as rows of files are read.

    Raises
    ------
    BadFileError
        With every fault of every row; they are counted from 1.
    """
    load = _Load(book=LoadScope(known), locale=locale, digits=digits, progress=None, now=now)
    typed = [SourceSheet(kind=KINDS[stem], sheet=_typed(KINDS[stem], mine)) for stem, mine in rows.items()]
    return _checked(load, lambda: _read_all(load, typed))


def _typed(kind: FileKind, rows: Sequence[Mapping[str, str]]) -> FileSheet:
    names = [column.name for column in kind.columns]
    cells = [(number, [row.get(name, "") for name in names]) for number, row in enumerate(rows, start=1)]
    return FileSheet(place=FilePlace(file=kind.title), rows=iter([(0, names), *cells]))


def _checked(load: _Load, read: Callable[[], Loaded]) -> Loaded:
    """Read, and refuse the whole with all that was found wrong."""
    try:
        loaded = read()
    except TooManyFaultsError:
        load.faults.problems[-1] = Problem(
            what=phrase("There are more than %(most)s problems; reading stopped here", most=Number(MOST - 1))
        )
    load.faults.refuse()
    return replace(loaded, rows=load.rows, notes=load.faults.remarks())


def _once(opened: Sequence[SourceSheet]) -> list[SourceSheet]:
    """Leave out what was named twice, such as a folder and a file in it."""
    return list({(part.sheet.place, part.kind.stem): part for part in opened}.values())


def _read_all(load: _Load, opened: Sequence[SourceSheet]) -> Loaded:
    found: dict[str, Any] = {}
    for stem, kind in KINDS.items():
        mine = [part for part in opened if part.kind is kind]
        if not mine:
            continue
        before = len(load.faults.problems)
        found[stem] = _READERS[stem](_lines(load, kind, mine), Context(load.book, load.faults, load.counted))
        if len(load.faults.problems) > before:
            load.book.doubtful.add(stem)
        if stem == "shop":
            load.locale = found[stem].get("locale", load.locale)
            load.digits = int(found[stem].get("currency_digits", load.digits))
    return _loaded(found)


def _loaded(found: Mapping[str, Any]) -> Loaded:
    goods = found.get("deliveries")
    renamed = {"past-jobs": "tickets"}
    lists: dict[str, Any] = {
        renamed.get(stem, stem): tuple(nouns) for stem, nouns in found.items() if stem not in ("shop", "deliveries")
    }
    return Loaded(
        settings=found.get("shop", {}),
        deliveries=goods.deliveries if goods else (),
        orders=goods.orders if goods else (),
        **lists,
    )


def _lines(load: _Load, kind: FileKind, mine: Sequence[SourceSheet]) -> Iterator[ReadRow]:
    """Give the rows of all files of a kind, one after the other; a file that breaks off is a fault."""
    for part in mine:
        try:
            yield from _lines_of(load, kind, part)
        except BadFileError as wrong:
            load.book.leave_open(kind.stem)
            load.faults.take(wrong)


def _lines_of(load: _Load, kind: FileKind, part: SourceSheet) -> Iterator[ReadRow]:
    sheet, locale = part.sheet, load.locale
    for note in sheet.notes:
        load.faults.note(sheet.place, note)
    if part.layout is not None:
        sheet = arrange(part.layout, sheet, load.book, load.faults)
        locale = part.layout.locale or locale
    reading = CellReading(
        marks=marks_of(locale), digits=load.digits, book=load.book, serial_zero=sheet.serial_zero, now=load.now
    )
    table = FileTable(kind, sheet, reading, load.faults)
    if not table.fits:
        load.book.leave_open(kind.stem)
        return
    for count, line in enumerate(table.lines(), start=1):
        load.rows[kind.stem] = load.rows.get(kind.stem, 0) + 1
        if load.progress is not None and count % _EVERY == 0:
            load.progress(f"{sheet.place.file} {sheet.place.sheet}".rstrip(), count, sheet.total)
        yield line
