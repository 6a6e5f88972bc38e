"""The stock-taking list for the year's end: counted by hand, signed, kept."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.valuation import Valued
from stockroom.phrases import joined, phrase
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import CellKind, Page, SheetColumn, Value, WorkbookSheet, amount_of

_COLUMNS = (
    SheetColumn(title="Location", width=12),
    SheetColumn(title="Code", width=14),
    SheetColumn(title="Material", width=34),
    SheetColumn(title="Unit", width=8, ours=True),
    SheetColumn(title="In the book", kind=CellKind.AMOUNT, width=12),
    SheetColumn(title="Counted", kind=CellKind.AMOUNT, width=14),
    SheetColumn(title="Remark", width=26),
)
SIGNED = (phrase("Counted by"), phrase("Checked by"), phrase("Day and hour"), phrase("Signature"))


def _fill(accounts: Accounts) -> Page:
    ordered = sorted(accounts.valued, key=lambda v: (v.material.place, v.material.code))
    rows: list[list[Value]] = [
        [
            valued.material.place or None,
            valued.material.code,
            valued.material.name,
            valued.material.unit.name,
            amount_of(valued.nano, valued.material),
            None,
            _remark(accounts, valued),
        ]
        for valued in ordered
    ]
    signed: list[list[Value]] = [
        [None, None, joined([words, "______________________"], ": "), *[None] * 4] for words in SIGNED
    ]
    end = formats_of(accounts.shop).day(accounts.period.last)
    return Page(
        intro=phrase(
            "%(shop)s: stock at the end of %(end)s. Count, write down, sign, keep.", shop=accounts.shop.name, end=end
        ),
        columns=_COLUMNS,
        rows=[*rows, *signed],
    )


def _remark(accounts: Accounts, valued: Valued) -> str | None:
    """Say how much of it is on approval: it lies there, and is not bought yet."""
    code, material = valued.material.code, valued.material
    there = sum(each.there for each in accounts.going_back if each.on_approval and each.material == code)
    if not there:
        return None
    return phrase("on approval: %(amount)s", amount=formats_of(accounts.shop).amount(there, material.unit))


SHEET = WorkbookSheet(name="Stock-taking list", place=150, fill=_fill, portrait=True)
