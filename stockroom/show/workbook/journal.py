"""The journal: debits equal credits."""

from stockroom.margins.accounts import Accounts
from stockroom.phrases import phrase
from stockroom.show.workbook_page import CellKind, Check, Page, SheetColumn, WorkbookSheet, money_of

_COLUMNS = (
    SheetColumn(title="Date", kind=CellKind.DAY, width=13),
    SheetColumn(title="Account", width=28, ours=True),
    SheetColumn(title="Debit", kind=CellKind.COINS, width=14, total=True),
    SheetColumn(title="Credit", kind=CellKind.COINS, width=14, total=True),
    SheetColumn(title="Narrative", width=34, ours=True),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    return Page(
        intro=phrase(
            "Stock only, a pair of lines a month and reason; suppliers' invoices and tax are recorded elsewhere."
        ),
        columns=_COLUMNS,
        rows=[
            [
                line.day,
                line.account,
                money.minor(line.debit) if line.debit else None,
                money.minor(line.credit) if line.credit else None,
                line.memo,
            ]
            for line in accounts.journal
        ],
        checks=(
            Check(
                what="Journal: debits equal credits",
                formula=f"ROUND([Journal|Debit]-[Journal|Credit],{accounts.shop.currency_digits})",
            ),
        ),
    )


SHEET = WorkbookSheet(name="Journal", place=130, fill=_fill)
