"""What lay on the shelf at the end of the period, by material."""

from decimal import Decimal

from stockroom.margins.accounts import Accounts
from stockroom.margins.valuation import Valued
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import (
    Check,
    Column,
    Kind,
    Money,
    Page,
    Sheet,
    Value,
    amount_of,
    money_of,
    rounding_row,
)
from stockroom.stock.layers import SHORT

_COLUMNS = (
    Column(title="Family", width=16),
    Column(title="Code", width=14),
    Column(title="Material", width=34),
    Column(title="Amount", kind=Kind.AMOUNT, width=13),
    Column(title="Unit", width=8),
    Column(title="Cost of a unit", kind=Kind.WORKED, width=13),
    Column(title="Cost", kind=Kind.COINS, width=13, total=True),
    Column(title="of it provisional", kind=Kind.COINS, width=13, total=True),
    Column(title="Layers", kind=Kind.WHOLE, width=8),
    Column(title="Oldest since", kind=Kind.DAY, width=13),
    Column(title="Last used", kind=Kind.DAY, width=13),
    Column(title="Last counted", kind=Kind.DAY, width=13),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    rows = [_row(valued, money) for valued in accounts.valued]
    cost = money.coins(accounts.closing) - sum((money.coins(v.value) for v in accounts.valued), Decimal(0))
    waiting = sum(v.waiting for v in accounts.valued)
    held = money.coins(waiting) - sum((money.coins(v.waiting) for v in accounts.valued), Decimal(0))
    rows.append(rounding_row(_COLUMNS, "Rounding", [*[None] * 6, cost, held]))
    end = formats_of(accounts.shop).day(accounts.period.last)
    return Page(
        intro=(f"At cost at the end of {end}, in {accounts.shop.currency}, without tax."),
        columns=_COLUMNS,
        rows=rows,
        checks=(
            Check(what="Valuation equals the summary's closing", formula="[Valuation|Cost]-[Summary|Closing]"),
            Check(what="Valuation equals its cost layers", formula="ROUND([Valuation|Cost]-[Layers|Cost],2)"),
        ),
    )


def _row(valued: Valued, money: Money) -> list[Value]:
    material = valued.material
    real = [layer for layer in valued.layers if layer.layer != SHORT]
    return [
        material.family,
        material.code,
        material.name,
        amount_of(valued.nano, material),
        material.unit.name,
        '=IF(D{row}=0,"",G{row}/D{row})',
        money.coins(valued.value),
        money.coins(valued.waiting),
        len(real),
        min((layer.since for layer in real if layer.since), default=None),
        valued.last_used,
        valued.last_counted,
    ]


SHEET = Sheet(name="Valuation", place=20, fill=_fill)
