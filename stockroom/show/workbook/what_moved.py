"""Why the margin differs from the period it is compared with, in parts that add up."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.changes import CONVENTION, ChangePart
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import CellKind, Check, Page, SheetColumn, Value, WorkbookSheet, job_of, money_of

_COLUMNS = (
    SheetColumn(title="What changed", width=30),
    SheetColumn(title="Effect on the margin", kind=CellKind.FINE, width=16, total=True),
    SheetColumn(title="Most of it from", width=30),
    SheetColumn(title="Effect in it", kind=CellKind.FINE, width=16),
)


def _fill(accounts: Accounts) -> Page:
    found = accounts.moved
    if found is None:
        return Page(intro="Made without a period to compare with.", columns=_COLUMNS, rows=())
    money, formats = money_of(accounts), formats_of(accounts.shop)
    change = money.fine(found.after - found.before)
    return Page(
        intro=(f"From a margin of {formats.milli(found.before)} to {formats.milli(found.after)}. {CONVENTION}"),
        columns=_COLUMNS,
        rows=[_row(part, accounts) for part in found.parts],
        checks=(
            Check(
                what="The parts add up to the change of margin",
                formula=f"ROUND([Margin changes|Effect on the margin]-({change}),{accounts.shop.currency_digits + 2})",
            ),
        ),
    )


def _row(part: ChangePart, accounts: Accounts) -> list[Value]:
    money = money_of(accounts)
    job = max(part.by_job, key=lambda code: abs(part.by_job[code]), default=None)
    if job is None:
        return [part.name, money.fine(part.effect), None, None]
    return [part.name, money.fine(part.effect), job_of(accounts, job), money.fine(part.by_job[job])]


SHEET = WorkbookSheet(name="Margin changes", place=100, fill=_fill)
