"""Count differences, waste, expiry and own use, each with its reason."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.valuation import LOST
from stockroom.phrases import as_phrase, phrase
from stockroom.show.workbook_page import CellKind, Check, Page, SheetColumn, WorkbookSheet, amount_of, money_of
from stockroom.stock.counts import CountReason
from stockroom.stock.moves import MOVES

_COLUMNS = (
    SheetColumn(title="Posted on", kind=CellKind.DAY, width=13),
    SheetColumn(title="Happened", kind=CellKind.MOMENT, width=18),
    SheetColumn(title="Document", kind=CellKind.WHOLE, width=12),
    SheetColumn(title="Kind", width=22, ours=True),
    SheetColumn(title="Code", width=14),
    SheetColumn(title="Material", width=34),
    SheetColumn(title="Amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Unit", width=8, ours=True),
    SheetColumn(title="Cost", kind=CellKind.FINE, width=14, total=True),
    SheetColumn(title="Reason", width=34),
    SheetColumn(title="Who", width=12),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    lost = {MOVES[kind].column for kind in LOST}
    ledger = sum(roll.flows.get(name, (0, 0))[1] for roll in accounts.rolls for name in lost)
    rows = []
    for each in accounts.write_offs:
        material = accounts.materials[each.material]
        worth = (amount_of(each.nano, material), material.unit.name, money.fine(each.value))
        when = (each.day, each.happened, each.document, each.kind.label)
        rows.append([*when, material.code, material.name, *worth, _reason(each.reason), each.who or None])
    return Page(
        intro=phrase("Minus: less on the shelf than in the book, or taken away."),
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


def _reason(given: str) -> str:
    """Say a count's reason in the shop's language; what somebody typed stays as it is."""
    return as_phrase(given) if given in list(CountReason) else given or phrase("none given")


SHEET = WorkbookSheet(name="Differences", place=110, fill=_fill)
