"""When the book held nothing of what is sold over the counter: weeks that say little of how much was wanted."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date, datetime, timedelta
from itertools import groupby, pairwise

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Dates, week_index
from stockroom.stock.calendar import OpenDays
from stockroom.stock.moves import MoveKind
from stockroom.store import ledger
from stockroom.store.book import Session

ONE_DAY = timedelta(days=1)
Spell = tuple[date, date]  # first and last day at whose end nothing was left
Spells = Mapping[str, Sequence[Spell]]


def find_stockouts(
    session: Session, materials: Collection[str], moment: datetime, *, site: str | None = None
) -> dict[str, list[Spell]]:
    """Find the days, until a moment, at whose end the book held nothing of these materials."""
    if not materials:
        return {}
    daily = [
        (code, date.fromisoformat(day), nano)
        for code, day, nano in ledger.daily_sums(session, list(MoveKind), site=site, materials=materials, until=moment)
    ]
    found = {}
    for code, rows in groupby(sorted(daily), key=lambda row: row[0]):
        found[code] = stockouts([(day, nano) for _, day, nano in rows], moment.date())
    return found


def stockouts(daily: Iterable[tuple[date, int]], until: date) -> list[Spell]:
    """Find the dry spells of one material from its sums by day, in order; before its first day nothing is known."""
    past = [each for each in daily if each[0] <= until]
    found: list[Spell] = []
    on_hand = 0
    for (day, nano), (later, _) in pairwise([*past, (until + ONE_DAY, 0)]):
        on_hand += nano
        if on_hand > 0:
            continue
        first = found.pop()[0] if found and found[-1][1] + ONE_DAY == day else day
        found.append((first, later - ONE_DAY))
    return found


def short_weeks(dry: Spells, codes: Sequence[str], weeks: Dates, open_days: OpenDays) -> NDArray[np.bool_]:
    """Mark the weeks with an open day at whose end nothing was left, shape (n_codes, n_weeks)."""
    short = np.zeros((len(codes), len(weeks)), dtype=np.bool_)
    begin = weeks[0].astype(object)
    for row, code in enumerate(codes):
        for first, last in dry.get(code, ()):
            start = max(first, begin)
            days = [start + timedelta(days=n) for n in range((last - start).days + 1)]
            columns = week_index(
                np.array([day for day in days if open_days.is_open(day)], dtype="datetime64[D]"), weeks
            )
            short[row, columns[columns < len(weeks)]] = True
    return short
