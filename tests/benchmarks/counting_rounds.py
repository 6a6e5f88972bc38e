"""Choosing what to count by what a count saves, against counting in rotation: the same shops, the same minutes.

Run: python -m tests.benchmarks.counting (prints this too)
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.lessons import LessonAdvice, LineLesson, MaterialLesson, Span
from stockroom.counting.next_count import Candidate, choose
from stockroom.counting.reconcile import Grade
from stockroom.counting.shelf_posterior import Losses, ShelfPosterior, SinceCount, after_work

Floats = NDArray[np.float64]
Chooser = Callable[[Sequence[Candidate], float], list[str]]

WEEKS = 52
MINUTES = 15.0
COVER = 3.0  # weeks from a shelf review to the arrival of what it orders, at the worst
SAFETY = 1.6
FULL = 8.0  # weeks of use on a full shelf


def _counted(before: ShelfPosterior, found: float, variance: float) -> ShelfPosterior:
    """Narrow a posterior by a count: precisions add up (Gelman et al. 2013, eq. 2.10-2.12, from memory).

    One further off than four standard deviations is believed as it stands: the model doesn't know what happened.
    """
    both = before.variance + variance
    if variance == 0 or (found - before.mean) ** 2 > 4.0**2 * both:
        return ShelfPosterior(mean=found, variance=variance)
    gain = before.variance / both
    return ShelfPosterior(mean=before.mean + gain * (found - before.mean), variance=(1 - gain) * before.variance)


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
        held_cost=1200 / size,  # a job delayed costs 12.00
    )


def by_rule(candidates: Sequence[Candidate], minutes: float) -> list[str]:
    return [each.candidate.material for each in choose(candidates, minutes=minutes)]


def in_turn(candidates: Sequence[Candidate], minutes: float) -> list[str]:
    """Longest since last counted first, as many as fit."""
    return _fitting(sorted(candidates, key=lambda one: (-one.weeks_since, one.material)), minutes)


NOTHING = Span(estimate=0.0, low=0.0, high=0.0)
ALL = LineLesson(line="all", recipe=1.0, use=NOTHING, uses=0, verdict=LessonAdvice.LATER)
LESSON = MaterialLesson(  # before any count taught anything: recipes as they stand, out by a fifth either way
    material="", lines=(ALL,), waste=NOTHING, outliers=(), job_spread=0.2, ratio_mean=np.array([1.0, 0.0]),
    ratio_covariance=np.diag([0.2**2, 0.0]),
)  # fmt: skip
LOSSES = Losses(shape=0.5, weeks=130, size=3.0)


@dataclass(slots=True, kw_only=True)
class Year:
    """One run through a shop's year; what is believed, what is true and what it cost."""

    shop: Shop
    weekly: Floats
    spread: Floats
    shelf: Floats
    posteriors: list[ShelfPosterior]
    since: Floats
    due: Floats
    on_order: Floats
    held: float = 0.0
    off: float = 0.0
    minutes: float = 0.0

    def work(self, week: int) -> None:
        """Deliveries come, jobs are done; the book follows the recipes."""
        size = 1200 / self.shop.held_cost
        self.on_order = self.on_order - self.due[week]
        self.shelf = self.shelf + self.due[week]
        self.held += float((np.maximum(self.shop.used[week] - self.shelf, 0) / size).sum())
        self.shelf = np.maximum(self.shelf - self.shop.used[week], 0)
        self.since = self.since + 1
        for k, posterior in enumerate(self.posteriors):
            done = float(self.shop.expected[week, k])
            work = SinceCount(
                expected=np.array([done]), times=np.array([done / size[k]]), received=float(self.due[week, k]), weeks=1.0
            )  # fmt: skip
            moved = after_work(posterior, work, LESSON, LOSSES.sized(float(self.weekly[k])))
            self.posteriors[k] = ShelfPosterior(mean=max(moved.mean, 0.0), variance=moved.variance)

    def count(self, week: int, chooser: Chooser) -> None:
        """Spend the week's minutes counting."""
        bins = [self._candidate(k) for k in range(len(self.posteriors))]
        for name in chooser(bins, MINUTES):
            k = int(name)
            error = float(self.shop.aid[k] * self.shelf[k])
            found = max(float(self.shelf[k] + error * self.shop.slip[week, k]), 0.0)
            self.posteriors[k] = _counted(self.posteriors[k], found, error**2)
            self.since[k] = 0
            self.minutes += bins[k].minutes

    def order(self, week: int) -> None:
        """Order up to eight weeks' use what the book says is short."""
        book = np.array([each.mean for each in self.posteriors])
        self.off += float((abs(book - self.shelf) * self.shop.price).sum())
        short = book + self.on_order < COVER * self.weekly + SAFETY * self.spread * COVER**0.5
        ordered = np.where(short, np.maximum(FULL * self.weekly - book - self.on_order, 0), 0)
        self.due[week + 1 + self.shop.lead[week], np.arange(book.size)] += ordered
        self.on_order = self.on_order + ordered

    def _candidate(self, k: int) -> Candidate:
        posterior, weekly = self.posteriors[k], float(self.weekly[k])
        return Candidate(
            material=str(k), mean=posterior.mean, spread=posterior.spread, booked=posterior.mean, weekly=weekly,
            cost=float(self.shop.price[k]), aid_error=float(self.shop.aid[k]) * posterior.mean,
            weeks_since=float(self.since[k]), full=FULL * weekly, cover=max(COVER * weekly - float(self.on_order[k]), 0.0),
            cover_spread=COVER**0.5 * float(self.spread[k]), short_cost=float(self.shop.held_cost[k]),
            over_cost=float(self.shop.price[k]) * 0.2, grade=Grade.C,
        )  # fmt: skip


