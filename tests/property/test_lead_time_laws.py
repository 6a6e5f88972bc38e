"""Laws of lead times that hold whatever a supplier's days, closures and deliveries."""

from dataclasses import replace
from datetime import date, timedelta
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.buying.lead_times import (
    LeadTime,
    PastOrder,
    Terms,
    arrivals,
    as_shown,
    learn,
    order_days,
    starts,
    worked_days,
)

MONDAY = date(2026, 3, 2)
QUANTILES = 1.0 - np.array([0.03, 0.1, 0.5, 0.9, 0.97])

spans = st.lists(
    st.tuples(st.integers(0, 60), st.integers(0, 9)).map(
        lambda each: (MONDAY + timedelta(days=each[0]), MONDAY + timedelta(days=sum(each)))
    ),
    max_size=3,
).map(tuple)
terms = st.builds(
    Terms,
    stated_days=st.integers(1, 12).map(float),
    order_weekdays=st.frozensets(st.integers(0, 6), min_size=1),
    closures=spans,
    away=spans,
)
orders = st.lists(
    st.builds(
        lambda day, took: PastOrder(
            ordered=MONDAY + timedelta(days=day),
            received=None if took is None else MONDAY + timedelta(days=day + took),
        ),
        st.integers(0, 60),
        st.none() | st.integers(0, 30),
    ),
    max_size=12,
)
days = st.integers(0, 70).map(lambda n: MONDAY + timedelta(days=n))


@given(orders, terms, days, st.randoms())
def test_the_order_of_typing_teaches_nothing(past: list[PastOrder], said: Terms, day: date, dice: Random) -> None:
    mixed = list(past)
    dice.shuffle(mixed)
    one, other = learn(past, said, day), learn(mixed, said, day)
    assert one.usual_days == pytest.approx(other.usual_days)
    np.testing.assert_allclose(one.beyond(np.arange(40.0)), other.beyond(np.arange(40.0)), atol=1e-9)
    assert as_shown(said, past, day) == as_shown(said, mixed, day)


@given(orders, terms, days)
def test_what_comes_later_is_not_known_yet(past: list[PastOrder], said: Terms, day: date) -> None:
    then = [
        replace(each, received=each.received if each.received and each.received <= day else None)
        for each in past
        if each.ordered <= day
    ]
    assert learn(past, said, day) == learn(then, said, day)
    assert as_shown(said, [each for each in past if each.ordered <= day], day) == as_shown(said, then, day)


@given(orders, terms, days, st.integers(1, 9))
def test_an_order_placed_later_never_comes_sooner(past: list[PastOrder], said: Terms, day: date, more: int) -> None:
    belief, shown = learn(past, said, day), as_shown(said, past, day)
    now, then = (
        placed + arrivals(belief, day + timedelta(days=placed), day + timedelta(days=placed), shown, QUANTILES)
        for placed in (0, more)
    )
    assert (then >= now - 1e-9).all()


@given(terms, days)
def test_an_order_starts_on_a_day_he_works_and_at_once_is_never_later(said: Terms, day: date) -> None:
    begins = starts(day, said)
    assert begins >= day
    assert said.open_on(begins)
    assert day <= starts(day, replace(said, at_once=True)) <= begins
    assert worked_days(day, begins, said) == 0
    assert order_days(said, day, 90)[0] == (begins - day).days


@given(terms, days, st.integers(0, 60), st.integers(0, 9))
def test_an_order_day_lost_to_a_holiday_is_made_up_before_the_next_one(
    said: Terms, day: date, first: int, long: int
) -> None:
    """However long he is shut, the first order day after it is no later than the first day he works."""
    closed = (MONDAY + timedelta(days=first), MONDAY + timedelta(days=first + long))
    said = replace(said, closures=(closed,), away=())
    after = closed[1] + timedelta(days=1)
    lost = {(closed[0] + timedelta(days=n)).weekday() for n in range(long + 1)} & said.order_weekdays
    assert said.takes_orders(after) == bool(lost or after.weekday() in said.order_weekdays)


