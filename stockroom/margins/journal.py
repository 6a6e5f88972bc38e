"""A balanced journal of stock, month by month, under the shop's own account numbers."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from stockroom.margins.period import Period, month_of
from stockroom.margins.valuation import PRICE_DIFFERENCES, column_of
from stockroom.stock.layers import LayerEntry
from stockroom.stock.money import milli_to_minor
from stockroom.stock.moves import MOVES, MoveKind

STOCK = "stock"
IN_PROGRESS = "work in progress"
ROUNDING = "rounding"

# The account each column of the summary is set against; a shop gives its own number for any of these names.
AGAINST: dict[str, str] = {
    **{facts.column: facts.account for facts in MOVES.values()},
    PRICE_DIFFERENCES: "price differences",
    ROUNDING: ROUNDING,
}
ACCOUNTS = (STOCK, IN_PROGRESS, *dict.fromkeys(AGAINST.values()))
FORMERLY = {  # what accounts were called before: the numbers a book keeps for them stay theirs
    "drawings": "owner's drawings",
    "opening balances": "opening stock",
    "purchases to be invoiced": "goods received, not invoiced",
    "re-done work": "guarantee work",
}


def numbers_kept(kept: Mapping[str, str]) -> dict[str, str]:
    """Give the numbers kept for accounts by the names they have now."""
    return {FORMERLY.get(name, name): number for name, number in kept.items() if FORMERLY.get(name) not in kept}


@dataclass(frozen=True, slots=True, kw_only=True)
class JournalLine:
    """One side of an entry; minor units, never negative."""

    day: date
    account: str
    debit: int
    credit: int
    memo: str


def journal(
    entries: Iterable[LayerEntry],
    period: Period,
    accounts: Mapping[str, str] | None = None,
    in_progress: Callable[[date], int] = lambda _day: 0,
) -> list[JournalLine]:
    """Write the journal of a period: one pair of lines a month and column.

    Parameters
    ----------
    entries : iterable of Entry
        Cost entries of the whole ledger.
    period : Period
        The months wanted.
    accounts : mapping of str to str, optional
        The shop's number for any name in `ACCOUNTS`; the name itself stands where none is given.
    in_progress : callable
        What unfinished tickets had used by the end of a day, in thousandths of the minor unit: it is no cost yet.

    Returns
    -------
    list of JournalLine
        Debits equal credits in every pair. The stock account moves by exactly the change of the stock's value, each
        end rounded to the minor unit; what rounding the columns leaves goes to the account 'rounding'.
    """
    names = {name: (accounts or {}).get(name) or name for name in ACCOUNTS}
    opening, months = _by_month(entries, period)
    lines: list[JournalLine] = []
    for month, columns in sorted(months.items()):
        closing = opening + sum(columns.values())
        rounded = {name: milli_to_minor(columns[name]) for name in AGAINST if columns.get(name)}
        rest = milli_to_minor(closing) - milli_to_minor(opening) - sum(rounded.values())
        day = min(_last_day(month), period.last)
        for name, change in (*rounded.items(), (ROUNDING, rest)):
            lines += _pair(day, name, change, names)
        opening = closing
    before = in_progress(period.first - timedelta(days=1))
    for month in _months(period):
        day = min(_last_day(month), period.last)
        after = in_progress(day)
        lines += _unfinished(day, milli_to_minor(after) - milli_to_minor(before), names)
        before = after
    return sorted(lines, key=lambda line: line.day)


def _months(period: Period) -> list[str]:
    days = (period.last - period.first).days + 1
    return list(dict.fromkeys(month_of(period.first + timedelta(days=n)) for n in range(days)))


def _unfinished(day: date, change: int, names: Mapping[str, str]) -> list[JournalLine]:
    """Take what unfinished work has used out of the cost of materials, or bring it back once it is finished."""
    if not change:
        return []
    sides = [names[IN_PROGRESS], names[MOVES[MoveKind.JOB_USE].account]]
    debit, credit = sides if change > 0 else sides[::-1]
    return [
        JournalLine(day=day, account=debit, debit=abs(change), credit=0, memo=IN_PROGRESS),
        JournalLine(day=day, account=credit, debit=0, credit=abs(change), memo=IN_PROGRESS),
    ]


def _by_month(entries: Iterable[LayerEntry], period: Period) -> tuple[int, dict[str, dict[str, int]]]:
    opening, months = 0, dict[str, dict[str, int]]()
    for entry in entries:
        if entry.booked_on < period.first:
            opening += entry.value
        elif entry.booked_on <= period.last:
            columns = months.setdefault(month_of(entry.booked_on), {})
            name = column_of(entry)
            columns[name] = columns.get(name, 0) + entry.value
    return opening, months


def _pair(day: date, column: str, change: int, names: Mapping[str, str]) -> list[JournalLine]:
    """Debit stock for what comes in, credit it for what goes out."""
    if not change:
        return []
    stock, other = names[STOCK], names[AGAINST[column]]
    debit, credit = (stock, other) if change > 0 else (other, stock)
    amount = abs(change)
    return [
        JournalLine(day=day, account=debit, debit=amount, credit=0, memo=column),
        JournalLine(day=day, account=credit, debit=0, credit=amount, memo=column),
    ]


def _last_day(month: str) -> date:
    year, number = map(int, month.split("-"))
    following = date(year + number // 12, number % 12 + 1, 1)
    return following - timedelta(days=1)
