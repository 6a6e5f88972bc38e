"""Papers of earlier days that came after their period was closed."""

from stockroom.margins.accounts import Accounts
from stockroom.show.workbook_page import Column, Kind, Page, Sheet

_COLUMNS = (
    Column(title="Document", kind=Kind.WHOLE, width=12),
    Column(title="Kind", width=22),
    Column(title="Happened", kind=Kind.MOMENT, width=18),
    Column(title="Entered", kind=Kind.MOMENT, width=18),
    Column(title="Booked on", kind=Kind.DAY, width=13),
    Column(title="About", width=20),
    Column(title="Who", width=12),
    Column(title="Note", width=40),
)


def _fill(accounts: Accounts) -> Page:
    return Page(
        intro="Booked in this period though they happened before it, because that period was closed.",
        columns=_COLUMNS,
        rows=[
            [d.id, d.kind.value, d.happened, d.entered, d.booked_on, d.subject or None, d.who or None, d.note or None]
            for d in accounts.late
        ],
        wrap=True,
    )


SHEET = Sheet(name="Late papers", place=140, fill=_fill)
