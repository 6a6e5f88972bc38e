"""A file as rows of cells, whatever it was written with."""

import codecs
import csv
import io
import re
import warnings
import zipfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import date, timedelta
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from stockroom.errors import BadFileError, Problem, shorten
from stockroom.intake.cells import Cell
from stockroom.intake.columns import plain_header
from stockroom.intake.faults import FilePlace, place_of
from stockroom.phrases import Number, as_phrase, phrase

MOST_BYTES = 64 * 2**20
MOST_ROWS = 250_000  # some seventy years of a busy bench
MOST_COLUMNS = 256

SUFFIXES = (".csv", ".txt", ".tsv", ".xlsx")
OPENINGS = {
    b"PK\x03\x04": "workbook",
    b"\xd0\xcf\x11\xe0": "an old or password-protected spreadsheet",
    b"%PDF": "a PDF",
    b"\x89PNG": "a picture",
    b"\x1f\x8b": "a compressed file",
}


def _nothing() -> None:
    """Close what needs no closing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Merged:
    """A range of merged cells: its first and last row, and how a spreadsheet calls it."""

    first: int
    last: int
    cells: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FileSheet:
    """Rows of one sheet, read as they are asked for; numbered as a spreadsheet numbers them."""

    place: FilePlace
    rows: Iterator[tuple[int, Sequence[Cell | None]]]
    notes: tuple[str, ...] = ()
    total: int | None = None  # rows, where known beforehand
    serial_zero: date | None = None  # day 0 of the serial numbers of a workbook
    merged: tuple[Merged, ...] = ()
    close: Callable[[], None] = _nothing


def open_sheets(path: Path, headers: frozenset[str]) -> tuple[FileSheet, ...]:
    """Open a file; headers are those that may be met, to tell how a text file separates its columns.

    Raises
    ------
    BadFileError
        If the file can't be read as rows of cells. Rows raise it too, while they are read.
    """
    beginning = _beginning(path)
    if beginning == "workbook" and path.suffix.casefold() == ".xlsx":
        return open_workbook(path)
    if beginning == "workbook":
        raise bad(place_of(path), "This is a workbook or a compressed file, by its content",
                  "If it is a workbook, save it as .xlsx.")  # fmt: skip
    if beginning or path.suffix.casefold() == ".xlsx":
        raise bad(
            place_of(path),
            phrase(
                "This is %(what)s, by its content", what=as_phrase(beginning) if beginning else phrase("not a workbook")
            ),
            "Save it as .xlsx or .csv.",
        )

    return (open_text(path, headers),)


def bad(place: FilePlace, what: str, fix: str, *, row: int | None = None) -> BadFileError:
    """Make the error that refuses a file."""
    return BadFileError([Problem(what=what, fix=fix, file=place.file, sheet=place.sheet, row=row)])


def _beginning(path: Path) -> str:
    place = place_of(path)
    try:
        if not path.is_file():
            raise bad(place, "There is no such file", "Check its name and folder.")
        if path.stat().st_size > MOST_BYTES:
            raise bad(
                place,
                phrase("The file is larger than %(most)s MB", most=MOST_BYTES // 2**20),
                "Split it, by year for example.",
            )
        with path.open("rb") as opened:
            first = opened.read(8)
    except (OSError, ValueError) as wrong:
        reason = wrong.strerror if isinstance(wrong, OSError) and wrong.strerror else phrase("its name can't be used")
        raise bad(
            place,
            phrase("The file can't be opened: %(reason)s", reason=reason),
            "Check its name and that you may read it.",
        ) from wrong
    return next((what for mark, what in OPENINGS.items() if first.startswith(mark)), "")


SEPARATORS = (",", ";", "\t")
LONGEST_ROW = 2**20
_LONG = "row too long"
_LOOKED_AT = 30  # rows in which the header may stand
_UTF16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)
_UTF8_LETTER = re.compile(rb"[\xc3-\xc5][\x80-\xbf]|\xe2[\x80-\x82][\x80-\xbf]")  # accents and typographic marks
_OLD_NOTE = phrase("read as Windows-1252, since it isn't UTF-8; check that accents came out right.")


def open_text(path: Path, headers: frozenset[str]) -> FileSheet:
    """Open a text file as one sheet."""
    place = place_of(path)
    text, note = _decoded(path.read_bytes(), place)
    text, separator = _separator(text, headers, place)
    return FileSheet(
        place=place, rows=_rows(text, separator, place), notes=(note,) if note else (), total=text.count("\n") + 1
    )


def _decoded(raw: bytes, place: FilePlace) -> tuple[str, str]:
    note = ""
    try:
        if raw.startswith(_UTF16):
            text = raw.decode("utf-16")
        elif b"\0" in raw:
            raise bad(place, "The file holds NUL bytes; it isn't plain text", "Save it again as CSV in UTF-8.")
        else:
            text, note = _eight_bits(raw, place)
    except UnicodeDecodeError as wrong:
        raise bad(place, "The file's letters can't be read", "Save it again as CSV in UTF-8.") from wrong
    if "\0" in text:
        raise bad(place, "The file holds NUL marks", "Save it again as CSV in UTF-8.")
    return text, note


def _eight_bits(raw: bytes, place: FilePlace) -> tuple[str, str]:
    try:
        return raw.decode("utf-8-sig"), ""
    except UnicodeDecodeError:
        if _UTF8_LETTER.search(raw):
            raise bad(place, "The file mixes two encodings", "Save it again as CSV in UTF-8.") from None
        return raw.decode("cp1252"), _OLD_NOTE


def _separator(text: str, headers: frozenset[str], place: FilePlace) -> tuple[str, str]:
    """Tell how columns are separated: stated in the first line, or by which mark the headers come out."""
    first, _, rest = text.partition("\n")
    stated = re.fullmatch(r"sep=([,;\t])\r?", first)
    if stated:
        return f"\n{rest}", stated[1]  # the blank line keeps the row numbers right
    found = {mark: _headers_met(text, mark, headers) for mark in SEPARATORS}
    best = max(found.values())
    leaders = [mark for mark, met in found.items() if met == best]
    if best and len(leaders) == 1:
        return text, leaders[0]
    used = [mark for mark in SEPARATORS if mark in first]
    if len(used) > 1:
        raise bad(place, "It can't be told how the columns are separated",
                  "Use one of comma, semicolon or tab, and the headers of the template.", row=1)  # fmt: skip
    return text, used[0] if used else ","


def _headers_met(text: str, mark: str, headers: frozenset[str]) -> int:
    """Count the known headers in the row that shows most of them."""
    most = 0
    start = io.StringIO(text[: 64 * 1024], newline="")
    try:
        for row, _ in zip(csv.reader(start, delimiter=mark), range(_LOOKED_AT), strict=False):
            most = max(most, len({plain_header(cell) for cell in row} & headers))
    except csv.Error:
        pass  # said when the rows are read
    return most if most > 1 else 0


_LINE = re.compile(r"[^\r\n]*(?:\r\n|[\r\n])|[^\r\n]+\Z")


class _Lines:
    """Lines of a text, as long as no row grows out of all bounds; csv would hold it in memory whole."""

    def __init__(self, text: str) -> None:
        self._text = text
        self.taken = 0  # letters since the last row

    def __iter__(self) -> Iterator[str]:
        for found in _LINE.finditer(self._text):
            line = found[0]
            self.taken += len(line)
            if self.taken > LONGEST_ROW:
                raise csv.Error(_LONG)
            yield line


def _rows(text: str, separator: str, place: FilePlace) -> Iterator[tuple[int, list[str]]]:
    lines = _Lines(text)
    reader = csv.reader(lines, delimiter=separator, strict=True)
    number = 0
    try:
        if text.count("\n") >= MOST_ROWS:
            _refuse_many(text, separator, place)
        for number, row in enumerate(reader, start=1):
            lines.taken = 0
            if not any(row):
                continue
            yield number, row
    except csv.Error as wrong:
        raise _broken(wrong, place, number + 1) from wrong


def _refuse_many(text: str, separator: str, place: FilePlace) -> None:
    """Count the rows before any of them is looked at; a long text may be one of few rows with long cells."""
    lines, filled = _Lines(text), 0
    for row in csv.reader(lines, delimiter=separator, strict=True):
        lines.taken = 0
        filled += any(row)
        if filled > MOST_ROWS:
            raise _too_many(place)


def _broken(wrong: csv.Error, place: FilePlace, row: int) -> Exception:
    if str(wrong) == _LONG or "field limit" in str(wrong):
        return bad(place, "A cell or row is far too long", "Shorten it, or correct its quotes.", row=row)
    return bad(place, "The quotes of a cell don't match", 'Write a quote inside a quoted cell twice: "".', row=row)


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
_VALUE = re.compile(rb"<(?:\w+:)?(?:v|is)[\s>]")
_SHEET = re.compile(rb"<(?:\w+:)?worksheet[\s>]")
_TEXT = re.compile(rb'\bt="str"')  # a formula may well give an empty text
_ENTITIES = re.compile(rb"<!(?:DOCTYPE|ENTITY)")


def open_workbook(path: Path) -> tuple[FileSheet, ...]:
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
        close = undone.pop_all().close if sheets else undone.close  # with no sheet to carry it, the file is closed here
    return tuple(replace(sheet, close=close) for sheet in sheets)


def _damaged(place: FilePlace) -> BadFileError:
    return bad(place, "The workbook is damaged, or not one", "Open it in your spreadsheet and save it again as .xlsx.")


def _check_parts(handle: BinaryIO, place: FilePlace) -> None:
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


def _check_part(archive: zipfile.ZipFile, part: zipfile.ZipInfo, place: FilePlace) -> None:
    """Refuse parts too large to hold, and document types and entities; the parser refuses those too."""
    filled = _FilledRows(place)
    with archive.open(part) as opened:
        start = opened.read(_CHUNK)
        if _SHEET.search(start):  # before the library looks through all of it for its size
            filled.take(start)
            while chunk := opened.read(_CHUNK):
                filled.take(chunk)
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


def _sheet(whole: FilePlace, book: "Workbook", title: str) -> FileSheet:
    place = replace(whole, sheet=shorten(title))
    sheet: Any = book[title]
    merged = _scan(sheet, place)
    total = sheet.max_row
    sheet.reset_dimensions()  # a wrong stated size would cut rows off
    return FileSheet(
        place=place,
        rows=_guarded(sheet, place),
        total=total,
        serial_zero=book.epoch.date(),
        merged=merged,
    )


def _scan(sheet: Any, place: FilePlace) -> tuple[Merged, ...]:  # noqa: ANN401 -- private to openpyxl
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


class _FilledRows:
    """Counts the rows that hold anything while a sheet's text goes by: one too many, and nothing more is read."""

    def __init__(self, place: FilePlace) -> None:
        self.place = place
        self.begun = False
        self.under_way = b""  # what was seen of the last row
        self.rows = 0

    def take(self, chunk: bytes) -> None:
        """Take the next part of the text."""
        *whole, self.under_way = _ROW.split(self.under_way + chunk)
        self.rows += sum(bool(_VALUE.search(row)) for row in whole[not self.begun :])
        self.begun |= bool(whole)
        if self.rows > MOST_ROWS:
            raise _too_many(self.place)


