"""The bench's queue: the laws of a promise, and the hours by hand."""

from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from stockroom.demand.bench_queue import (
    BenchHours,
    QueuedTicket,
    ahead_of,
    chance_within,
    day_loads,
    minutes_in_futures,
)
from stockroom.stock.calendar import Closure, OpenDays
from stockroom.stock.shop import open_hours
from tests import build

TUESDAY = date(2026, 1, 6)
DAYS = OpenDays(weekdays=frozenset({1, 2, 3, 4, 5}), closures=(Closure(first=date(2026, 1, 9), last=date(2026, 1, 9)),))
NOW = build.at("2026-01-06 10:30")


def hours(text: str = "Tue-Fri 9:00-13:00 14:00-18:00, Sat 9:00-13:00", heads: int = 1) -> BenchHours:
    return BenchHours(open_days=DAYS, hours=open_hours(text), heads=heads)


QUEUE = st.lists(
    st.tuples(st.floats(1, 300), st.one_of(st.none(), st.integers(-3, 12))).map(
        lambda t: QueuedTicket(
            ticket=f"{t[0]:.6f}{t[1]}",
            minutes=t[0],
            due=None if t[1] is None else TUESDAY + timedelta(days=t[1]),
        )
    ),
    max_size=10,
)


def first_day(queue: list[QueuedTicket], bench: BenchHours, mine: float, scale: float, sure: float) -> date | None:
    """Give the earliest day that is kept surely enough, as a promise would."""
    for n in range(30):
        day = TUESDAY + timedelta(days=n)
        room = bench.until(NOW, day)
        if bench.minutes(day, NOW) and chance_within(ahead_of(queue, day) + mine, room, scale) >= sure:
            return day
    return None


def later(one: date | None, other: date | None) -> bool:
    return (one or date.max) > (other or date.max)


@given(
    queue=QUEUE, more=QUEUE, mine=st.floats(1, 400), scale=st.floats(0.5, 40), sure=st.sampled_from([0.5, 0.9, 0.99])
)
def test_more_work_never_gives_an_earlier_promise_and_typing_order_changes_nothing(
    queue: list[QueuedTicket], more: list[QueuedTicket], mine: float, scale: float, sure: float
) -> None:
    alone = first_day(queue, hours(), mine, scale, sure)
    assert not later(alone, first_day([*queue, *more], hours(), mine, scale, sure))
    assert first_day(list(reversed(queue)), hours(), mine, scale, sure) == alone


@given(queue=QUEUE, mine=st.floats(1, 400), scale=st.floats(0.5, 40))
def test_more_hours_never_give_a_later_promise(queue: list[QueuedTicket], mine: float, scale: float) -> None:
    usual = first_day(queue, hours(), mine, scale, 0.9)
    assert not later(first_day(queue, hours(heads=2), mine, scale, 0.9), usual)
    longer = "Tue-Fri 8:00-13:00 14:00-19:00, Sat 9:00-15:00"
    assert not later(first_day(queue, hours(longer), mine, scale, 0.9), usual)


@given(minutes=st.floats(1, 2000), more=st.floats(0, 500), scale=st.floats(0.5, 40))
def test_more_work_takes_longer_in_every_future(minutes: float, more: float, scale: float) -> None:
    assert (minutes_in_futures(minutes + more, scale, 40) >= minutes_in_futures(minutes, scale, 40) - 1e-9).all()


def test_chances_are_those_of_a_gamma_sum() -> None:
    """Sums of independent gammas of one scale are gamma (Johnson, Kotz and Balakrishnan 1994, ch. 17); by scipy.stats."""
    assert chance_within(300, 330, 4) == pytest.approx(stats.gamma(300 / 4, scale=4).cdf(330))
    drawn = minutes_in_futures(300, 4, 2000)
    assert np.mean(drawn) == pytest.approx(300, rel=0.002)
    assert np.var(drawn) == pytest.approx(1200, rel=0.02)
    assert chance_within(0, 0, 4) == 1.0
    assert chance_within(10, 0, 4) == 0.0


def test_hours_by_hand() -> None:
    bench = hours()
    assert bench.minutes(TUESDAY) == 480
    assert bench.minutes(TUESDAY, NOW) == 150 + 240, "from half past ten"
    assert bench.minutes(date(2026, 1, 9)) == 0, "a day shut"
    assert bench.minutes(date(2026, 1, 5)) == 0, "Mondays"
    assert bench.until(NOW, date(2026, 1, 10)) == 390 + 2 * 480 + 240
    assert hours(heads=2).minutes(TUESDAY) == 960
    assert hours("Tue 9-13").minutes(date(2026, 1, 7)) == 0, "open for customers, nobody at the bench"


def test_a_day_holds_what_is_promised_for_it_and_the_first_what_is_late() -> None:
    queue = [
        QueuedTicket(ticket="3", minutes=60, due=date(2026, 1, 7)),
        QueuedTicket(ticket="1", minutes=30, due=date(2026, 1, 2)),
        QueuedTicket(ticket="2", minutes=400),
        QueuedTicket(ticket="4", minutes=10, due=date(2026, 1, 9)),
    ]
    found = day_loads(queue, hours(), NOW, 4, 4.0)
    assert [(each.day.day, each.open, each.due, each.tickets, each.free) for each in found] == [
        (6, 390, 430, ("1", "2"), -40),
        (7, 480, 60, ("3",), 380),
        (8, 480, 0, (), 860),
        (9, 0, 10, ("4",), 850),
    ]
    assert found[0].chance < 0.5 < found[1].chance
