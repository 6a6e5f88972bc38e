from dataclasses import replace
from math import inf

import numpy as np
import pytest

from stockroom.counting.next_count import Candidate, choose, rotation, saving, why
from stockroom.counting.reconcile import Grade

CORK = Candidate(
    material="CORK", mean=300, spread=80, aid_error=5, weeks_since=6, full=1000, cover=300, cover_spread=60,
    short_cost=40, over_cost=2, grade=Grade.A,
)  # fmt: skip


def names(found: object) -> list[str]:
    return [each.candidate.material for each in found]  # type: ignore[attr-defined]


def test_saving_agrees_with_playing_it_out() -> None:
    rng = np.random.default_rng(6)
    n = 400_000
    true = rng.normal(CORK.mean, CORK.spread, n)
    need = rng.normal(CORK.cover, CORK.cover_spread, n)
    seen = true + rng.normal(0, CORK.aid_error, n)
    gain = CORK.spread**2 / (CORK.spread**2 + CORK.aid_error**2)
    thought = CORK.mean + gain * (seen - CORK.mean)
    waits = CORK.short_cost * np.maximum(need - true, 0)
    orders = CORK.over_cost * np.maximum(true - need, 0)
    grid = np.linspace(thought.min(), thought.max(), 400)
    cell = np.digitize(thought, grid)
    totals = [np.bincount(cell, each, 402) for each in (waits, orders)]
    best = np.minimum(*totals).sum() / n
    assert saving(CORK) == pytest.approx(min(waits.mean(), orders.mean()) - best, rel=0.05)


def test_knowing_the_shelf_already_or_being_far_from_a_decision_saves_nothing() -> None:
    assert saving(replace(CORK, spread=0)) == 0
    assert saving(replace(CORK, mean=5000)) == pytest.approx(0, abs=1e-6)


def test_exact_cover_and_exact_aid_still_work() -> None:
    assert saving(replace(CORK, cover_spread=0, aid_error=0)) > 0


@pytest.mark.parametrize("change", [{"spread": 120.0}, {"short_cost": 80.0, "over_cost": 4.0}])
def test_more_doubt_or_more_at_stake_saves_more(change: dict[str, float]) -> None:
    assert saving(replace(CORK, **change)) > saving(CORK)  # type: ignore[arg-type]


def test_the_bin_that_saves_most_a_minute_comes_first() -> None:
    dear = replace(CORK, material="DEAR", short_cost=400, over_cost=20)
    sure = replace(CORK, material="SURE", spread=1)
    assert names(choose([sure, CORK, dear])) == ["DEAR", "CORK", "SURE"]


def test_nearly_empty_bins_count_fast_and_so_come_first() -> None:
    low = replace(CORK, material="LOW", full=10_000, full_minutes=10)
    high = replace(low, material="HIGH", full=310)
    found = choose([high, low])
    assert names(found) == ["LOW", "HIGH"]
    assert found[0].nearly_empty
    assert found[0].minutes == pytest.approx(0.5 + 0.03 * 9.5)
    assert not found[1].nearly_empty


def test_overdue_bins_come_before_all() -> None:
    forgotten = replace(CORK, material="OLD", weeks_since=14, spread=0)
    assert names(choose([CORK, forgotten], bins=1)) == ["OLD"]
    later = replace(forgotten, grade=Grade.C)  # once a year is enough
    assert names(choose([CORK, later], bins=1)) == ["CORK"]


def test_minutes_are_kept_and_a_long_bin_passed_over() -> None:
    long = replace(CORK, material="LONG", mean=1000, cover=1000, full_minutes=20, short_cost=4000, over_cost=400)
    found = choose([long, CORK, replace(CORK, material="TWIN")], minutes=3)
    assert names(found) == ["CORK", "TWIN"]
    assert sum(each.minutes for each in found) <= 3
    assert choose([], minutes=3) == ()


def test_why_is_said_in_plain_words() -> None:
    def grams(_: str, amount: float) -> str:
        return f"{amount:.0f} g"

    def money(minor: float) -> str:
        return f"{minor / 100:.2f}"

    first, second = choose([replace(CORK, mean=200), replace(CORK, material="NEW", weeks_since=inf, spread=0)])
    assert why(first, amount=grams, money=money) == "Never counted."
    assert why(second, amount=grams, money=money) == (
        "Last counted 6 weeks ago; could be out by 80 g; a count saves about "
        f"{saving(second.candidate) / 100:.2f}; nearly empty, so quick to count."
    )
    (due,) = choose([replace(CORK, weeks_since=14, mean=800, cover=3)])
    assert why(due, amount=grams, money=money) == (
        "Last counted 14 weeks ago; due by its ABC class (A); could be out by 80 g."
    )
    (fresh,) = choose([replace(CORK, weeks_since=0.2, spread=0)])
    assert why(fresh, amount=grams, money=money) == "Last counted less than a week ago."


def test_rotation_takes_the_longest_left() -> None:
    assert rotation({"a": 2, "b": 9, "c": 9, "d": 1}, 3) == ("b", "c", "a")


def test_nonsense_is_a_fault() -> None:
    with pytest.raises(ValueError, match="not negative"):
        replace(CORK, spread=-1)
    with pytest.raises(ValueError, match="not negative"):
        replace(CORK, full=0)
