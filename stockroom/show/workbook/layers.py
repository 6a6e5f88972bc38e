"""Each cost layer on the shelf at the end of the period."""

from stockroom.margins.accounts import Accounts
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import CellKind, Page, SheetColumn, WorkbookSheet, amount_of, money_of
from stockroom.stock.layers import SHORT
from stockroom.stock.moves import site_called

_COLUMNS = (
    SheetColumn(title="Code", width=14),
    SheetColumn(title="Material", width=34),
    SheetColumn(title="Site", width=10),
    SheetColumn(title="On the shelf since", kind=CellKind.DAY, width=13),
    SheetColumn(title="Document", kind=CellKind.WHOLE, width=12),
    SheetColumn(title="Amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Unit", width=8, ours=True),
    SheetColumn(title="Cost", kind=CellKind.FINE, width=15, total=True),
    SheetColumn(title="Remark", width=44, ours=True),
)
_WAITING = phrase("used before its delivery was entered: provisional cost")


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    rows = [
        [
            valued.material.code,
            valued.material.name,
            site_called(layer.site),
            layer.since,
            layer.document,
            amount_of(layer.nano, valued.material),
            valued.material.unit.name,
            money.fine(layer.value),
            _WAITING if layer.layer == SHORT else None,
        ]
        for valued in accounts.valued
        for layer in valued.layers
    ]
    end = formats_of(accounts.shop).day(accounts.period.last)
    return Page(
        intro=phrase("Cost layers at the end of %(end)s, to a thousandth of the smallest coin.", end=end),
        columns=_COLUMNS,
        rows=rows,
    )


SHEET = WorkbookSheet(name="Layers", place=30, fill=_fill)
