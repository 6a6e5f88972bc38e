"""Stock that may be worth less than it cost, with suggested write-downs."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.write_downs import WriteDown
from stockroom.show.workbook_page import Column, Kind, Money, Page, Sheet, Value, amount_of, money_of

_COLUMNS = (
    Column(title="Family", width=16),
    Column(title="Code", width=14),
    Column(title="Material", width=34),
    Column(title="Why", width=28),
    Column(title="Since", kind=Kind.DAY, width=13),
    Column(title="Amount", kind=Kind.AMOUNT, width=13),
    Column(title="Unit", width=8),
    Column(title="Cost", kind=Kind.COINS, width=13, total=True),
    Column(title="Net realisable value", kind=Kind.COINS, width=13, total=True),
    Column(title="Suggested write-down", kind=Kind.WORKED, width=13, total=True),
    Column(title="Decided", kind=Kind.COINS, width=13, total=True),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    return Page(
        intro=(
            "Lower of cost and net realisable value (IAS 2, FRS 102 section 13). Suggestions: nothing is posted. "
            "The accountant decides, and writes it into the last column."
        ),
        columns=_COLUMNS,
        rows=[_row(each, money) for each in accounts.write_downs],
    )


def _row(each: WriteDown, money: Money) -> list[Value]:
    material = each.valued.material
    return [
        material.family,
        material.code,
        material.name,
        each.why.value,
        each.since,
        amount_of(each.nano, material),
        material.unit.name,
        money.coins(each.cost),
        money.coins(each.realisable),
        "=MAX(H{row}-I{row},0)",
        None,
    ]


SHEET = Sheet(name="Slow and expired", place=120, fill=_fill)
