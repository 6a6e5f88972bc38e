"""The shape of the fan: slopes with the work, jumps with deliveries, ends where it stops telling anything."""

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.show.chart_facts import StockOutlook
from stockroom.show.chart_fan import fan_of, last_day
from stockroom.stock.quantities import UNITS

DAY = date(2026, 11, 21)


def weeks(count: int) -> tuple[date, ...]:
    return tuple(DAY + timedelta(weeks=n) for n in range(1, count + 1))


def outlook(
    middle: tuple[float, ...], *, now: float = 10.0, deliveries: tuple[tuple[date, float], ...] = ()
) -> StockOutlook:
    return StockOutlook(
        name="Laces",
        unit=UNITS["piece"],
        as_of=DAY,
        history=((DAY, now),),
        weeks=weeks(len(middle)),
        low=middle,
        middle=middle,
        high=middle,
        deliveries=deliveries,
    )


def test_fan_starts_from_what_is_there_and_goes_through_the_weeks() -> None:
    fan = fan_of(outlook((8.0, 6.0)))
    assert fan.days == (DAY, *weeks(2))
    assert fan.middle == (10.0, 8.0, 6.0)


def test_fan_never_goes_below_the_shelf() -> None:
    assert fan_of(outlook((4.0, -6.0))).middle == (10.0, 4.0, 0.0)


def test_delivery_jumps_on_its_day_after_the_use_of_the_days_before() -> None:
    arrival = DAY + timedelta(days=4)
    fan = fan_of(outlook((24.0, 17.0), now=8.0, deliveries=((arrival, 20.0),)))
    assert fan.days == (DAY, arrival, arrival, *weeks(2))
    assert fan.middle == pytest.approx((8.0, 4.0, 27.0, 24.0, 17.0))


def test_future_in_which_the_delivery_is_late_has_no_jump() -> None:
    arrival = DAY + timedelta(days=4)
    fan = fan_of(outlook((3.0, 0.0), now=10.0, deliveries=((arrival, 20.0),)))
    assert fan.middle == pytest.approx((10.0, 6.0, 6.0, 3.0, 0.0))


def test_picture_ends_some_weeks_after_the_last_likely_day() -> None:
    seen = outlook(tuple(10.0 - n for n in range(13)))
    assert last_day(seen) == weeks(13)[-1]
    near = replace(seen, runs_out=DAY + timedelta(days=10), latest=DAY + timedelta(days=20))
    assert last_day(near) == DAY + timedelta(days=41)
    assert last_day(replace(near, latest=DAY + timedelta(days=3))) == DAY + timedelta(weeks=5)
    assert last_day(replace(near, latest=None)) == weeks(13)[-1]
    assert last_day(replace(near, latest=DAY + timedelta(days=89))) == weeks(13)[-1]


def test_no_weeks_make_an_empty_fan() -> None:
    assert fan_of(outlook(())).middle == (10.0,)


@given(
    st.lists(st.floats(-50, 50), min_size=1, max_size=6),
    st.lists(st.integers(1, 60), max_size=4),
)
def test_every_line_of_the_fan_has_a_point_for_each_day_in_order(values: list[float], arrivals: list[int]) -> None:
    deliveries = tuple((DAY + timedelta(days=n), 5.0) for n in arrivals)
    fan = fan_of(outlook(tuple(values), deliveries=deliveries))
    assert list(fan.days) == sorted(fan.days)
    assert len(fan.days) == len(fan.low) == len(fan.middle) == len(fan.high)
    assert min(fan.low) >= 0
