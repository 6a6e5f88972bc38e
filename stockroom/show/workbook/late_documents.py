"""Documents of earlier days that came after their period was closed."""

from stockroom.margins.accounts import Accounts
from stockroom.phrases import phrase
from stockroom.show.workbook_page import CellKind, Page, SheetColumn, WorkbookSheet

_COLUMNS = (
    SheetColumn(title="Document", kind=CellKind.WHOLE, width=12),
    SheetColumn(title="Kind", width=22, ours=True),
    SheetColumn(title="Happened", kind=CellKind.MOMENT, width=18),
    SheetColumn(title="Entered", kind=CellKind.MOMENT, width=18),
    SheetColumn(title="Posted on", kind=CellKind.DAY, width=13),
    SheetColumn(title="About", width=20),
    SheetColumn(title="Who", width=12),
    SheetColumn(title="Note", width=40),
)


def _fill(accounts: Accounts) -> Page:
    return Page(
        intro=phrase("Posted in this period though they happened before it, because that period was closed."),
        columns=_COLUMNS,
        rows=[
            [d.id, d.called, d.happened, d.entered, d.booked_on, d.subject or None, d.who or None, d.note or None]
            for d in accounts.late
        ],
        wrap=True,
    )


SHEET = WorkbookSheet(name="Late documents", place=140, fill=_fill)
