"""What each ticket brought in and cost."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.income import JobLine
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import (
    CellKind,
    Money,
    Page,
    Rows,
    SheetColumn,
    Value,
    WorkbookSheet,
    Worked,
    job_of,
    money_of,
)
from stockroom.stock.money import MILLI

_COLUMNS = (
    SheetColumn(title="Ticket", width=12),
    SheetColumn(title="Posted on", kind=CellKind.DAY, width=13),
    SheetColumn(title="Job", width=22),
    SheetColumn(title="Size", width=10),
    SheetColumn(title="Choices", width=24),
    SheetColumn(title="Kind", width=16, ours=True),
    SheetColumn(title="Net income", kind=CellKind.COINS, width=12, total=True),
    SheetColumn(title="Tax", kind=CellKind.COINS, width=11, total=True),
    SheetColumn(title="Materials", kind=CellKind.FINE, width=13, total=True),
    SheetColumn(title="of it provisional", kind=CellKind.FINE, width=13, total=True),
    SheetColumn(title="Card fee", kind=CellKind.FINE, width=11, total=True),
    SheetColumn(title="Post", kind=CellKind.COINS, width=10, total=True),
    SheetColumn(title="Margin", kind=CellKind.WORKED, width=12, total=True),
    SheetColumn(title="Bench minutes", kind=CellKind.WHOLE, width=10, total=True),
    SheetColumn(title="Bench time at rate", kind=CellKind.FINE, width=12, total=True),
)


_KINDS = {  # guarantee work, undone
    (False, False): phrase("paid"),
    (False, True): phrase("paid, undone"),
    (True, False): phrase("guarantee"),
    (True, True): phrase("guarantee, undone"),
}


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    extra = formats_of(accounts.shop).milli(accounts.work.earlier)
    return Page(
        intro=phrase(
            "Work finished in the period, at the actual cost of its materials; undone work is a minus. "
            "Cost corrections of earlier periods' jobs are not in it: %(extra)s.",
            extra=extra,
        ),
        columns=_COLUMNS,
        rows=Rows(accounts.work.lines, lambda line: _row(line, job_of(accounts, line.job), money)),
    )


def _row(line: JobLine, job: str, money: Money) -> list[Value]:
    return [
        line.ticket,
        line.day,
        job,
        line.size or None,
        line.chosen or None,
        _KINDS[line.redo, line.count < 0],
        money.minor(line.net),
        money.minor(line.tax),
        money.fine(line.materials),
        money.fine(line.provisional),
        money.fine(line.fee),
        money.coins(line.post),
        Worked(
            "=G{row}-I{row}-K{row}-L{row}",
            money.fine(line.net * MILLI - line.materials - line.fee) - money.coins(line.post),
        ),
        line.minutes,
        money.fine(line.bench),
    ]


SHEET = WorkbookSheet(name="Jobs", place=70, fill=_fill)
