"""Opening XLSX workbooks safely: limits first, then rows as they are asked for."""

import re
import warnings
import zipfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import replace
from datetime import timedelta
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from stockroom.errors import BadFileError, Problem, shorten
from stockroom.intake.cells import Cell
from stockroom.intake.faults import Place, place_of
from stockroom.intake.sheets import MOST_COLUMNS, MOST_ROWS, Merged, Sheet, bad
from stockroom.phrases import phrase

if TYPE_CHECKING:
    from openpyxl.workbook import Workbook

MOST_UNPACKED = 200 * 2**20
MOST_HELD = 24 * 2**20  # parts other than sheets, such as the shared texts, are held in memory
MOST_NUMBERED = 2**20  # rows of a spreadsheet, blank ones too
MOST_RATIO = 250  # sheets of real shops pack about 10 to 1; a bomb 1,000 to 1
SMALL = 2**20  # parts this small may pack as they like
MOST_PARTS = 2_000
_AT_ONCE = 100  # rows
_CHUNK = 2**20
_OVERLAP = 16 * 2**10  # longer than any cell with its formula
MOST_HOLLOW = 50
LONGEST_GAP = 3 * 2**20  # between the beginnings of two rows
_TOO_LARGE = (phrase("The workbook is too large once unpacked"), "Split it, by year for example.")
# None of these patterns can run past the next '<', nor give back spaces: a hostile sheet can't make them slow.
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\s[^<>]*?\bref="([A-Z]+)([0-9]+):([A-Z]+)([0-9]+)"')
_HOLLOW = re.compile(  # a cell with a formula, and no value or an empty one behind it
    rb"<(?:\w+:)?c\b([^<>]*)>\s*+<(?:\w+:)?f\b[^<>]*(?:/>|>[^<]*</(?:\w+:)?f>)"
    rb"\s*+(<(?:\w+:)?v\s*+/>|<(?:\w+:)?v>\s*+</(?:\w+:)?v>)?+\s*+</(?:\w+:)?c>"
)
_ROW = re.compile(rb"<(?:\w+:)?row[\s>/]")
_SHEET = re.compile(rb"<(?:\w+:)?worksheet[\s>]")
_TEXT = re.compile(rb'\bt="str"')  # a formula may well give an empty text
_ENTITIES = re.compile(rb"<!(?:DOCTYPE|ENTITY)")


def open_workbook(path: Path) -> tuple[Sheet, ...]:
    """Open the visible sheets of a workbook."""
    place = place_of(path)
    with ExitStack() as undone:
        handle = undone.enter_context(path.open("rb"))
        try:
            _check_parts(handle, place)
            book = _load(handle)
            undone.callback(book.close)
            shown = [sheet.title for sheet in book.worksheets if sheet.sheet_state == "visible"]
            sheets = tuple(_sheet(place, book, title) for title in shown)
        except BadFileError:
            raise
        except Exception as wrong:
            raise _damaged(place) from wrong  # a damaged workbook can fail anywhere in the library
        close = undone.pop_all().close
    return tuple(replace(sheet, close=close) for sheet in sheets)


def _damaged(place: Place) -> BadFileError:
    return bad(place, "The workbook is damaged, or not one", "Open it in your spreadsheet and save it again as .xlsx.")


def _check_parts(handle: BinaryIO, place: Place) -> None:
    with zipfile.ZipFile(handle) as archive:
        parts = archive.infolist()
        unpacked = sum(part.file_size for part in parts)
        if len(parts) > MOST_PARTS or unpacked > MOST_UNPACKED:
            raise bad(place, *_TOO_LARGE)
        if any(p.file_size > SMALL and p.file_size > MOST_RATIO * max(p.compress_size, 1) for p in parts):
            raise bad(place, "The workbook unpacks to far more than it should", "Don't use this file; ask who made it.")
        if any(part.flag_bits & 1 for part in parts):
            raise bad(place, "The workbook is locked with a password", "Save a copy without the password.")
        for part in parts:
            _check_part(archive, part, place)


def _check_part(archive: zipfile.ZipFile, part: zipfile.ZipInfo, place: Place) -> None:
    """Refuse parts too large to hold, and document types and entities; the parser refuses those too."""
    with archive.open(part) as opened:
        start = opened.read(_CHUNK)
    if part.file_size > MOST_HELD and not _SHEET.search(start):
        raise bad(place, *_TOO_LARGE)
    text = part.filename.casefold().endswith((".xml", ".rels"))
    if text and (b"\0" in start or _ENTITIES.search(start)):  # two-byte letters would hide what is looked for
        raise bad(place, "The workbook holds declarations that a spreadsheet never writes",
                  "Don't use this file; ask who made it.")  # fmt: skip


