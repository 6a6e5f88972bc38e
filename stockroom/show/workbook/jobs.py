"""What each ticket brought in and cost."""

from stockroom.margins.accounts import Accounts
from stockroom.margins.income import JobLine
from stockroom.show.formats import formats_of
from stockroom.show.workbook_page import Column, Kind, Money, Page, Sheet, Value, job_of, money_of

_COLUMNS = (
    Column(title="Ticket", width=12),
    Column(title="Booked on", kind=Kind.DAY, width=13),
    Column(title="Job", width=22),
    Column(title="Size", width=10),
    Column(title="Choices", width=24),
    Column(title="Kind", width=16),
    Column(title="Net income", kind=Kind.COINS, width=12, total=True),
    Column(title="Tax", kind=Kind.COINS, width=11, total=True),
    Column(title="Materials", kind=Kind.FINE, width=13, total=True),
    Column(title="of it provisional", kind=Kind.FINE, width=13, total=True),
    Column(title="Card fee", kind=Kind.FINE, width=11, total=True),
    Column(title="Post", kind=Kind.COINS, width=10, total=True),
    Column(title="Margin", kind=Kind.WORKED, width=12, total=True),
    Column(title="Bench minutes", kind=Kind.WHOLE, width=10, total=True),
    Column(title="Bench time at rate", kind=Kind.FINE, width=12, total=True),
)


def _fill(accounts: Accounts) -> Page:
    money = money_of(accounts)
    extra = formats_of(accounts.shop).milli(accounts.work.earlier)
    return Page(
        intro=(
            "Work finished in the period, at the actual cost of its materials; work taken back is a minus. "
            f"True-ups and corrections of earlier periods' jobs are not in it: {extra}."
        ),
        columns=_COLUMNS,
        rows=[_row(line, job_of(accounts, line.job), money) for line in accounts.work.lines],
    )


def _row(line: JobLine, job: str, money: Money) -> list[Value]:
    return [
        line.ticket,
        line.day,
        job,
        line.size or None,
        line.chosen or None,
        ("re-done" if line.redo else "paid") + (", taken back" if line.count < 0 else ""),
        money.minor(line.net),
        money.minor(line.tax),
        money.fine(line.materials),
        money.fine(line.provisional),
        money.fine(line.fee),
        money.coins(line.post),
        "=G{row}-I{row}-K{row}-L{row}",
        line.minutes,
        money.fine(line.bench),
    ]


SHEET = Sheet(name="Jobs", place=70, fill=_fill)
