"""A file as rows of cells, whatever it was written with."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from stockroom.errors import BadFileError, Problem
from stockroom.intake.cells import Cell
from stockroom.intake.faults import Place, place_of
from stockroom.phrases import as_phrase, phrase

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
class Sheet:
    """Rows of one sheet, read as they are asked for; numbered as a spreadsheet numbers them."""

    place: Place
    rows: Iterator[tuple[int, Sequence[Cell | None]]]
    notes: tuple[str, ...] = ()
    total: int | None = None  # rows, where known beforehand
    serial_zero: date | None = None  # day 0 of the serial numbers of a workbook
    merged: tuple[Merged, ...] = ()
    close: Callable[[], None] = _nothing


def open_sheets(path: Path, headers: frozenset[str]) -> tuple[Sheet, ...]:
    """Open a file; headers are those that may be met, to tell how a text file separates its columns.

    Raises
    ------
    BadFileError
        If the file can't be read as rows of cells. Rows raise it too, while they are read.
    """
    beginning = _beginning(path)
    if beginning == "workbook" and path.suffix.casefold() == ".xlsx":
        from stockroom.intake.workbooks import open_workbook  # noqa: PLC0415 -- slow import

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
    from stockroom.intake.text_files import open_text  # noqa: PLC0415 -- the two readers don't need each other

    return (open_text(path, headers),)


def bad(place: Place, what: str, fix: str, *, row: int | None = None) -> BadFileError:
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
