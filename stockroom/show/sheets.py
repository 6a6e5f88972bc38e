"""A count sheet as a spreadsheet to fill in; without the book's figures unless they are asked for.

Its headings are those of a file of counts, so that a filled-in sheet is read back as it is.
"""

from datetime import timedelta
from typing import TYPE_CHECKING

from stockroom.show.formats import unit_word
from stockroom.show.layout import plain_text
from stockroom.show.spreadsheet import (
    Heading,
    fit_row,
    new_book,
    put_headings,
    put_number,
    put_text,
    put_time,
    saved,
    set_page,
)
from stockroom.stock.counts import Reason
from stockroom.stock.lists import CountSheet, SheetLine

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.datavalidation import DataValidation
    from openpyxl.worksheet.worksheet import Worksheet

_HEADINGS = (
    ("Place", 14), ("Material", 14), ("Name", 34), ("Unit", 8), ("Aid", 16), ("Amount", 11), ("Counted at", 17),
    ("Who", 12), ("Reason", 17), ("Note", 28), ("Sheet", 16), ("Answers", 24),
)  # fmt: skip
_BOOK = ("Book", 11)
_COLUMN = {heading: column for column, (heading, _) in enumerate((*_HEADINGS, _BOOK), 1)}
_TO_FILL = ("Amount", "Counted at", "Who", "Reason", "Note", "Answers")
_FIGURES = {"Amount", "Book"}
_MOST = 10**9


def sheet_xlsx(sheet: CountSheet) -> bytes:
    """Write a count sheet as a workbook to fill in; a hidden sheet keeps its mark."""
    book, page = new_book("Counts")
    headings = _HEADINGS if sheet.blind else (*_HEADINGS, _BOOK)
    put_headings(page, 1, [Heading(text=text, width=width, right=text in _FIGURES) for text, width in headings])
    lines = [line for group in sheet.by_place.values() for line in group]
    for row, line in enumerate(lines, 2):
        _put_line(page, row, line, sheet.key)
    _guide(page, sheet, len(lines) + 1)
    set_page(page, f"Count sheet {sheet.key}, {sheet.shop}", heading_row=1)
    _put_mark(book, sheet)
    return saved(book)


def _put_line(page: "Worksheet", row: int, line: SheetLine, key: str) -> None:
    from openpyxl.comments import Comment

    texts = {"Place": line.place, "Material": line.material, "Name": line.name, "Unit": unit_word(line.unit)}
    for heading, text in {**texts, "Aid": line.aid, "Sheet": key}.items():
        if text:
            put_text(page, (row, _COLUMN[heading]), text)
    fit_row(page, row, [(line.name, dict(_HEADINGS)["Name"])])
    if line.hint:
        page.cell(row=row, column=_COLUMN["Aid"]).comment = Comment(plain_text(line.hint), "stockroom")
    for heading in _TO_FILL:
        _open(page, row, _COLUMN[heading])
    page.cell(row=row, column=_COLUMN["Counted at"]).number_format = "yyyy-mm-dd hh:mm"
    if line.book is not None:
        put_number(page, (row, _COLUMN["Book"]), line.unit.count(line.book))


def _open(page: "Worksheet", row: int, column: int) -> None:
    from openpyxl.styles import Border, PatternFill, Side

    cell = page.cell(row=row, column=column)
    thin = Side(style="thin", color="8A8272")
    cell.fill = PatternFill("solid", fgColor="FFFBEA")
    cell.border = Border(left=thin, right=thin, top=thin, bottom=thin)


def _guide(page: "Worksheet", sheet: CountSheet, last: int) -> None:
    from openpyxl.utils import get_column_letter

    if last == 1:
        return
    for heading, rule in _rules(sheet).items():
        letter = get_column_letter(_COLUMN[heading])
        rule.add(f"{letter}2:{letter}{last}")
        page.add_data_validation(rule)


def _rules(sheet: CountSheet) -> "dict[str, DataValidation]":
    from openpyxl.worksheet.datavalidation import DataValidation

    earliest = sheet.made - timedelta(days=1)
    amount = DataValidation(type="decimal", operator="between", formula1="0", formula2=str(_MOST), allow_blank=True)
    amount.promptTitle, amount.prompt = (
        "Amount",
        "What you found, in the unit shown. Empty bin: 0. Not counted: leave blank.",
    )
    amount.errorTitle, amount.error = "Amount", "Give a number, 0 or more, in the unit shown; or leave the cell blank."
    when = DataValidation(
        type="date", operator="greaterThan", formula1=f"DATE({earliest.year},{earliest.month},{earliest.day})"
    )
    when.promptTitle, when.prompt = "Counted at", "Day and time of counting this bin, such as 2026-01-31 17:40."
    when.errorTitle, when.error = "Counted at", "Give a day and a time after this sheet was made."
    reason = DataValidation(type="list", formula1=f'"{",".join(Reason)}"', allow_blank=True)
    reason.errorTitle, reason.error = "Reason", "Choose a reason from the list, or leave the cell blank."
    for rule in (amount, when, reason):
        rule.showInputMessage = rule.showErrorMessage = True
    return {"Amount": amount, "Counted at": when, "Reason": reason}


def _put_mark(book: "Workbook", sheet: CountSheet) -> None:
    mark = book.create_sheet("Mark")
    for row, (label, text) in enumerate((("shop", sheet.shop), ("sheet", sheet.key), ("site", sheet.site)), 1):
        put_text(mark, (row, 1), label)
        put_text(mark, (row, 2), text)
    put_text(mark, (4, 1), "made")
    put_time(mark, (4, 2), sheet.made)
    mark.sheet_state = "hidden"
