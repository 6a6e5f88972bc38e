"""The journal: debits equal credits."""

from stockroom.margins.accounts import Accounts
from stockroom.show.workbook_page import Check, Column, Kind, Page, Sheet, money_of

_COLUMNS = (
    Column(title="Date", kind=Kind.DAY, width=13),
    Column(title="Account", width=28),
    Column(title="Debit", kind=Kind.COINS, width=14, total=True),
    Column(title="Credit", kind=Kind.COINS, width=14, total=True),
    Column(title="Memo", width=34),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    return Page(
        intro="Stock only, a pair of lines a month and reason; suppliers' invoices and tax are booked elsewhere.",
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


SHEET = Sheet(name="Journal", place=130, fill=_fill)
