"""Each material's way through the period, in amount and in money."""

from decimal import Decimal

from stockroom.margins.accounts import Accounts
from stockroom.margins.valuation import Roll
from stockroom.phrases import phrase
from stockroom.show.workbook_page import (
    OF_A_MATERIAL,
    CellKind,
    Check,
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
    SheetColumn(title="Unit", width=8, ours=True),
    SheetColumn(title="Opening amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="In", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Out", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Closing amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Opening cost", kind=CellKind.FINE, width=15, total=True),
    SheetColumn(title="Cost in", kind=CellKind.FINE, width=15, total=True),
    SheetColumn(title="Cost out", kind=CellKind.FINE, width=15, total=True),
    SheetColumn(title="Closing cost", kind=CellKind.FINE, width=15, total=True),
    SheetColumn(title="Check", kind=CellKind.WORKED, width=8, total=True),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    fine = accounts.shop.currency_digits + 3
    return Page(
        intro=phrase("In and out gather purchases, uses and differences by their sign; out is a minus."),
        columns=_COLUMNS,
        rows=[_row(roll, money, fine) for roll in accounts.rolls],
        checks=(
            Check(what="Stock account: every material comes to its closing", formula="[Stock account|Check]"),
            Check(
                what="Stock account equals the layers",
                formula=f"ROUND([Stock account|Closing cost]-[Layers|Cost],{fine})",
            ),
        ),
    )


def _row(roll: Roll, money: Money, fine: int) -> list[Value]:
    material = roll.material
    flows = list(roll.flows.values())
    came, went = (sum(f[0] for f in flows if (f[0] > 0) is into) for into in (True, False))
    cost_in, cost_out = (sum(f[1] for f in flows if (f[1] > 0) is into) for into in (True, False))
    amounts = [amount_of(nano, material) for nano in (roll.opening[0], came, went, roll.closing[0])]
    costs = [money.fine(value) for value in (roll.opening[1], cost_in, cost_out, roll.closing[1])]
    check = f"=ROUND(E{{row}}+F{{row}}+G{{row}}-H{{row}},6)+ROUND(I{{row}}+J{{row}}+K{{row}}-L{{row}},{fine})"
    return [
        material.family,
        material.code,
        material.name,
        material.unit.name,
        *amounts,
        *costs,
        Worked(check, Decimal(0)),
    ]


SHEET = WorkbookSheet(name="Stock account", place=40, fill=_fill)
