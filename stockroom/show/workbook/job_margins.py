"""What each kind of job leaves, how sure that is, and what its materials cost beyond the owner's floor."""

from decimal import Decimal

from stockroom.margins.accounts import Accounts
from stockroom.margins.groups import Group, by_money_lost
from stockroom.show.workbook_page import Column, Kind, Money, Page, Sheet, Value, job_of, money_of, share_of

_COLUMNS = (
    Column(title="Job", width=26),
    Column(title="Jobs done", kind=Kind.WHOLE, width=9, total=True),
    Column(title="Net income", kind=Kind.COINS, width=13, total=True),
    Column(title="Materials", kind=Kind.COINS, width=13, total=True),
    Column(title="Card fee and post", kind=Kind.COINS, width=12, total=True),
    Column(title="Margin", kind=Kind.WORKED, width=13, total=True),
    Column(title="Margin of income", kind=Kind.SHARE, width=12),
    Column(title="Materials of income", kind=Kind.SHARE, width=13),
    Column(title="Lost beyond the floor", kind=Kind.COINS, width=12, total=True),
    Column(title="Margin a job, at least", kind=Kind.COINS, width=12),
    Column(title="at most", kind=Kind.COINS, width=12),
    Column(title="Re-done work", kind=Kind.COINS, width=12, total=True),
    Column(title="Bench hours", kind=Kind.AMOUNT, width=9, total=True),
    Column(title="Margin an hour", kind=Kind.COINS, width=12),
    Column(title="Bench time at rate", kind=Kind.COINS, width=12, total=True),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    redone: dict[str, int] = {}
    for line in accounts.work.lines:
        redone[line.job] = redone.get(line.job, 0) - (line.margin if line.redo else 0)
    return Page(
        intro=(
            "Paid work; what re-doing under guarantee cost stands in a column of its own. Dearest materials first: "
            f"what they cost beyond {100 - accounts.shop.margin_floor} % of income. 'At least' and 'at most' hold the "
            "mean margin of a job nine times in ten; a single job tells neither."
        ),
        columns=_COLUMNS,
        rows=[
            _row(group, job_of(accounts, group.name), redone.get(group.name, 0), money)
            for group in by_money_lost(accounts.margins)
        ],
    )


def _row(group: Group, job: str, redone: int, money: Money) -> list[Value]:
    return [
        job,
        group.count,
        money.coins(group.income),
        money.coins(group.materials),
        money.coins(group.fee + group.post),
        "=C{row}-D{row}-E{row}",
        '=IF(C{row}=0,"",F{row}/C{row})' if group.income else None,
        share_of(group.materials_share),
        money.coins(group.lost),
        None if group.least is None else money.coins(group.least),
        None if group.most is None else money.coins(group.most),
        money.coins(redone),
        round(Decimal(group.minutes) / 60, 2),
        None if group.per_hour is None else money.coins(group.per_hour),
        money.coins(group.bench),
    ]


SHEET = Sheet(name="Job margins", place=90, fill=_fill)
