"""What lay on the shelf at the end of the period, by material."""

from decimal import Decimal

from stockroom.margins.accounts import Accounts
from stockroom.margins.valuation import Valued
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import (
    ON_THE_SHELF,
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
    rounding_row,
    taxed_words,
)
from stockroom.stock.layers import SHORT

_COLUMNS = (
    *ON_THE_SHELF,
    SheetColumn(title="Cost of a unit", kind=CellKind.WORKED, width=13),
    SheetColumn(title="Cost", kind=CellKind.COINS, width=13, total=True),
    SheetColumn(title="of it provisional", kind=CellKind.COINS, width=13, total=True),
    SheetColumn(title="Layers", kind=CellKind.WHOLE, width=8),
    SheetColumn(title="Oldest since", kind=CellKind.DAY, width=13),
    SheetColumn(title="Last used", kind=CellKind.DAY, width=13),
    SheetColumn(title="Last counted", kind=CellKind.DAY, width=13),
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
        intro=phrase(
            "At cost at the end of %(end)s, in %(currency)s, %(taxed)s.",
            end=end,
            currency=accounts.shop.currency,
            taxed=taxed_words(accounts),
        ),
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
        _of_a_unit(valued, money),
        money.coins(valued.value),
        money.coins(valued.waiting),
        len(real),
        min((layer.since for layer in real if layer.since), default=None),
        valued.last_used,
        valued.last_counted,
    ]


def _of_a_unit(valued: Valued, money: Money) -> Worked:
    amount, cost = amount_of(valued.nano, valued.material), money.coins(valued.value)
    return Worked('=IF(D{row}=0,"",G{row}/D{row})', round(cost / amount, 6) if amount else None)


SHEET = WorkbookSheet(name="Valuation", place=20, fill=_fill)
