"""Every effect on stock in the period, document by document."""

from collections.abc import Mapping

from stockroom.margins.accounts import Accounts
from stockroom.phrases import phrase
from stockroom.show.workbook_page import (
    CellKind,
    Check,
    Money,
    Page,
    Rows,
    SheetColumn,
    Value,
    WorkbookSheet,
    amount_of,
    money_of,
)
from stockroom.stock.layers import LayerEntry
from stockroom.stock.materials import Material
from stockroom.stock.moves import site_called

_COLUMNS = (
    SheetColumn(title="Posted on", kind=CellKind.DAY, width=13),
    SheetColumn(title="Happened", kind=CellKind.MOMENT, width=18),
    SheetColumn(title="Document", kind=CellKind.WHOLE, width=12),
    SheetColumn(title="Kind", width=20, ours=True),
    SheetColumn(title="How costed", width=18, ours=True),
    SheetColumn(title="Code", width=14),
    SheetColumn(title="Material", width=30),
    SheetColumn(title="Amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Unit", width=8, ours=True),
    SheetColumn(title="Value", kind=CellKind.FINE, width=15, total=True),
    SheetColumn(title="Ticket", width=12),
    SheetColumn(title="Site", width=8),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    places = accounts.shop.currency_digits + 2
    return Page(
        intro=phrase(
            "A document may show in several lines: one for each cost layer it touches. A cost correction "
            "replaces a provisional cost by the real one: two lines whose amounts cancel."
        ),
        columns=_COLUMNS,
        rows=Rows(accounts.entries, lambda entry: _row(entry, accounts.materials, money)),
        checks=(
            Check(
                what="Movements carry opening to closing",
                formula=f"ROUND([Stock account|Opening cost]+[Movements|Value]-[Stock account|Closing cost],{places})",
            ),
        ),
    )


def _row(entry: LayerEntry, materials: Mapping[str, Material], money: Money) -> list[Value]:
    move = entry.move
    material = materials[move.material]
    return [
        entry.booked_on,
        move.happened,
        entry.document,
        entry.kind.label,
        entry.cause.label,
        material.code,
        material.name,
        amount_of(entry.nano, material),
        material.unit.name,
        money.fine(entry.value),
        move.ticket or None,
        site_called(move.site),
    ]


SHEET = WorkbookSheet(name="Movements", place=50, fill=_fill)
