"""Minutes at the bench: shared, never more than the heads worked; learnt without being led by a forgotten pause."""

from datetime import timedelta
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.demand.bench_time import JobMinutes, Stretch, learn_minutes, minutes_worked, pulled_in, scale_of
from tests import build

NINE = build.at("2026-01-06 09:00")


def stretch(ticket: str, begins: int, ends: int) -> Stretch:
    return Stretch(ticket=ticket, began=NINE + timedelta(minutes=begins), ended=NINE + timedelta(minutes=ends))


STRETCHES = st.lists(
    st.tuples(st.sampled_from("ABCD"), st.integers(0, 300), st.integers(0, 300)).map(
        lambda t: stretch(t[0], min(t[1:]), max(t[1:]))
    ),
    max_size=12,
)


def by_minute(found: list[Stretch], heads: int) -> dict[str, Fraction]:
    """Share every minute among the stretches that cover it, one minute after the other."""
    sums = {each.ticket: Fraction(0) for each in found}
    for minute in range(300):
        now = NINE + timedelta(minutes=minute)
        covering = [each for each in found if each.began <= now < each.ended]
        for each in covering:
            sums[each.ticket] += min(Fraction(1), Fraction(heads, len(covering)))
    return sums


@given(found=STRETCHES, heads=st.integers(1, 3))
def test_minutes_are_shared_as_if_counted_one_by_one(found: list[Stretch], heads: int) -> None:
    assert minutes_worked(found, heads) == by_minute(found, heads)
    assert minutes_worked(list(reversed(found)), heads) == minutes_worked(found, heads)
    assert sum(minutes_worked(found, heads).values()) <= heads * 300


def test_two_tickets_at_once_share_one_pair_of_hands() -> None:
    found = [stretch("A", 0, 60), stretch("B", 30, 60)]
    assert minutes_worked(found, 1) == {"A": 45, "B": 15}
    assert minutes_worked(found, 2) == {"A": 60, "B": 30}


def test_stated_minutes_stand_for_the_clock() -> None:
    one = Stretch(ticket="A", began=NINE, ended=NINE + timedelta(hours=5), stated=25)
    assert minutes_worked([one, stretch("A", 400, 410)], 1) == {"A": 35}


@given(
    times=st.lists(st.floats(5, 120), min_size=1, max_size=30), stated=st.integers(5, 120), far=st.floats(500, 10_000)
)
def test_what_is_believed_lies_between_what_is_stated_and_what_was_measured(
    times: list[float], stated: int, far: float
) -> None:
    found = learn_minutes("J", times, stated)
    assert found.mean is not None
    assert found.believed is not None
    low, high = sorted((found.mean, float(stated)))
    assert low - 1e-9 <= found.believed <= high + 1e-9
    assert learn_minutes("J", list(reversed(times)), stated) == found
    assert pulled_in(sorted([*times, far]), stated)[-1] <= max(*times, far), (
        "a far time never counts for more than it is"
    )


def test_nothing_measured_leaves_what_is_stated_and_nothing_known_stays_unknown() -> None:
    assert learn_minutes("J", [], 30).believed == 30
    assert learn_minutes("J", [], None).believed is None
    assert learn_minutes("J", [40], None).believed == 40


def test_eight_tickets_weigh_as_much_as_the_price_list() -> None:
    assert learn_minutes("J", [40.0] * 8, 20) == JobMinutes(
        job="J", stated=20, tickets=8, mean=40.0, least=40.0, most=40.0
    )
    assert learn_minutes("J", [40.0] * 8, 20).believed == 30


def test_a_pause_that_nobody_entered_hardly_moves_the_mean() -> None:
    """In 200 draws of 15 log-normal times (mean 30, spread 0.3 of logarithms; our own guess) with one day forgotten."""
    rng = np.random.default_rng(5)
    robust, plain, clean = [], [], []
    for _ in range(200):
        times = rng.lognormal(np.log(30) - 0.045, 0.3, 15)
        clean.append(learn_minutes("J", times.tolist(), None).mean or 0.0)
        spoilt = [*times[1:].tolist(), 480.0]
        robust.append(learn_minutes("J", spoilt, None).mean or 0.0)
        plain.append(float(np.mean(spoilt)))
    assert np.mean(clean) == pytest.approx(30, abs=0.5), "clean times are left as they are"
    assert np.mean(robust) - 30 < 4
    assert np.mean(plain) - 30 > 25


def test_the_range_of_the_mean_is_the_published_one() -> None:
    """Student's t for 9 degrees, two-sided 90 %: 1.833 (any table of t, as in Fisher and Yates 1963, table III)."""
    times = [28.0, 30, 32, 29, 31, 30, 33, 27, 30, 30]
    found = learn_minutes("J", times, None)
    assert found.least is not None
    assert found.mean is not None
    reach = 1.833 * np.std(times, ddof=1) / np.sqrt(10)
    assert found.mean - found.least == pytest.approx(reach, rel=1e-3)


def test_a_spread_is_learnt_over_all_jobs() -> None:
    assert scale_of({}, {}) == 4.0
    rng = np.random.default_rng(3)
    times = {f"J{n}": rng.gamma(30 / 9.0, 9.0, 60).tolist() for n in range(5)}
    assert scale_of(times, {}) == pytest.approx(9.0, rel=0.2)
    assert pulled_in([30.0, 31.0, 900.0], 30) == [30.0, 31.0, pytest.approx(30.5 * np.exp(0.9), rel=0.05)]
