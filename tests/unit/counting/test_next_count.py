from dataclasses import replace
from math import inf

import numpy as np
import pytest

from stockroom.counting.next_count import Candidate, choose, correction, left, order_point, saving, why
from stockroom.counting.reconcile import Grade
from tests.benchmarks.counting_rounds import RULES, make, year

CORK = Candidate(
    material="CORK", mean=300, spread=80, booked=300, aid_error=5, weeks_since=6, full=1000, cover=300,
    cover_spread=60, weekly=100, short_cost=40, over_cost=2, cost=3, grade=Grade.A,
)  # fmt: skip


def names(found: object) -> list[str]:
    return [each.candidate.material for each in found]  # type: ignore[attr-defined]


@pytest.mark.parametrize("booked", [300, 330, 280])
def test_saving_agrees_with_playing_it_out(booked: float) -> None:
    """The order is placed when the book says so; what truly lies there then, and what is used until it comes, is drawn."""
    rng = np.random.default_rng(6)
    n = 2_000_000
    of = replace(CORK, booked=booked)
    used = rng.normal(of.cover, of.cover_spread, n)

    def lost(wrong: np.ndarray) -> float:
        there = order_point(of) - wrong
        missing = np.maximum(used - there, 0) - np.maximum(used - order_point(of), 0)
        return float((of.short_cost * missing + of.over_cost * np.maximum(-wrong, 0)).mean())

    not_counted = booked - rng.normal(of.mean, of.spread, n)
    counted = rng.normal(0, left(of), n)
    assert saving(of) == pytest.approx(lost(not_counted) - lost(counted), rel=0.02)


def test_what_a_count_puts_right_agrees_with_drawing() -> None:
    rng = np.random.default_rng(3)
    of = replace(CORK, booked=340)
    off = (
        np.abs(of.booked - rng.normal(of.mean, of.spread, 400_000)).mean()
        - np.abs(rng.normal(0, left(of), 400_000)).mean()
    )
    assert correction(of) == pytest.approx(3 * off, rel=0.01)
    assert correction(replace(CORK, spread=0)) == 0


def test_knowing_the_shelf_already_or_never_ordering_it_saves_nothing() -> None:
    assert saving(replace(CORK, spread=0)) == 0
    assert saving(replace(CORK, weekly=0)) == 0
    assert saving(replace(CORK, mean=500_000, booked=500_000)) < saving(CORK) / 100


def test_a_book_known_to_be_wrong_is_worth_a_count_though_the_shelf_is_sure() -> None:
    assert saving(replace(CORK, spread=0, booked=400)) > 0
    assert correction(replace(CORK, spread=0, booked=400)) == pytest.approx(300)


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
    found = choose([high, low], minutes=60)
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
        "Last counted 6 weeks ago; could be out by 130 g; a count saves about "
        f"{saving(second.candidate) / 100:.2f}; it puts about {correction(second.candidate) / 100:.2f} in the book "
        "right; nearly empty, so quick to count."
    )
    assert "saves" not in why(replace(second, saves=99.0), amount=grams, money=money), "a few cents are no reason"
    (due,) = choose([replace(CORK, weeks_since=14, mean=800, booked=800, weekly=0, cost=0)])
    assert why(due, amount=grams, money=money) == (
        "Last counted 14 weeks ago; due by its ABC class (A); could be out by 130 g."
    )
    (fresh,) = choose([replace(CORK, weeks_since=0.2, spread=0)])
    assert why(fresh, amount=grams, money=money) == "Last counted less than a week ago."


def test_nonsense_is_a_fault() -> None:
    with pytest.raises(ValueError, match="not negative"):
        replace(CORK, spread=-1)
    with pytest.raises(ValueError, match="not negative"):
        replace(CORK, full=0)


def test_a_year_of_counting_what_changes_most_holds_up_fewer_jobs_than_any_plain_rule() -> None:
    """In the most used, the most valuable, any: the owner would be better off without us if one of them won."""
    shops = [make(np.random.default_rng(seed)) for seed in (41, 42, 43)]
    held = {name: sum(year(shop, rule)[0] for shop in shops) for name, rule in RULES.items()}
    assert held.pop("by what it changes") < min(held.values())
