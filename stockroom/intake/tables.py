"""A sheet against a kind's declared columns: the header found, every cell read, every fault kept.

Below it, what the readers of its rows share: faults of whole rows, amounts in a material's own dimension, rows met
twice, keys.
"""

import hashlib
from collections import Counter
from collections.abc import Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from itertools import chain, islice
from typing import Any

from stockroom.errors import Problem, StockroomError, UsageError, nearest, shorten
from stockroom.intake.cells import Cell, written
from stockroom.intake.columns import Field, FileKind, plain_header
from stockroom.intake.faults import Faults, FilePlace
from stockroom.intake.known import LoadScope
from stockroom.intake.parsers import BLANK, LONG, LONGEST_WORD, CellReading, Parse, parser
from stockroom.intake.sheets import FileSheet
from stockroom.phrases import as_phrase, joined, phrase, trimmed
from stockroom.stock.bounds import MOST_WEEKLY
from stockroom.stock.materials import Material
from stockroom.stock.quantities import LIMIT, Quantity, Unit, plain

Row = tuple[int, Sequence[Cell | None]]
HEADER_WITHIN = 30  # filled rows
PASSED_OVER = "#"  # a header that begins with it isn't read
_MOST_CACHED = 20_000
_ERRORS = frozenset(
    {"#N/A", "#DIV/0!", "#VALUE!", "#REF!", "#NAME?", "#NUM!", "#NULL!", "#SPILL!", "#CALC!", "#GETTING_DATA"}
)
_MISSING = object()


@dataclass(frozen=True, slots=True)
class ReadRow:
    """One row read: its place, its values by column, and whether a cell of it was at fault."""

    place: FilePlace
    row: int
    values: Mapping[str, Any]
    bad: bool = False

    def __getitem__(self, column: str) -> Any:  # noqa: ANN401 -- a row holds values of many types
        return self.values[column]


@dataclass(slots=True)
class _Reader:
    """A column as it stands in a sheet."""

    column: Field
    index: int
    parse: Parse
    blank: object
    cache: dict[str, object]


class FileTable:
    """A sheet whose header was found and fits its kind."""

    def __init__(self, kind: FileKind, sheet: FileSheet, reading: CellReading, faults: Faults) -> None:
        self.kind, self.place, self._faults = kind, sheet.place, faults
        filled = (row for row in sheet.rows if not _is_blank(row[1]))
        start = list(islice(filled, HEADER_WITHIN))
        at = _header_at(start, kind)
        if at is None:
            faults.at(sheet.place, UsageError("There are no rows.", fix="Begin with the headers of the template."))
        self.fits = at is not None and self._fits(*start[at])
        if at is None or not self.fits:
            return
        number, header = start[at]
        self._refuse_merged(sheet, number)
        self._rows: Iterator[Row] = chain(start[at + 1 :], filled)
        self._readers = _readers(kind, header, reading)
        self._headed = {i for i, cell in enumerate(header) if cell is not None and written(cell)}
        self._edge = next(i for i in range(len(header) + 1) if i not in self._headed)
        self._absent = {
            c.name: BLANK.get(c.type) for c in kind.columns if c.name not in {r.column.name for r in self._readers}
        }

    def lines(self) -> Iterator[ReadRow]:
        """Read the rows under the header."""
        for number, cells in self._rows:
            yield self._line(number, cells)

    def _line(self, number: int, cells: Sequence[Cell | None]) -> ReadRow:
        values = self._absent.copy()
        width, fine = len(cells), True
        for reader in self._readers:
            cell = cells[reader.index] if reader.index < width else None
            found = reader.cache.get(cell, _MISSING) if type(cell) is str else _MISSING
            if found is _MISSING:
                found, good = self._read(reader, cell, number)
                fine = fine and good
            values[reader.column.name] = found
        if width > self._edge and not self._all_headed(number, cells):
            fine = False
        return ReadRow(self.place, number, values, not fine)

    def _read(self, reader: _Reader, cell: Cell | None, number: int) -> tuple[object, bool]:
        column = reader.column
        try:
            if cell is None or (isinstance(cell, str) and not cell.strip()):
                if column.required:
                    raise UsageError(
                        "The cell is blank, but it is needed.",
                        fix=phrase("Fill it in: %(meaning)s", meaning=as_phrase(column.meaning)),
                    )
                return reader.blank, True
            if isinstance(cell, str):
                _check_word(cell, column)
            found = reader.parse(cell)
        except StockroomError as wrong:
            self._faults.at(self.place, wrong, row=number, column=column.title, value=_seen(cell))
            return reader.blank, False
        if type(cell) is str and len(reader.cache) < _MOST_CACHED:
            reader.cache[cell] = found
        return found, True

    def _all_headed(self, number: int, cells: Sequence[Cell | None]) -> bool:
        loose = [
            cell for i, cell in enumerate(cells) if i not in self._headed and cell is not None and written(cell) != ""
        ]
        if loose:
            self._faults.add(
                Problem(
                    what="A value stands in a column without a header",
                    fix="Put text that holds the column separator in quotes, or give the column a header.",
                    file=self.place.file,
                    sheet=self.place.sheet,
                    row=number,
                    value=_seen(loose[0]),
                )
            )
        return not loose

    def _refuse_merged(self, sheet: FileSheet, header: int) -> None:
        for merged in sheet.merged:
            if merged.last >= header:
                self._faults.at(
                    self.place,
                    UsageError(
                        phrase("Cells %(cells)s are merged; only one of them holds a value.", cells=merged.cells),
                        fix="Unmerge them and fill in each.",
                    ),
                    row=merged.first,
                )

    def _fits(self, number: int, header: Sequence[Cell | None]) -> bool:
        names = _names(self.kind, header)
        columns = {column.name: column for column in self.kind.columns}
        wrong = [_missing(column) for name, column in columns.items() if _needed(column) and name not in names]
        titles = {column.title for column in columns.values()}
        wrong += [_unknown(name, titles) for name in names if name and name not in columns and name[0] != PASSED_OVER]
        wrong += [_double(columns[name].title) for name in sorted(columns) if names.count(name) > 1]
        for error in wrong:
            self._faults.at(self.place, error, row=number)
        return not wrong


