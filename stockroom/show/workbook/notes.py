"""What a reader must know."""

from stockroom.margins.accounts import Accounts
from stockroom.show.workbook_page import Column, Page, Sheet

_COLUMNS = (Column(title="About", width=22), Column(title="Note", width=110))


def _fill(accounts: Accounts) -> Page:
    return Page(columns=_COLUMNS, rows=[list(note) for note in accounts.notes], wrap=True)


SHEET = Sheet(name="Notes", place=160, fill=_fill)
