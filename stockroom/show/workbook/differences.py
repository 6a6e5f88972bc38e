"""Count differences, waste, expiry and own use, each with its reason."""

from stockroom.margins.accounts import Accounts
from stockroom.show.workbook_page import Check, Column, Kind, Page, Sheet, amount_of, money_of

_COLUMNS = (
    Column(title="Booked on", kind=Kind.DAY, width=13),
    Column(title="Happened", kind=Kind.MOMENT, width=18),
    Column(title="Document", kind=Kind.WHOLE, width=12),
    Column(title="Kind", width=22),
    Column(title="Code", width=14),
    Column(title="Material", width=34),
    Column(title="Amount", kind=Kind.AMOUNT, width=13),
    Column(title="Unit", width=8),
    Column(title="Cost", kind=Kind.FINE, width=14, total=True),
    Column(title="Reason", width=34),
    Column(title="Who", width=12),
)
_LOST = ("count differences", "waste", "expiry", "own use")


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    ledger = sum(roll.flows.get(name, (0, 0))[1] for roll in accounts.rolls for name in _LOST)
    rows = []
    for each in accounts.write_offs:
        material = accounts.materials[each.material]
        worth = (amount_of(each.nano, material), material.unit.name, money.fine(each.value))
        when = (each.day, each.happened, each.document, each.kind.value)
        rows.append([*when, material.code, material.name, *worth, each.reason or "none given", each.who or None])
    return Page(
        intro="Minus: less on the shelf than in the book, or taken away.",
        columns=_COLUMNS,
        rows=rows,
        wrap=True,
        checks=(
            Check(
                what="Differences and write-offs equal the ledger's",
                formula=f"ROUND([Differences|Cost]-({money.fine(ledger)}),{accounts.shop.currency_digits + 2})",
            ),
        ),
    )


SHEET = Sheet(name="Differences", place=110, fill=_fill)