def _names(kind: FileKind, header: Sequence[Cell | None]) -> list[str]:
    """Give the names of the columns that a row's cells head, whichever of their headers stands there."""
    headers = kind.headers
    said = (plain_header(written(cell)) if cell is not None else "" for cell in header)
    return [headers.get(each, each) for each in said]


def _is_blank(cells: Sequence[Cell | None]) -> bool:
    return not any(cell is not None and (not isinstance(cell, str) or cell.strip()) for cell in cells)


def _header_at(start: Sequence[Row], kind: FileKind) -> int | None:
    """Find the header among the first rows: the one that holds most of the kind's columns."""
    if not start:
        return None
    known = {column.name for column in kind.columns}
    met = [len(set(_names(kind, cells)) & known) for _, cells in start]
    return met.index(max(met))


def _readers(kind: FileKind, header: Sequence[Cell | None], reading: CellReading) -> list[_Reader]:
    places = {name: i for i, name in enumerate(_names(kind, header)) if name}
    return [
        _Reader(column, places[column.name], parser(column, reading), BLANK.get(column.type), {})
        for column in kind.columns
        if column.name in places
    ]


def _check_word(cell: str, column: Field) -> None:
    if cell in _ERRORS:
        raise UsageError("The spreadsheet shows an error here.", fix="Correct the formula, or type the value.")
    if len(cell) > LONGEST_WORD and column.type not in LONG:
        raise UsageError(
            "The cell is too long for what it should hold.", fix=phrase("It should hold %(type)s.", type=column.type)
        )


def _seen(cell: Cell | None) -> str:
    return "" if cell is None else written(cell)[:LONGEST_WORD]


def _needed(column: Field) -> bool:
    return column.required or column.headed


def _missing(column: Field) -> UsageError:
    return UsageError(
        phrase("No column is headed '%(name)s'.", name=column.title),
        fix=joined(
            (phrase("Put the headers in one row, unmerged, as the template has them."), as_phrase(column.meaning))
        ),
    )


def _unknown(name: str, known: set[str]) -> UsageError:
    return UsageError(
        phrase("No column is called '%(name)s'.", name=shorten(name)),
        fix=joined(
            (nearest(name, known), phrase("Correct the header, or put # before it to have the column passed over."))
        ),
    )


def _double(name: str) -> UsageError:
    return UsageError(phrase("Two columns are headed '%(name)s'.", name=name), fix="Keep one of them.")


@dataclass(frozen=True, slots=True)
class Context:
    """What a reader works with."""

    book: LoadScope
    faults: Faults
    counted: datetime | None = None  # when bins were counted whose rows don't say

    def blame(self, line: ReadRow, error: StockroomError, *, column: str = "", value: object = "") -> None:
        """Keep a fault of a row."""
        self.faults.add(
            Problem(
                what=trimmed(error.what),
                fix=error.fix,
                file=line.place.file,
                sheet=line.place.sheet,
                row=line.row,
                column=column,
                value=str(value),
            )
        )


