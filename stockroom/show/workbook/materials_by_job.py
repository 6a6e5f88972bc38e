"""Which job used how much of which material, and at what cost."""

from stockroom.margins.accounts import Accounts
from stockroom.phrases import phrase
from stockroom.show.workbook_page import (
    CellKind,
    Check,
    Page,
    SheetColumn,
    Value,
    WorkbookSheet,
    amount_of,
    job_of,
    money_of,
)

_COLUMNS = (
    SheetColumn(title="Job", width=24),
    SheetColumn(title="Kind", width=12, ours=True),
    SheetColumn(title="Code", width=14),
    SheetColumn(title="Material", width=34),
    SheetColumn(title="Amount", kind=CellKind.AMOUNT, width=13),
    SheetColumn(title="Unit", width=8, ours=True),
    SheetColumn(title="Cost", kind=CellKind.FINE, width=15, total=True),
)
_WORK = ("used on jobs", "guarantee work")
_Key = tuple[str, str, str]


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    sums: dict[_Key, list[int]] = {}
    for line in accounts.work.lines:
        for material, (nano, value) in line.uses.items():
            held = sums.setdefault((line.job, "guarantee" if line.redo else "paid", material), [0, 0])
            held[0] += nano
            held[1] += value
    rows = [_row(accounts, key, held) for key, held in sorted(sums.items())]
    rows.append(
        [
            phrase("jobs of earlier periods"),
            phrase("cost corrections"),
            None,
            None,
            None,
            None,
            money.fine(accounts.work.earlier),
        ]
    )
    ledger = sum(roll.flows.get(name, (0, 0))[1] for roll in accounts.rolls for name in _WORK)
    return Page(
        intro=phrase("Materials used on finished work, with the cost corrections posted in the period."),
        columns=_COLUMNS,
        rows=rows,
        checks=(
            Check(
                what="Materials by job equal what the ledger used on jobs",
                formula=f"ROUND([Materials by job|Cost]+({money.fine(ledger)}),{accounts.shop.currency_digits + 2})",
            ),
        ),
    )


def _row(accounts: Accounts, key: _Key, held: list[int]) -> list[Value]:
    job, kind, code = key
    material, (nano, value) = accounts.materials[code], held
    worth = (amount_of(nano, material), material.unit.name, money_of(accounts).fine(value))
    return [job_of(accounts, job), kind, code, material.name, *worth]


SHEET = WorkbookSheet(name="Materials by job", place=80, fill=_fill)
