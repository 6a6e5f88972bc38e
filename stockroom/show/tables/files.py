"""The lists as spreadsheets: to sort, filter, print or hand on."""

from collections.abc import Callable, Sequence
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from stockroom.show.formats import Formats, unit_word
from stockroom.show.spreadsheet import (
    SHARE_FORMAT,
    Heading,
    finish_list,
    fit_row,
    money_format,
    new_book,
    put_headings,
    put_number,
    put_text,
    put_time,
    saved,
    set_page,
)
from stockroom.show.tables.columns import REORDER, RUN_OUTS, SHELF, ListColumn, Row, ValueKind
from stockroom.stock.lists import ReorderList, RunOutRow, ShelfRow
from stockroom.stock.money import major

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.worksheet.worksheet import Worksheet

_RIGHT = {ValueKind.AMOUNT, ValueKind.MONEY, ValueKind.NUMBER, ValueKind.SHARE}
_WRAPPED = {ValueKind.TEXT, ValueKind.TEXTS}
_NOTES_WIDTH = 70


def shelf_xlsx(rows: Sequence[ShelfRow], formats: Formats, *, as_of: date) -> bytes:
    """Write the shelf list as a workbook."""
    book, sheet = new_book("Shelf")
    _fill(sheet, SHELF, rows, formats)
    set_page(sheet, f"On hand on {formats.weekday(as_of)}", heading_row=1)
    return saved(book)


def run_out_xlsx(rows: Sequence[RunOutRow], formats: Formats, *, as_of: date) -> bytes:
    """Write the run-out list as a workbook."""
    book, sheet = new_book("Running out")
    _fill(sheet, RUN_OUTS, rows, formats)
    set_page(sheet, f"Stock running out, as seen on {formats.weekday(as_of)}", heading_row=1)
    return saved(book)


def reorder_xlsx(lists: Sequence[ReorderList], formats: Formats, *, as_of: date) -> bytes:
    """Write the reorder list as a workbook: every line, and a sheet of totals by supplier."""
    book, sheet = new_book("Suggested orders")
    _fill(sheet, REORDER, [line for each in lists for line in each.lines], formats)
    set_page(sheet, f"Suggested orders, as seen on {formats.weekday(as_of)}", heading_row=1)
    _totals(book, lists, formats)
    return saved(book)


def _fill(sheet: "Worksheet", listed: Sequence[ListColumn[Row]], rows: Sequence[Row], formats: Formats) -> None:
    columns = [
        column for column in listed if column.kind is not ValueKind.SHARES
    ]  # week by week: for programs and charts
    put_headings(sheet, 1, [_heading(column, formats) for column in columns])
    for at, row in enumerate(rows, 2):
        for number, column in enumerate(columns, 1):
            _put(sheet, (at, number), column, row, formats)
        wrapped = [(n, column.width) for n, column in enumerate(columns, 1) if column.kind in _WRAPPED]
        fit_row(sheet, at, [(str(sheet.cell(at, n).value or ""), width) for n, width in wrapped])
    finish_list(sheet, 1, len(columns))


def _heading(column: ListColumn[Row], formats: Formats) -> Heading:
    text = f"{column.heading} ({formats.currency})" if column.kind is ValueKind.MONEY else column.heading
    return Heading(text=text, width=column.width, right=column.kind in _RIGHT)


def _put(sheet: "Worksheet", at: tuple[int, int], column: ListColumn[Row], row: Row, formats: Formats) -> None:
    value: Any = column.read(row)
    if value in (None, "", ()):
        return
    if column.kind is ValueKind.AMOUNT:
        put_number(sheet, at, row.unit.count(value))
    elif column.kind is ValueKind.MONEY:
        put_number(sheet, at, major(value, formats.digits), number_format=money_format(formats.digits))
    else:
        _PUT[column.kind](sheet, at, value)


def _put_share(sheet: "Worksheet", at: tuple[int, int], value: float) -> None:
    put_number(sheet, at, Decimal(str(value)), number_format=SHARE_FORMAT)


_PUT: dict[ValueKind, Callable[..., object]] = {
    ValueKind.TEXT: put_text,
    ValueKind.TEXTS: lambda sheet, at, value: put_text(sheet, at, "; ".join(value)),
    ValueKind.UNIT: lambda sheet, at, value: put_text(sheet, at, unit_word(value)),
    ValueKind.NUMBER: put_number,
    ValueKind.SHARE: _put_share,
    ValueKind.DAY: put_time,
    ValueKind.MOMENT: put_time,
    ValueKind.FLAG: lambda sheet, at, value: put_text(sheet, at, "below zero") if value else None,
}


def _totals(book: "Workbook", lists: Sequence[ReorderList], formats: Formats) -> None:
    sheet = book.create_sheet("Suppliers")
    money = [f"{text} ({formats.currency})" for text in ("Goods", "Carriage", "Total")]
    headings = [
        Heading(text="Supplier", width=34),
        *(Heading(text=text, width=14, right=True) for text in money),
        *(Heading(text=text, width=14) for text in ("Order by", "Expected")),
        Heading(text="Notes", width=_NOTES_WIDTH),
    ]
    put_headings(sheet, 1, headings)
    for at, each in enumerate(lists, 2):
        _put_supplier(sheet, at, each, formats)
    finish_list(sheet, 1, len(headings))
    set_page(sheet, "Suggested orders, by supplier", heading_row=1)


def _put_supplier(sheet: "Worksheet", at: int, order: ReorderList, formats: Formats) -> None:
    put_text(sheet, (at, 1), f"{order.name} ({order.supplier})")
    for column, minor in enumerate((order.goods, order.carriage, order.total), 2):
        put_number(sheet, (at, column), major(minor, formats.digits), number_format=money_format(formats.digits))
    for column, day in ((5, order.order_by), (6, order.expected)):
        if day:
            put_time(sheet, (at, column), day)
    if order.notes:
        notes = " ".join(order.notes)
        put_text(sheet, (at, 7), notes)
        fit_row(sheet, at, [(notes, _NOTES_WIDTH)])
