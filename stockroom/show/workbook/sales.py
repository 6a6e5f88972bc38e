"""Every sale over the counter."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.sales import SaleEarned
from stockroom.phrases import phrase
from stockroom.show.workbook_page import (
    CellKind,
    Page,
    SheetColumn,
    Value,
    WorkbookSheet,
    Worked,
    amount_of,
    money_of,
    taxed,
)

_COLUMNS = (
    SheetColumn(title="Posted on", kind=CellKind.DAY, width=13),
    SheetColumn(title="Document", kind=CellKind.WHOLE, width=12),
    SheetColumn(title="Receipt", width=14),
    SheetColumn(title="Code", width=14),
    SheetColumn(title="Material", width=34),
    SheetColumn(title="Amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Unit", width=8, ours=True),
    *taxed("Net income"),
    SheetColumn(title="Post", kind=CellKind.COINS, width=10, total=True),
    SheetColumn(title="Remark", width=20, ours=True),
)


def _fill(accounts: Accounts) -> Page:
    return Page(
        intro=phrase("What was paid for each; a sale undone in a later period is a minus."),
        columns=_COLUMNS,
        rows=[_row(line, accounts) for line in accounts.sales],
    )


def _row(line: SaleEarned, accounts: Accounts) -> list[Value]:
    money, material = money_of(accounts), accounts.materials[line.material]
    return [
        line.day,
        line.document,
        line.receipt or None,
        material.code,
        material.name,
        amount_of(line.nano, material),
        material.unit.name,
        money.minor(line.net),
        line.per_cent,
        money.minor(line.tax),
        Worked("=H{row}+J{row}", money.minor(line.net + line.tax)),
        money.minor(line.post),
        phrase("no price known") if line.unpriced else None,
    ]


SHEET = WorkbookSheet(name="Sales", place=72, fill=_fill)
