"""The accounts as plain CSV files, one a sheet: for a program to read, so days are ISO and figures have a point."""

import csv
from datetime import date, datetime
from decimal import Decimal
from io import StringIO

from stockroom.margins.accounts import Accounts
from stockroom.show.layout import plain_text
from stockroom.show.spreadsheet import begins_like_formula
from stockroom.show.workbook import workbook_sheets
from stockroom.show.workbook_page import CellKind, Page, SheetColumn, Value, Worked


def csv_files(accounts: Accounts) -> dict[str, bytes]:
    """Write every sheet with columns as a CSV file, by file name; what the workbook works out stands as its value.

    Notes
    -----
    RFC 4180: commas, CRLF, quotes doubled. Text that a spreadsheet could take for a formula begins with an
    apostrophe (CWE-1236); negative figures are figures and do not.
    """
    pages = [(sheet.name, sheet.fill(accounts)) for sheet in workbook_sheets() if sheet.name not in _PICTURES]
    return {f"{name.lower().replace(' ', '-')}.csv": csv_of(page) for name, page in pages}


_PICTURES = ("Charts",)


def csv_of(page: Page) -> bytes:
    """Write a page's rows."""
    stream = StringIO(newline="")
    writer = csv.writer(stream)
    writer.writerow(column.title for column in page.columns)
    for row in page.rows:
        writer.writerow(_written(value, column) for value, column in zip(row, page.columns, strict=True))
    return stream.getvalue().encode()


def _written(value: Value, column: SheetColumn) -> str:
    if isinstance(value, Worked):
        value = value.value
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return f"{value:f}"
    text = plain_text(str(value))
    return f"'{text}" if column.kind is CellKind.TEXT and begins_like_formula(text) else text