def believed(took: list[int], stated: int, waiting: tuple[int, ...] = ()) -> LeadTime:
    """What so many days teach, and orders that have waited for so many."""
    today = date(2026, 9, 1)
    came = [PastOrder(ordered=MONDAY, received=MONDAY + timedelta(days=n)) for n in took]
    still = [PastOrder(ordered=today - timedelta(days=n), received=None) for n in waiting]
    return learn([*came, *still], Terms(stated_days=float(stated)), today)


taken = st.lists(st.integers(0, 30), max_size=15)
says = st.integers(1, 14)
RARE = np.array([0.1, 0.03, 0.01])


@given(taken, says, st.sampled_from(range(3)), st.integers(0, 40))
def test_a_delivery_later_than_believed_never_makes_the_belief_shorter(
    took: list[int], stated: int, rare: int, more: int
) -> None:
    """One later than a day that one in ten, 33 or a hundred passes puts that day no sooner.

    Not so of the middle day where a supplier's word is far off: then the new one says that earlier ones were late.
    """
    before = believed(took, stated)
    late = int(np.ceil(before.sample(RARE[[rare]])[0])) + more
    after = believed([*took, late], stated)
    assert after.sample(RARE)[rare] >= before.sample(RARE)[rare] - 1e-9


@given(st.lists(st.integers(2, 9), min_size=1, max_size=15), says, st.integers(1, 12))
def test_a_supplier_who_says_and_takes_longer_is_believed_to(took: list[int], stated: int, more: int) -> None:
    fast, slow = believed(took, stated), believed([each + more for each in took], stated + more)
    assert slow.usual_days > fast.usual_days
    assert slow.sample(np.array([0.75]))[0] > fast.sample(np.array([0.75]))[0]


@given(st.lists(st.integers(5, 7), min_size=1, max_size=15), st.integers(0, 14))
def test_deliveries_that_take_longer_are_believed_to_take_longer(took: list[int], which: int) -> None:
    """Of those that lie close together: one far from the others tells of lateness, or of a second speed.

    So may even one of these, a little: of many fives and sevens with a six between, the six made a seven.
    """
    slower = [*took]
    slower[which % len(took)] += 1
    fast, slow = believed(took, 6), believed(slower, 6)
    assert slow.usual_days > 0.97 * fast.usual_days
    if len({*took, *slower}) <= 2:
        assert slow.usual_days > fast.usual_days


@given(taken, says, st.integers(0, 100))
def test_an_order_still_open_hardly_makes_the_belief_shorter(took: list[int], stated: int, age: int) -> None:
    """All it says is that it takes as long as it has, or longer; by up to a tenth shorter where his word is far off."""
    before, after = believed(took, stated), believed(took, stated, (age,))
    assert (after.sample(RARE) >= 0.9 * before.sample(RARE)).all()


@given(taken, says, st.floats(0.0, 130.0), st.floats(0.0, 40.0))
def test_chances_fall_from_one_and_an_older_order_comes_later(
    took: list[int], stated: int, age: float, more: float
) -> None:
    belief = believed(took, stated)
    chances = belief.beyond(np.arange(0.0, 241.0, 0.25))
    assert chances[0] == pytest.approx(1.0)
    assert (np.diff(chances) <= 1e-12).all()
    assert chances[-1] >= 0.0
    younger, older = belief.sample(QUANTILES, age=age), belief.sample(QUANTILES, age=age + more)
    assert (younger >= age - 1e-9).all()
    assert (older >= younger - 1e-6).all()


@pytest.mark.parametrize("weekday", range(5))
def test_any_weekday_lost_to_a_holiday_is_made_up(weekday: int) -> None:
    holiday = MONDAY + timedelta(days=weekday)
    said = Terms(stated_days=3.0, order_weekdays=frozenset({weekday}), closures=((holiday, holiday),))
    assert said.takes_orders(holiday + timedelta(days=1))
    assert not said.takes_orders(holiday + timedelta(days=2))