def year(shop: Shop, chooser: Chooser) -> tuple[float, float, float]:
    """Play a year; give jobs delayed, mean stock difference in money, and minutes spent a week."""
    weekly, m = shop.expected.mean(axis=0), shop.aid.size
    run = Year(
        shop=shop, weekly=weekly, spread=shop.expected.std(axis=0), shelf=FULL * weekly,
        posteriors=[ShelfPosterior(mean=float(FULL * each), variance=0.0) for each in weekly], since=np.zeros(m),
        due=np.zeros((WEEKS + 4, m)), on_order=np.zeros(m),
    )  # fmt: skip
    for week in range(WEEKS):
        run.work(week)
        run.count(week, chooser)
        run.order(week)
    return run.held, run.off / WEEKS, run.minutes / WEEKS


def most_used(candidates: Sequence[Candidate], minutes: float) -> list[str]:
    """What a week's use of is worth most first."""
    return _fitting(sorted(candidates, key=lambda each: -each.weekly * each.cost), minutes)


def most_valuable(candidates: Sequence[Candidate], minutes: float) -> list[str]:
    """What the shelf holds most money in first."""
    return _fitting(sorted(candidates, key=lambda each: -each.booked * each.cost), minutes)


def by_chance(candidates: Sequence[Candidate], minutes: float) -> list[str]:
    """Any, but the same any for the same beliefs."""
    rng = np.random.default_rng(int(sum(each.mean for each in candidates)))
    return _fitting([candidates[at] for at in rng.permutation(len(candidates))], minutes)


def _fitting(wanted: Sequence[Candidate], minutes: float) -> list[str]:
    found = []
    for each in wanted:
        if each.minutes <= minutes:
            found.append(each.material)
            minutes -= each.minutes
    return found


RULES: dict[str, Chooser] = {
    "by what it changes": by_rule, "in rotation": in_turn, "the most used": most_used,
    "the most valuable": most_valuable, "any": by_chance,
}  # fmt: skip


def report(seeds: int) -> None:
    shops = [make(np.random.default_rng(seed)) for seed in range(seeds)]
    print(f"\nwhat to count, {MINUTES:g} minutes a week, {seeds} shop-years (mean):")
    ours = np.array([year(shop, by_rule)[0] for shop in shops])
    for name, rule in RULES.items():
        held, off, minutes = np.array([year(shop, rule) for shop in shops]).T
        gap = ours - held
        error = gap.std(ddof=1) / np.sqrt(seeds)
        against = f"; ours less this: {gap.mean():+.1f} (standard error {error:.1f})" if rule is not by_rule else ""
        print(f"  {name + ':':20} held up {held.mean():.1f} jobs, book off by {off.mean() / 100:.0f}, "
              f"{minutes.mean():.1f} min{against}")  # fmt: skip
