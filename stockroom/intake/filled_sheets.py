"""What a filled-in count sheet holds beside its amounts: its hidden mark, and answers to counting aids."""

import warnings
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from stockroom.errors import UsageError
from stockroom.intake.cells import marks_of
from stockroom.intake.columns import KINDS
from stockroom.intake.faults import Faults
from stockroom.intake.known import BookFacts, LoadScope
from stockroom.intake.parsers import CellReading
from stockroom.intake.sheets import FileSheet, open_sheets
from stockroom.intake.tables import FileTable, ReadRow

MARK = "Mark"  # the hidden sheet
_BOTH = UsageError("An amount and answers are both filled in", fix="Leave one of the two blank.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """Where a sheet comes from: its shop, its own key, its site, and when it was made."""

    shop: str
    key: str
    site: str
    made: datetime | None


def read_mark(path: Path) -> Mark | None:
    """Read the mark of a filled-in workbook; None where there is none (a text file, a sheet made by hand)."""
    if path.suffix.casefold() != ".xlsx":
        return None
    for sheet in open_sheets(path, frozenset()):  # refuses whatever is no sound workbook
        sheet.close()
    facts = _hidden(path)
    if not facts.get("sheet"):
        return None
    made = facts.get("made")
    return Mark(
        shop=str(facts.get("shop", "")),
        key=str(facts["sheet"]),
        site=str(facts.get("site") or "main"),
        made=made if isinstance(made, datetime) else None,
    )


def _hidden(path: Path) -> dict[str, object]:
    import defusedxml  # noqa: F401, PLC0415 -- being there, it makes openpyxl refuse entities
    from openpyxl import load_workbook

    with warnings.catch_warnings(), path.open("rb") as handle:
        warnings.simplefilter("ignore")  # about drawings and styles, which aren't read
        book = load_workbook(handle, read_only=True, data_only=True, keep_links=False)
        if MARK not in book.sheetnames:
            book.close()
            return {}
        rows = [tuple(row) for row in book[MARK].iter_rows(max_row=9, max_col=2, values_only=True)]
        book.close()
    return {str(row[0]): row[1] for row in rows if len(row) > 1 and row[0] is not None}


def read_answers(path: Path, known: BookFacts, *, locale: str, digits: int) -> list[ReadRow]:
    """Read the rows that answer a counting aid instead of stating an amount.

    Raises
    ------
    BadFileError
        With every fault of those rows.
    """
    kind, faults, book = KINDS["counts"], Faults(), LoadScope(known)
    found: list[ReadRow] = []
    for sheet in _sheets(path, frozenset(kind.headers)):
        reading = CellReading(marks=marks_of(locale), digits=digits, book=book, serial_zero=sheet.serial_zero)
        table = FileTable(kind, sheet, reading, faults)
        for line in table.lines() if table.fits else ():
            if line["answers"] and line["amount"] is not None:
                faults.at(line.place, _BOTH, row=line.row, column="answers", value=line["answers"])
            elif line["answers"]:
                found.append(line)
        sheet.close()
    faults.refuse()
    return found


def _sheets(path: Path, headers: frozenset[str]) -> list[FileSheet]:
    opened = open_sheets(path, headers)
    named = [sheet for sheet in opened if sheet.place.sheet.casefold() == KINDS["counts"].stem]
    wanted = named or list(opened[:1])
    for sheet in opened:
        if sheet not in wanted:
            sheet.close()
    return wanted
