"""Margins of paid work by month, size and choice."""

from collections.abc import Sequence

from stockroom.margins.accounts import Accounts
from stockroom.margins.income import Coins, Group, in_coins
from stockroom.phrases import phrase
from stockroom.show.workbook_page import (
    CellKind,
    Money,
    Page,
    SheetColumn,
    Value,
    WorkbookSheet,
    job_of,
    money_of,
    share_of,
)

_COLUMNS = (
    SheetColumn(title="By", width=10, ours=True),
    SheetColumn(title="Which", width=44),
    SheetColumn(title="Jobs done", kind=CellKind.WHOLE, width=9),
    SheetColumn(title="Net income", kind=CellKind.COINS, width=13),
    SheetColumn(title="Materials", kind=CellKind.COINS, width=13),
    SheetColumn(title="Card fee", kind=CellKind.COINS, width=12),
    SheetColumn(title="Post", kind=CellKind.COINS, width=12),
    SheetColumn(title="Margin", kind=CellKind.COINS, width=13),
    SheetColumn(title="Margin % of income", kind=CellKind.SHARE, width=12),
    SheetColumn(title="Materials % of income", kind=CellKind.SHARE, width=13),
    SheetColumn(title="Margin a job, at least", kind=CellKind.COINS, width=12),
    SheetColumn(title="at most", kind=CellKind.COINS, width=12),
    SheetColumn(title="Margin an hour", kind=CellKind.COINS, width=12),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    rows = [
        _row((by, _named(by, group.name, accounts)), group, coins, money)
        for by, groups in accounts.splits
        for group, coins in zip(*_as_printed(by, groups), strict=True)
    ]
    return Page(
        intro=phrase(
            "The same jobs three times over: hence no total. Few jobs tell little: mind 'at least' and 'at most'."
        ),
        columns=_COLUMNS,
        rows=rows,
    )


def _as_printed(by: str, groups: Sequence[Group]) -> tuple[Sequence[Group], list[Coins]]:
    shown = sorted(groups, key=lambda g: g.name) if by == "month" else groups
    return shown, in_coins(shown)


def _named(by: str, name: str, accounts: Accounts) -> str:
    if by != "choice":
        return name
    code, colon, chosen = name.partition(":")
    return f"{job_of(accounts, code)}{colon}{chosen}"


def _row(names: tuple[str, str], group: Group, coins: Coins, money: Money) -> list[Value]:
    return [
        *names,
        group.count,
        money.minor(coins.income),
        money.minor(coins.materials),
        money.minor(coins.fee),
        money.minor(coins.post),
        money.minor(coins.margin),
        share_of(group.share),
        share_of(group.materials_share),
        None if group.least is None else money.coins(group.least),
        None if group.most is None else money.coins(group.most),
        None if group.per_hour is None else money.coins(group.per_hour),
    ]


SHEET = WorkbookSheet(name="Margins split", place=95, fill=_fill)
