"""Margins of paid work by month, size and choice."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.groups import Group
from stockroom.show.workbook_page import Column, Kind, Money, Page, Sheet, Value, job_of, money_of, share_of

_COLUMNS = (
    Column(title="By", width=10),
    Column(title="Which", width=44),
    Column(title="Jobs done", kind=Kind.WHOLE, width=9),
    Column(title="Net income", kind=Kind.COINS, width=13),
    Column(title="Materials", kind=Kind.COINS, width=13),
    Column(title="Margin", kind=Kind.COINS, width=13),
    Column(title="Margin of income", kind=Kind.SHARE, width=12),
    Column(title="Materials of income", kind=Kind.SHARE, width=13),
    Column(title="Margin a job, at least", kind=Kind.COINS, width=12),
    Column(title="at most", kind=Kind.COINS, width=12),
    Column(title="Margin an hour", kind=Kind.COINS, width=12),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    rows = [
        _row(by, _named(by, group.name, accounts), group, money)
        for by, groups in accounts.splits
        for group in (sorted(groups, key=lambda g: g.name) if by == "month" else groups)
    ]
    return Page(
        intro="The same jobs three times over: hence no total. Few jobs tell little: mind 'at least' and 'at most'.",
        columns=_COLUMNS,
        rows=rows,
    )


def _named(by: str, name: str, accounts: Accounts) -> str:
    if by != "choice":
        return name
    code, colon, chosen = name.partition(":")
    return f"{job_of(accounts, code)}{colon}{chosen}"


def _row(by: str, name: str, group: Group, money: Money) -> list[Value]:
    return [
        by,
        name,
        group.count,
        money.coins(group.income),
        money.coins(group.materials),
        money.coins(group.margin),
        share_of(group.share),
        share_of(group.materials_share),
        None if group.least is None else money.coins(group.least),
        None if group.most is None else money.coins(group.most),
        None if group.per_hour is None else money.coins(group.per_hour),
    ]


SHEET = Sheet(name="Margins split", place=95, fill=_fill)
