"""The year ahead, month by month."""

from datetime import date

import pytest

from stockroom.flows.ordering.year import taken_in
from stockroom.stock.calendar import Closure, OpenDays

TUESDAY_TO_SATURDAY = frozenset({1, 2, 3, 4, 5})


@pytest.mark.parametrize(
    ("start", "counts_from"),
    [
        (date(2026, 7, 1), date(2026, 7, 1)),  # the last of June is a Tuesday
        (date(2026, 12, 1), date(2026, 11, 29)),  # Sunday and Monday are closed: what comes then is let in on Tuesday
        (date(2027, 1, 1), date(2026, 12, 24)),  # closed from Christmas Eve
    ],
)
def test_what_reaches_a_closed_door_counts_for_the_day_it_is_let_in(start: date, counts_from: date) -> None:
    holidays = Closure(first=date(2026, 12, 24), last=date(2027, 1, 1))
    open_days = OpenDays(weekdays=TUESDAY_TO_SATURDAY, closures=(holidays,))
    assert taken_in(open_days, start) == counts_from
    assert open_days.next_open(counts_from) >= start
