"""Days, moments and periods as a person gives them to a frame."""

import os
from datetime import date, datetime, time, timedelta

from stockroom.errors import UsageError
from stockroom.margins.period import Period, period_named
from stockroom.stock.typed import iso

When = str | date | datetime  # a day or a moment; as text, 2026-03-31 or 2026-03-31T14:30
MOST_AHEAD, MOST_BACK = 104, 156  # weeks, as in the commands
_DAY = len("2026-03-31")


def read(when: When) -> date | datetime:
    """Read a day or a moment to the second, in the shop's own time.

    Raises
    ------
    UsageError
        If it is neither.
    """
    if isinstance(when, str):
        said = iso(when)
        try:
            read = datetime.fromisoformat(said)
        except ValueError as wrong:
            raise UsageError(
                f"'{when}' is not a day or a moment.", fix="Write 2026-03-31 or 2026-03-31T14:30."
            ) from wrong
        return read.date() if len(said) <= _DAY else _plain(read)
    if isinstance(when, datetime):
        return _plain(when)
    if isinstance(when, date):
        return when
    raise UsageError(f"{when!r} is not a day or a moment.", fix="Give a date, a datetime or a text.")


def _plain(moment: datetime) -> datetime:
    return datetime(*moment.timetuple()[:6])


def until(as_of: When | None) -> datetime | None:
    """Give the last moment that counts: of a day, its end."""
    when = None if as_of is None else read(as_of)
    if when is None or isinstance(when, datetime):
        return when
    return datetime.combine(when, time.max)


def moment(as_of: When | None) -> datetime:
    """Give the moment to look ahead from: of a day its noon; without one, what the clock says.

    STOCKROOM_NOW stands in for the clock when a program drives the shop.
    """
    if as_of is None:
        said = os.environ.get("STOCKROOM_NOW")
        return moment(said) if said else datetime.now().replace(microsecond=0)
    when = read(as_of)
    return when if isinstance(when, datetime) else datetime.combine(when, time(12))


def whole_weeks(weeks: int | None, most: int) -> int | None:
    """Hold within reason how many weeks are asked about.

    Raises
    ------
    UsageError
        If there are none, or too many.
    """
    if weeks is not None and not 1 <= weeks <= most:
        raise UsageError(f"{weeks} is not a number of weeks to ask about.", fix=f"Give 1 to {most}.")
    return weeks


def period_asked(asked: str | tuple[When, When]) -> Period:
    """Read a named period, or one from day to day; without either, the twelve months up to today.

    Raises
    ------
    UsageError
        If the first day is after the last.
    """
    if isinstance(asked, str) and asked:
        return period_named(asked)
    last = moment(asked[1] if asked else None).date()
    first = moment(asked[0]).date() if asked else last - timedelta(days=364)
    if first > last:
        raise UsageError(f"{first} is after {last}.", fix="Give the first day first.")
    return Period(first=first, last=last)
