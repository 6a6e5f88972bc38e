"""Stock by how long it has lain on the shelf."""

from decimal import Decimal

from stockroom.margins.accounts import Accounts
from stockroom.margins.valuation import BANDS, Aged
from stockroom.phrases import joined, phrase
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
)
from stockroom.stock.money import printed

_COLUMNS = (
    *ON_THE_SHELF,
    *(SheetColumn(title=band.capitalize(), kind=CellKind.COINS, width=13, total=True) for band in BANDS),
    SheetColumn(title="Used before it came", kind=CellKind.COINS, width=13, total=True),
    SheetColumn(title="Cost", kind=CellKind.WORKED, width=13, total=True),
)
_METHODS = {
    "fifo": phrase("By the day each layer came; goods moved between sites keep theirs."),
    "average": phrase(
        "A moving average has no layers: what is there is taken to be what came last, at the average cost."
    ),
}


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    figures = [printed([*each.parts, each.waiting]) for each in accounts.aged]
    rows: list[list[Value]] = [_row(each, mine, money) for each, mine in zip(accounts.aged, figures, strict=True)]
    whole = printed([sum(each.parts[n] for each in accounts.aged) for n in range(len(BANDS))] + [_waiting(accounts)])
    rests = [money.minor(total - sum(mine[n] for mine in figures)) for n, total in enumerate(whole)]
    rounding = rounding_row(_COLUMNS, "Rounding", [*[None] * 5, *rests])
    rounding[-1] = Worked(_SUM, sum(rests, Decimal(0)))
    end = formats_of(accounts.shop).day(accounts.period.last)
    return Page(
        intro=joined([phrase("Cost at the end of %(end)s by age.", end=end), _METHODS[accounts.shop.costing]]),
        columns=_COLUMNS,
        rows=[*rows, rounding],
        checks=(Check(what="Aged stock equals the valuation", formula="ROUND([Aged stock|Cost]-[Valuation|Cost],2)"),),
    )


_SUM = "=SUM(F{row}:J{row})"


def _waiting(accounts: Accounts) -> int:
    return sum(each.waiting for each in accounts.aged)


def _row(each: Aged, figures: list[int], money: Money) -> list[Value]:
    material = each.material
    return [
        material.family,
        material.code,
        material.name,
        amount_of(each.nano, material),
        material.unit.name,
        *(money.minor(figure) for figure in figures),
        Worked(_SUM, money.minor(sum(figures))),
    ]


SHEET = WorkbookSheet(name="Aged stock", place=25, fill=_fill)
