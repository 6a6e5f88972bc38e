"""Income of jobs and counter sales, and the tax in it, by month and rate."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.sales import Takings, takings
from stockroom.phrases import phrase
from stockroom.show.workbook_page import (
    CellKind,
    Check,
    Money,
    Page,
    SheetColumn,
    Value,
    WorkbookSheet,
    Worked,
    money_of,
)

_COLUMNS = (
    SheetColumn(title="Month", width=10),
    SheetColumn(title="From", width=16, ours=True),
    SheetColumn(title="Tax %", kind=CellKind.AMOUNT, width=8),
    SheetColumn(title="Number", kind=CellKind.WHOLE, width=10, total=True),
    SheetColumn(title="Net income", kind=CellKind.COINS, width=14, total=True),
    SheetColumn(title="Tax", kind=CellKind.COINS, width=13, total=True),
    SheetColumn(title="Gross", kind=CellKind.WORKED, width=14, total=True),
)


def _fill(accounts: Accounts) -> Page:
    money, digits = money_of(accounts), accounts.shop.currency_digits
    return Page(
        intro=phrase(
            "What was charged, by the day the work was finished or the goods were sold, with the tax in it at the rate "
            "of that day; work and sales undone later are a minus. A worksheet, not a return: it adds up the "
            "sheets 'Jobs' and 'Sales' line by line."
        ),
        columns=_COLUMNS,
        rows=[_row(each, money) for each in takings(accounts.work.lines, accounts.sales)],
        checks=(
            Check(
                what="Income is that of the tickets and sales",
                formula=f"ROUND([Income and tax|Net income]-[Jobs|Net income]-[Sales|Net income],{digits})",
            ),
            Check(
                what="Tax on income is that of the tickets and sales",
                formula=f"ROUND([Income and tax|Tax]-[Jobs|Tax]-[Sales|Tax],{digits})",
            ),
        ),
    )


def _row(each: Takings, money: Money) -> list[Value]:
    gross = Worked("=E{row}+F{row}", money.minor(each.net + each.tax))
    return [each.month, each.kind, each.per_cent, each.count, money.minor(each.net), money.minor(each.tax), gross]


SHEET = WorkbookSheet(name="Income and tax", place=65, fill=_fill)