def _too_many(place: FilePlace) -> BadFileError:
    return bad(
        place,
        phrase("There are more than %(most)s rows", most=Number(MOST_ROWS)),
        "Split the file, by year for example.",
    )


def _merged(found: re.Match[bytes]) -> Merged:
    left, top, right, bottom = (part.decode() for part in found.groups())
    return Merged(first=int(top), last=int(bottom), cells=f"{left}{top}:{right}{bottom}")


def _reference(found: re.Match[bytes]) -> str:
    stated = re.search(rb'\br="([A-Z]+[0-9]+)"', found[1])
    return stated[1].decode() if stated else ""


def _no_value(place: FilePlace, reference: str) -> Problem:
    return Problem(
        what=phrase("The formula in cell %(cell)s has no value stored with it", cell=reference or phrase("(unnamed)")),
        fix="Open the file in your spreadsheet, let it calculate, and save it; or paste values.",
        file=place.file,
        sheet=place.sheet,
        row=int(re.sub(r"\D", "", reference)) if reference else None,
    )


def _guarded(sheet: Any, place: FilePlace) -> Iterator[tuple[int, Sequence[Cell | None]]]:  # noqa: ANN401 -- openpyxl's
    """Give the filled rows with their numbers; whatever fails inside the library is a damaged workbook."""
    numbered = enumerate(sheet.iter_rows(values_only=True), start=1)
    filled = 0
    while batch := _next_rows(numbered, place):
        for number, row in batch:
            cells = _plain(row)
            filled += bool(cells)
            if filled > MOST_ROWS or number > MOST_NUMBERED:
                raise _too_many(place)
            if len(cells) > MOST_COLUMNS:
                wide = phrase("The row is wider than %(most)s columns", most=MOST_COLUMNS)
                raise bad(place, wide, "Remove what isn't in the table.", row=number)
            if cells:
                yield number, cells


def _next_rows(numbered: Iterator[tuple[int, Any]], place: FilePlace) -> list[tuple[int, Any]]:
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
