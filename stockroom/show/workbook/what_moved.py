"""Why the margin differs from the period it is compared with, in parts that add up."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.changes import CONVENTION, ChangePart
from stockroom.phrases import joined, phrase
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import CellKind, Check, Page, SheetColumn, Value, WorkbookSheet, job_of, money_of

_COLUMNS = (
    SheetColumn(title="What changed", width=30, ours=True),
    SheetColumn(title="Effect on the margin", kind=CellKind.COINS, width=16, total=True),
    SheetColumn(title="Most of it from", width=30),
    SheetColumn(title="Effect in it", kind=CellKind.COINS, width=16),
)


def _fill(accounts: Accounts) -> Page:
    found = accounts.moved
    if found is None:
        return Page(intro=phrase("Made without a period to compare with."), columns=_COLUMNS, rows=())
    money, formats = money_of(accounts), formats_of(accounts.shop)
    before, effects, after = found.printed
    change = money.minor(after - before)
    return Page(
        intro=joined(
            [
                phrase(
                    "From a margin of %(before)s to %(after)s.",
                    before=formats.milli(found.before),
                    after=formats.milli(found.after),
                ),
                phrase(CONVENTION),
            ]
        ),
        columns=_COLUMNS,
        rows=[_row(part, effect, accounts) for part, effect in zip(found.parts, effects, strict=True)],
        checks=(
            Check(
                what="The parts add up to the change of margin",
                formula=f"ROUND([Margin changes|Effect on the margin]-({change}),{accounts.shop.currency_digits})",
            ),
        ),
    )


def _row(part: ChangePart, effect: int, accounts: Accounts) -> list[Value]:
    money = money_of(accounts)
    job = max(part.by_job, key=lambda code: abs(part.by_job[code]), default=None)
    if job is None:
        return [part.name, money.minor(effect), None, None]
    return [part.name, money.minor(effect), job_of(accounts, job), money.coins(part.by_job[job])]


SHEET = WorkbookSheet(name="Margin changes", place=100, fill=_fill)