def _load(handle: BinaryIO) -> "Workbook":
    import defusedxml  # noqa: F401, PLC0415 -- being there, it makes openpyxl refuse entities
    from openpyxl import load_workbook

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about drawings and styles, which aren't read
        return load_workbook(handle, read_only=True, data_only=True, keep_links=False)


def _sheet(whole: Place, book: "Workbook", title: str) -> Sheet:
    place = replace(whole, sheet=shorten(title))
    sheet: Any = book[title]
    merged = _scan(sheet, place)
    total = sheet.max_row
    sheet.reset_dimensions()  # a wrong stated size would cut rows off
    return Sheet(
        place=place,
        rows=_guarded(sheet, place),
        total=total,
        serial_zero=book.epoch.date(),
        merged=merged,
    )


def _scan(sheet: Any, place: Place) -> tuple[Merged, ...]:  # noqa: ANN401 -- private to openpyxl
    """Look through a sheet's text for merged ranges and formulas without values, which rows alone don't show."""
    merged: list[Merged] = []
    hollow: list[str] = []
    tail, rowless = b"", 0
    with sheet._get_source() as source:  # noqa: SLF001 -- the only way to the sheet's own part
        while chunk := source.read(_CHUNK):
            seen = tail + chunk
            merged += [_merged(found) for found in _MERGED.finditer(seen) if found.end() > len(tail)]
            hollow += [
                _reference(found)
                for found in _HOLLOW.finditer(seen)
                if found.end() > len(tail) and not (found[2] and _TEXT.search(found[1]))
            ]
            rowless = 0 if _ROW.search(seen) else rowless + len(chunk)
            if rowless > LONGEST_GAP:
                raise bad(place, "The sheet holds far more than a table's rows", "Copy the table into a new workbook.")
            tail = seen[-_OVERLAP:]
    if hollow:
        raise BadFileError([_no_value(place, reference) for reference in hollow[:MOST_HOLLOW]])
    return tuple(merged)


def _merged(found: re.Match[bytes]) -> Merged:
    left, top, right, bottom = (part.decode() for part in found.groups())
    return Merged(first=int(top), last=int(bottom), cells=f"{left}{top}:{right}{bottom}")


def _reference(found: re.Match[bytes]) -> str:
    stated = re.search(rb'\br="([A-Z]+[0-9]+)"', found[1])
    return stated[1].decode() if stated else ""


def _no_value(place: Place, reference: str) -> Problem:
    return Problem(
        what=phrase("The formula in cell %(cell)s has no value stored with it", cell=reference or phrase("(unnamed)")),
        fix="Open the file in your spreadsheet, let it calculate, and save it; or paste values.",
        file=place.file,
        sheet=place.sheet,
        row=int(re.sub(r"\D", "", reference)) if reference else None,
    )


def _guarded(sheet: Any, place: Place) -> Iterator[tuple[int, Sequence[Cell | None]]]:  # noqa: ANN401 -- openpyxl's
    """Give the filled rows with their numbers; whatever fails inside the library is a damaged workbook."""
    numbered = enumerate(sheet.iter_rows(values_only=True), start=1)
    filled = 0
    while batch := _next_rows(numbered, place):
        for number, row in batch:
            cells = _plain(row)
            filled += bool(cells)
            if filled > MOST_ROWS or number > MOST_NUMBERED:
                raise bad(
                    place,
                    phrase("There are more than %(most)s rows", most=f"{MOST_ROWS:,}"),
                    "Split the file, by year for example.",
                )
            if len(cells) > MOST_COLUMNS:
                wide = phrase("The row is wider than %(most)s columns", most=MOST_COLUMNS)
                raise bad(place, wide, "Remove what isn't in the table.", row=number)
            if cells:
                yield number, cells


def _next_rows(numbered: Iterator[tuple[int, Any]], place: Place) -> list[tuple[int, Any]]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # days out of range become error cells, which are refused
            return list(islice(numbered, _AT_ONCE))
    except Exception as wrong:
        raise _damaged(place) from wrong


def _plain(row: Sequence[Any]) -> list[Cell | None]:
    """Cut empty cells off the end; make lengths of time into texts, which no column takes."""
    last = len(row)
    while last and row[last - 1] in (None, ""):
        last -= 1
    return [str(cell) if isinstance(cell, timedelta) else cell for cell in row[:last]]
