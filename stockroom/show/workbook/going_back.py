"""What lay on the shelf at the end of the period and may still go back to its supplier."""

from stockroom.margins.accounts import Accounts
from stockroom.phrases import joined, phrase
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import CellKind, Page, SheetColumn, Value, WorkbookSheet, amount_of, money_of
from stockroom.stock.money import MILLI

_COLUMNS = (
    SheetColumn(title="Supplier", width=22),
    SheetColumn(title="Delivery", kind=CellKind.WHOLE, width=10),
    SheetColumn(title="Came", kind=CellKind.DAY, width=13),
    SheetColumn(title="Code", width=14),
    SheetColumn(title="Material", width=34),
    SheetColumn(title="Amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Unit", width=8, ours=True),
    SheetColumn(title="May go back until", kind=CellKind.DAY, width=16),
    SheetColumn(title="Terms", width=24, ours=True),
    SheetColumn(title="Cost", kind=CellKind.COINS, width=13, total=True),
    SheetColumn(title="of it on approval", kind=CellKind.COINS, width=13, total=True),
)
TERMS = {True: phrase("on approval: not bought yet"), False: phrase("bought, with a right to return")}


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    rows: list[list[Value]] = []
    for each in accounts.going_back:
        material, cost = accounts.materials[each.material], money.coins(each.cost * MILLI)
        rows.append([
            accounts.supplier_names.get(each.supplier, each.supplier),
            each.delivery,
            each.came,
            each.material,
            material.name,
            amount_of(each.there, material),
            material.unit.name,
            each.until,
            TERMS[each.on_approval],
            cost,
            cost if each.on_approval else None,
        ])  # fmt: skip
    end = formats_of(accounts.shop).day(accounts.period.last)
    said = phrase("What lay there at the end of %(end)s and may still go back, at the supplier's price.", end=end)
    return Page(intro=joined([said, ON_APPROVAL]), columns=_COLUMNS, rows=rows)


ON_APPROVAL = phrase(
    "Goods on approval are in the valuation, and in 'goods received, not invoiced' in the journal: the accountant "
    "decides whether both are to be lowered by them."
)
SHEET = WorkbookSheet(name="May go back", place=145, fill=_fill)
