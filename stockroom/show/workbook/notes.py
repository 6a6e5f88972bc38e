"""What a reader must know."""

from stockroom.margins.accounts import Accounts
from stockroom.show.workbook_page import Page, SheetColumn, WorkbookSheet

_COLUMNS = (SheetColumn(title="About", width=22, ours=True), SheetColumn(title="Note", width=110, ours=True))


def _fill(accounts: Accounts) -> Page:
    return Page(columns=_COLUMNS, rows=[list(note) for note in accounts.notes], wrap=True)


SHEET = WorkbookSheet(name="Notes", place=160, fill=_fill)
