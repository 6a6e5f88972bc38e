"""What each kind of job leaves, how sure that is, and what its materials cost beyond the owner's minimum margin."""

from decimal import Decimal

from stockroom.margins.accounts import Accounts
from stockroom.margins.income import Coins, Group, by_money_lost, in_coins
from stockroom.phrases import phrase
from stockroom.show.workbook_page import (
    CellKind,
    Money,
    Page,
    SheetColumn,
    Value,
    WorkbookSheet,
    Worked,
    job_of,
    money_of,
    share_of,
)

_COLUMNS = (
    SheetColumn(title="Job", width=26),
    SheetColumn(title="Jobs done", kind=CellKind.WHOLE, width=9, total=True),
    SheetColumn(title="Net income", kind=CellKind.COINS, width=13, total=True),
    SheetColumn(title="Materials", kind=CellKind.COINS, width=13, total=True),
    SheetColumn(title="Card fee", kind=CellKind.COINS, width=12, total=True),
    SheetColumn(title="Post", kind=CellKind.COINS, width=12, total=True),
    SheetColumn(title="Margin", kind=CellKind.WORKED, width=13, total=True),
    SheetColumn(title="Margin % of income", kind=CellKind.SHARE, width=12),
    SheetColumn(title="Materials % of income", kind=CellKind.SHARE, width=13),
    SheetColumn(title="Lost below the minimum margin", kind=CellKind.COINS, width=12, total=True),
    SheetColumn(title="Margin a job, at least", kind=CellKind.COINS, width=12),
    SheetColumn(title="at most", kind=CellKind.COINS, width=12),
    SheetColumn(title="Guarantee work", kind=CellKind.COINS, width=12, total=True),
    SheetColumn(title="Bench hours", kind=CellKind.AMOUNT, width=9, total=True),
    SheetColumn(title="Margin an hour", kind=CellKind.COINS, width=12),
    SheetColumn(title="Bench time at rate", kind=CellKind.COINS, width=12, total=True),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    redone: dict[str, int] = {}
    ranked = by_money_lost(accounts.margins)
    for line in accounts.work.lines:
        redone[line.job] = redone.get(line.job, 0) - (line.margin if line.redo else 0)
    return Page(
        intro=phrase(
            "Paid work; what guarantee work cost stands in a column of its own. Dearest materials first: "
            "what they cost beyond %(share)s %% of income. 'At least' and 'at most' hold the "
            "mean margin of a job nine times in ten; a single job tells neither.",
            share=100 - accounts.shop.margin_floor,
        ),
        columns=_COLUMNS,
        rows=[
            _row(group, coins, (job_of(accounts, group.name), redone.get(group.name, 0)), money)
            for group, coins in zip(ranked, in_coins(ranked), strict=True)
        ],
    )


def _row(group: Group, coins: Coins, about: tuple[str, int], money: Money) -> list[Value]:
    job, redone = about
    share = round(Decimal(coins.margin) / coins.income, 6) if coins.income else None
    return [
        job,
        group.count,
        money.minor(coins.income),
        money.minor(coins.materials),
        money.minor(coins.fee),
        money.minor(coins.post),
        Worked("=C{row}-D{row}-E{row}-F{row}", money.minor(coins.margin)),
        Worked('=IF(C{row}=0,"",G{row}/C{row})', share),
        share_of(group.materials_share),
        money.coins(group.lost),
        None if group.least is None else money.coins(group.least),
        None if group.most is None else money.coins(group.most),
        money.coins(redone),
        round(Decimal(group.minutes) / 60, 2),
        None if group.per_hour is None else money.coins(group.per_hour),
        money.coins(group.bench),
    ]


SHEET = WorkbookSheet(name="Job margins", place=90, fill=_fill)
