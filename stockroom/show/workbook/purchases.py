"""Purchases, returns and price corrections by supplier, with tax."""

from decimal import Decimal

from stockroom.margins.accounts import Accounts
from stockroom.margins.purchases import PurchaseLine
from stockroom.phrases import phrase
from stockroom.show.workbook_page import (
    CellKind,
    Check,
    Page,
    SheetColumn,
    Value,
    WorkbookSheet,
    Worked,
    amount_of,
    money_of,
    rounding_row,
    taxed,
)

_COLUMNS = (
    SheetColumn(title="Supplier", width=26),
    SheetColumn(title="Day", kind=CellKind.DAY, width=13),
    SheetColumn(title="Document", kind=CellKind.WHOLE, width=12),
    SheetColumn(title="Reference", width=16),
    SheetColumn(title="What", width=18, ours=True),
    SheetColumn(title="Item", width=34),
    SheetColumn(title="Amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Unit", width=8, ours=True),
    *taxed("Net"),
)
_TAKEN_BACK = phrase(
    "Before tax, with carriage and duties. Tax is worked out at the rates in the book; the invoices decide."
)
_BORNE = phrase(
    "The shop is not registered for tax: the tax suppliers charge can't be recovered and is part of the cost (IAS "
    "2.11, FRS 102 section 13). Net and tax together are what the ledger holds. The invoices decide."
)
_BOUGHT = ("purchases", "returned to suppliers")


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    rows = [_row(line, accounts) for line in accounts.purchases]
    ledger = sum(roll.flows.get(name, (0, 0))[1] for roll in accounts.rolls for name in _BOUGHT)
    rest = money.coins(ledger) - sum((money.minor(line.cost) for line in accounts.purchases), Decimal(0))
    rows.append(rounding_row(_COLUMNS, "Rounding", [*[None] * 8, rest]))
    digits = accounts.shop.currency_digits
    borne = "" if accounts.shop.tax_registered else "+[Purchases|Tax]"
    return Page(
        intro=_TAKEN_BACK if accounts.shop.tax_registered else _BORNE,
        columns=_COLUMNS,
        rows=rows,
        checks=(
            Check(
                what="Purchases and returns equal the ledger's",
                formula=f"ROUND([Purchases|Net]{borne}-({money.coins(ledger)}),{digits})",
            ),
        ),
    )


def _row(line: PurchaseLine, accounts: Accounts) -> list[Value]:
    money = money_of(accounts)
    material = accounts.materials.get(line.item)
    return [
        accounts.supplier_names.get(line.supplier, line.supplier) or phrase("not named"),
        line.day,
        line.document,
        line.reference,
        line.what,
        material.name if material else line.item,
        amount_of(line.nano, material) if material else None,
        material.unit.name if material else None,
        money.minor(line.net),
        line.per_cent,
        money.minor(line.tax),
        Worked("=I{row}+K{row}", money.minor(line.net + line.tax)),
    ]


SHEET = WorkbookSheet(name="Purchases", place=60, fill=_fill)
