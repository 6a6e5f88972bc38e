"""Stock that may be worth less than it cost, with suggested write-downs."""

from decimal import Decimal

from stockroom.margins.accounts import Accounts
from stockroom.margins.valuation import WriteDown
from stockroom.phrases import phrase
from stockroom.show.workbook_page import (
    OF_A_MATERIAL,
    CellKind,
    Money,
    Page,
    SheetColumn,
    Value,
    WorkbookSheet,
    Worked,
    amount_of,
    money_of,
)

_COLUMNS = (
    *OF_A_MATERIAL,
    SheetColumn(title="Why", width=28, ours=True),
    SheetColumn(title="Since", kind=CellKind.DAY, width=13),
    SheetColumn(title="Amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Unit", width=8, ours=True),
    SheetColumn(title="Cost", kind=CellKind.COINS, width=13, total=True),
    SheetColumn(title="Net realisable value", kind=CellKind.COINS, width=13, total=True),
    SheetColumn(title="Suggested write-down", kind=CellKind.WORKED, width=13, total=True),
    SheetColumn(title="Decided", kind=CellKind.COINS, width=13, total=True),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    return Page(
        intro=phrase(
            "Lower of cost and net realisable value (IAS 2, FRS 102 section 13). Suggestions: nothing is posted. "
            "The accountant decides, and writes it into the last column."
        ),
        columns=_COLUMNS,
        rows=[_row(each, money) for each in accounts.write_downs],
    )


def _row(each: WriteDown, money: Money) -> list[Value]:
    material = each.valued.material
    return [
        material.family,
        material.code,
        material.name,
        each.why.value,
        each.since,
        amount_of(each.nano, material),
        material.unit.name,
        money.coins(each.cost),
        money.coins(each.realisable),
        Worked("=MAX(H{row}-I{row},0)", max(money.coins(each.cost) - money.coins(each.realisable), Decimal(0))),
        None,
    ]


SHEET = WorkbookSheet(name="Slow and expired", place=120, fill=_fill)
