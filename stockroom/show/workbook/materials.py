"""Each material's way through the period, in amount and in money."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.roll_forward import Roll
from stockroom.show.workbook_page import Check, Column, Kind, Money, Page, Sheet, Value, amount_of, money_of

_COLUMNS = (
    Column(title="Family", width=16),
    Column(title="Code", width=14),
    Column(title="Material", width=34),
    Column(title="Unit", width=8),
    Column(title="Opening amount", kind=Kind.AMOUNT, width=13),
    Column(title="In", kind=Kind.AMOUNT, width=13),
    Column(title="Out", kind=Kind.AMOUNT, width=13),
    Column(title="Closing amount", kind=Kind.AMOUNT, width=13),
    Column(title="Opening cost", kind=Kind.FINE, width=15, total=True),
    Column(title="Cost in", kind=Kind.FINE, width=15, total=True),
    Column(title="Cost out", kind=Kind.FINE, width=15, total=True),
    Column(title="Closing cost", kind=Kind.FINE, width=15, total=True),
    Column(title="Check", kind=Kind.WORKED, width=8, total=True),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    fine = accounts.shop.currency_digits + 3
    return Page(
        intro=("In and out gather purchases, uses and differences by their sign; out is a minus."),
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
    return [material.family, material.code, material.name, material.unit.name, *amounts, *costs, check]


SHEET = Sheet(name="Stock account", place=40, fill=_fill)
