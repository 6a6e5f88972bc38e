"""A stretch of accounting days."""

import re
from dataclasses import dataclass
from datetime import date, timedelta

from stockroom.errors import UsageError
from stockroom.phrases import phrase

_MONTHS = 12
_OFFERED = 15  # months
_NAMED = re.compile(r"(?P<year>\d{4})(-(?P<month>\d{1,2})|-?[Qq](?P<quarter>[1-4]))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """From a first to a last accounting day, both included."""

    first: date
    last: date
    closed: bool = False

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(f"a period from {self.first} can't end on {self.last}")

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last

    def __str__(self) -> str:
        return f"{self.first} to {self.last}"


def month_of(day: date) -> str:
    """Name a day's month, such as '2026-11'."""
    return f"{day.year:04d}-{day.month:02d}"


def period_named(text: str) -> Period:
    """Read a month, a quarter or a year.

    Examples
    --------
    >>> str(period_named("2026-02")), str(period_named("2026-Q4")), str(period_named("2026"))
    ('2026-02-01 to 2026-02-28', '2026-10-01 to 2026-12-31', '2026-01-01 to 2026-12-31')

    Raises
    ------
    UsageError
        If it names none.
    """
    found = _NAMED.fullmatch(text.strip())
    year, month = (int(found["year"]), int(found["month"] or 1)) if found else (0, 0)
    if found is None or not (1 <= month <= _MONTHS and date.min.year < year < date.max.year):
        raise UsageError(
            phrase("'%(text)s' is not a period.", text=text),
            fix="Write a month, a quarter or a year: 2026-01, 2026-Q1, 2026.",
        )
    if found["quarter"]:
        return _months(year, 3 * int(found["quarter"]) - 2, 3)
    return _months(year, month, 1 if found["month"] else _MONTHS)


def periods_until(today: date) -> list[str]:
    """Name the periods one asks for, the newest first: months, quarters, years."""
    months = [today.year * 12 + today.month - 1 - back for back in range(_OFFERED)]
    quarters = list(dict.fromkeys((n // 12, n % 12 // 3 + 1) for n in months))
    years = list(dict.fromkeys(n // 12 for n in months))
    return [
        *(f"{n // 12}-{n % 12 + 1:02d}" for n in months),
        *(f"{year}-Q{quarter}" for year, quarter in quarters),
        *(str(year) for year in (*years, years[-1] - 1)),
    ]


def from_to(first: date | None, last: date) -> Period:
    """Give the period from day to day; without a first day, the twelve months up to the last.

    Raises
    ------
    UsageError
        If the first day is after the last.
    """
    start = first or last - timedelta(days=364)
    if start > last:
        raise UsageError(
            phrase("%(first)s is after %(last)s.", first=str(start), last=str(last)),
            fix="Give the first day first, and the last one after it.",
        )
    return Period(first=start, last=last)


def before(period: Period) -> Period:
    """Give the period of the same length just before: as many whole months, or as many days."""
    end = period.first - timedelta(days=1)
    following = period.last + timedelta(days=1)
    if period.first.day == following.day == 1:
        count = (following.year - period.first.year) * _MONTHS + following.month - period.first.month
        year, month = divmod(period.first.year * _MONTHS + period.first.month - 1 - count, _MONTHS)
        return Period(first=date(year, month + 1, 1), last=end)
    return Period(first=end - (period.last - period.first), last=end)


def _months(year: int, month: int, count: int) -> Period:
    ahead, following = divmod(month - 1 + count, _MONTHS)
    return Period(first=date(year, month, 1), last=date(year + ahead, following + 1, 1) - timedelta(days=1))