class RowsSeen:
    """Rows by identity, to meet one a second time: alike it is passed over, different it is a fault."""

    def __init__(self, context: Context, what: str) -> None:
        self._context, self._what = context, what
        self._met: dict[Hashable, tuple[FilePlace, int, object]] = {}

    def again(self, line: ReadRow, identity: Hashable, noun: object) -> bool:
        """Say whether a row repeats an earlier one."""
        place, row, was = self._met.setdefault(identity, (line.place, line.row, noun))
        if row == line.row and place == line.place:
            return False
        where = phrase("row %(number)s", number=row)
        if place != line.place:
            where = phrase("%(file)s row %(number)s", file=place.file, number=row)
        if was == noun:
            note = phrase("row %(number)s repeats %(where)s and was passed over.", number=line.row, where=where)
            self._context.faults.note(line.place, note)
        else:
            facts = {"what": as_phrase(self._what), "where": where}
            again = phrase("%(what)s stands in %(where)s already, with other content.", **facts)
            self._context.blame(line, UsageError(again, fix="Keep one of the two."))
        return True


def tax(rate: Decimal | None) -> str:
    """Write a tax rate as the nouns keep it."""
    return "" if rate is None else plain(rate)


def weekly(line: ReadRow, context: Context) -> str:
    """Write what is usual in a week as the nouns keep it; blames the row for more than can be."""
    number = line["usual a week"]
    if number and number > MOST_WEEKLY:
        what = phrase("%(number)s a week is more than any bench does.", number=plain(number))
        context.blame(line, UsageError(what, fix="Check the figure."), column="usual a week", value=plain(number))
    return "" if not number else plain(number)


def amount(line: ReadRow, context: Context, *, material: str | None = None, column: str = "amount") -> Quantity | None:
    """Read an amount into its material's dimension; blames the row and gives None where that can't be."""
    stated = line[column]
    found = context.book.materials.get(material or line["material"])
    if stated is None or found is None:
        return None
    try:
        return _limited(found.to_base(_unit(line, found).of(stated)))
    except StockroomError as wrong:
        context.blame(line, wrong, column=column, value=written(f"{plain(stated)} {_unit(line, found).name}"))
        return None


def _unit(line: ReadRow, material: Material) -> Unit:
    stated: Unit | None = line["unit"]
    return stated or material.unit


def _limited(found: Quantity) -> Quantity:
    if found.nano > LIMIT:
        raise UsageError(
            phrase("%(found)s is more than the book can hold.", found=found), fix="Check the amount and its unit."
        )
    return found


def one_spelling(line: ReadRow, context: Context, kind: str) -> bool:
    """Say whether a code is written as the book has it; blames the row where only capitals differ."""
    twin = context.book.declared(kind, line["code"])
    if twin in (None, line["code"]):
        return True
    error = UsageError(
        phrase("'%(twin)s' is the same code but for capitals.", twin=twin),
        fix=phrase("Write it as '%(twin)s'.", twin=twin),
    )
    context.blame(line, error, column="code", value=line["code"])
    return False


def another(line: ReadRow, context: Context, kind: str, column: str) -> str:
    """Give the code of another row of the same kind that a cell names, wherever it stands; others are refused."""
    if not line[column]:
        return ""
    try:
        code = context.book.resolve(kind, line[column])
        if code == line["code"]:
            raise UsageError("A row can't name itself.", fix="Name another one, or leave it blank.")
    except StockroomError as wrong:
        context.blame(line, wrong, column=column, value=line[column])
        return ""
    return code


class Keys:
    """Keys for rows without a number of their own: a hash of the content, and a count among a file's rows alike.

    Files that overlap bring the same keys, whether they are loaded together or one after the other.
    """

    def __init__(self, kind: str, context: Context) -> None:
        self._kind, self._context = kind, context
        self._met: Counter[tuple[FilePlace, str]] = Counter()
        self._given: set[str] = set()

    def key(self, line: ReadRow, *content: object) -> str | None:
        """Give a row's key, or None (and a note) if another file has brought it already."""
        mark = digest(*content)
        self._met[line.place, mark] += 1
        key = f"{self._kind}:{mark}:{self._met[line.place, mark]}"
        if key in self._given:
            note = phrase("row %(number)s stands in another file too and was passed over.", number=line.row)
            self._context.faults.note(line.place, note)
            return None
        self._given.add(key)
        return key


def digest(*content: object) -> str:
    """Give a short hash of some content."""
    return hashlib.sha256("\x1f".join(map(str, content)).encode()).hexdigest()[:20]
