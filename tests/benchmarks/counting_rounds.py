"""Choosing what to count by what a count saves, against counting in rotation: the same shops, the same minutes.

Run: python -m tests.benchmarks.counting (prints this too)
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.belief import Belief, Losses, Work, after_count, after_work
from stockroom.counting.lessons import MaterialLesson, Span
from stockroom.counting.next_count import Candidate, choose
from stockroom.counting.reconcile import Grade

Floats = NDArray[np.float64]
Chooser = Callable[[Sequence[Candidate], float], list[str]]

WEEKS = 52
MINUTES = 15.0
COVER = 3.0  # weeks from a shelf review to the arrival of what it orders, at the worst
SAFETY = 1.6


@dataclass(frozen=True, slots=True, kw_only=True)
class Shop:
    """One invented shop-year: m materials, hidden truth included."""

    expected: Floats  # (weeks, m) recorded use
    used: Floats  # (weeks, m) true use
    lead: NDArray[np.int64]  # (weeks, m) weeks until an order placed then arrives
    aid: Floats  # (m,) relative error of counting
    slip: Floats  # (weeks, m) standard normal
    price: Floats  # (m,) minor units per base unit
    held_cost: Floats  # (m,) minor units per base unit missing


def make(rng: np.random.Generator, materials: int = 60) -> Shop:
    """Biased recipes, waste, lumpy jobs and a sudden loss in one material of five."""
    rate = rng.gamma(0.8, 5.0, materials) + 0.3
    size = np.exp(rng.normal(3, 0.8, materials))
    jobs = rng.poisson(rate, (WEEKS, materials))
    expected = jobs.astype(float) * size
    bias = np.exp(rng.normal(0.03, 0.2, materials))
    used = expected * bias * np.exp(rng.normal(0, 0.1, expected.shape)) + rate * size * rng.uniform(0, 0.05, materials)
    for m in np.flatnonzero(rng.random(materials) < 0.2):
        used[rng.integers(4, WEEKS), m] += rate[m] * size[m] * rng.uniform(2, 5)
    price = np.exp(rng.normal(3, 1, materials)) / size
    return Shop(
        expected=expected,
        used=used,
        lead=rng.integers(1, 3, expected.shape),
        aid=rng.choice([0.005, 0.02, 0.05], materials),
        slip=rng.normal(size=expected.shape),
        price=price,
        held_cost=1200 / size,  # a job held up costs 12.00
    )


def by_rule(candidates: Sequence[Candidate], minutes: float) -> list[str]:
    return [each.candidate.material for each in choose(candidates, minutes=minutes)]


def in_turn(candidates: Sequence[Candidate], minutes: float) -> list[str]:
    """Longest since last counted first, as many as fit."""
    found = []
    for each in sorted(candidates, key=lambda one: (-one.weeks_since, one.material)):
        if each.minutes <= minutes:
            found.append(each.material)
            minutes -= each.minutes
    return found


def _lesson(ratio_spread: float = 0.2) -> MaterialLesson:
    """Before any count taught anything: recipes as they stand, out by a fifth either way."""
    nothing = Span(estimate=0.0, low=0.0, high=0.0)
    return MaterialLesson(
        material="", lines=("all",), waste=nothing, shocks=(), job_spread=0.2,  # type: ignore[arg-type]
        ratio_mean=np.array([1.0, 0.0]), ratio_covariance=np.diag([ratio_spread**2, 0.0]),
    )  # fmt: skip


def year(shop: Shop, chooser: Chooser) -> tuple[float, float, float]:
    """Play a year; give jobs held up, mean stock difference in money, and minutes spent a week."""
    m = shop.aid.size
    weekly = shop.expected.mean(axis=0)
    spread = shop.expected.std(axis=0)
    size = 1200 / shop.held_cost
    shelf = weekly * 8
    beliefs = [Belief(mean=float(each), variance=0.0) for each in shelf]
    since = np.zeros(m)
    due = np.zeros((WEEKS + 4, m))
    on_order = np.zeros(m)
    held = off = spent = 0.0
    lesson = _lesson()
    for week in range(WEEKS):
        shelf, on_order = shelf + due[week], on_order - due[week]
        short = np.maximum(shop.used[week] - shelf, 0)
        held += float((short / size).sum())
        shelf = np.maximum(shelf - shop.used[week], 0)
        since += 1
        for k in range(m):
            done = shop.expected[week, k]
            work = Work(
                expected=np.array([done]), times=np.array([round(done / size[k])], float), received=float(due[week, k]),
                weeks=1.0,
            )  # fmt: skip
            moved = after_work(beliefs[k], work, lesson, Losses(shape=0.5, weeks=130, size=float(3 * weekly[k])))
            beliefs[k] = Belief(mean=max(moved.mean, 0.0), variance=moved.variance)
        candidates = [
            _candidate(k, beliefs[k], float(since[k]), shop, (weekly[k], spread[k], on_order[k])) for k in range(m)
        ]
        for name in chooser(candidates, MINUTES):
            k = int(name)
            error = shop.aid[k] * shelf[k]
            found = max(shelf[k] + error * shop.slip[week, k], 0.0)
            beliefs[k] = after_count(beliefs[k], float(found), float(error**2))
            since[k] = 0
            spent += candidates[k].minutes
        book = np.array([each.mean for each in beliefs])
        off += float((abs(book - shelf) * shop.price).sum())
        short_of = book + on_order < COVER * weekly + SAFETY * spread * COVER**0.5
        ordered = np.where(short_of, np.maximum(8 * weekly - book - on_order, 0), 0)
        due[week + 1 + shop.lead[week], np.arange(m)] += ordered
        on_order += ordered
    return held, off / WEEKS, spent / WEEKS


def _candidate(k: int, belief: Belief, since: float, shop: Shop, flow: tuple[float, float, float]) -> Candidate:
    weekly, spread, on_order = (float(each) for each in flow)
    return Candidate(
        material=str(k), mean=belief.mean, spread=belief.spread, aid_error=float(shop.aid[k]) * belief.mean,
        weeks_since=since, full=8 * weekly, cover=max(COVER * weekly - on_order, 0.0), cover_spread=COVER**0.5 * spread,
        short_cost=float(shop.held_cost[k]), over_cost=float(shop.price[k]) * 0.2, grade=Grade.C,
    )  # fmt: skip


def report(seeds: int) -> None:
    table = []
    for seed in range(seeds):
        shop = make(np.random.default_rng(seed))
        table.append((*year(shop, by_rule), *year(shop, in_turn)))
    rule_held, rule_off, rule_min, turn_held, turn_off, turn_min = np.array(table).T
    print(f"\nwhat to count, {MINUTES:g} minutes a week, {seeds} paired shop-years (mean):")
    print(
        f"  by the rule:  held up {rule_held.mean():.1f} jobs, book off by {rule_off.mean() / 100:.0f}, {rule_min.mean():.1f} min"
    )
    print(
        f"  in rotation:  held up {turn_held.mean():.1f} jobs, book off by {turn_off.mean() / 100:.0f}, {turn_min.mean():.1f} min"
    )
    gap = rule_held - turn_held
    error = gap.std(ddof=1) / np.sqrt(seeds)
    print(
        f"  held-up jobs, rule less rotation: {gap.mean():+.1f} (standard error {error:.1f}), fewer in {(gap < 0).sum()} of {seeds}"
    )
