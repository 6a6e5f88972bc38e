"""Invent a shop: hidden rates and seasons, recipes that are a little wrong, deliveries that are late."""

from dataclasses import dataclass

import numpy as np

from stockroom.buying.problem import FloatArray, IntArray, PackOffer, SupplierTerms
from stockroom.buying.scenario import Scenario

N_ITEMS, N_JOBS = 50, 20
PAST_WEEKS, YEAR_WEEKS, SETTLE_WEEKS = 104, 52, 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Deliveries:
    """How a supplier really delivers: a usual time, and now and then much later."""

    stated: float
    usual: float
    spread: float
    late_chance: float
    late_mean: float

    def draw(self, n: int, rng: np.random.Generator) -> FloatArray:
        """Days from order to shelf."""
        late = (rng.random(n) < self.late_chance) * rng.exponential(self.late_mean, n)
        return np.maximum(self.usual * rng.lognormal(0.0, self.spread, n) + late, 1.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class World:
    """The script of a year, what the shop knows of the time before, and the truth."""

    scenario: Scenario
    past_jobs: IntArray  # (PAST_WEEKS, n_jobs)
    past_sales: FloatArray  # (PAST_WEEKS, n_items)
    past_leads: tuple[FloatArray, ...]  # per supplier
    deliveries: tuple[Deliveries, ...]
    job_rates: FloatArray  # (PAST_WEEKS + YEAR_WEEKS, n_jobs), true weekly means
    sale_rates: FloatArray  # (PAST_WEEKS + YEAR_WEEKS, n_items)
    job_size: float  # dispersion of weekly counts


def invent(seed: int) -> World:
    """One shop and its year."""
    rng = np.random.default_rng([2031, seed])
    weeks = PAST_WEEKS + YEAR_WEEKS
    recipe = _recipes(rng)
    job_rates = _rates(rng, rng.lognormal(0.9, 0.8, N_JOBS), weeks)
    sold = rng.random(N_ITEMS) < 0.2
    sale_rates = _rates(rng, np.where(sold, rng.lognormal(0.0, 0.7, N_ITEMS), 0.0), weeks)
    biased = rng.random(recipe.shape) < 0.25
    needs = recipe * np.where(biased, rng.lognormal(0.05, 0.15, recipe.shape), 1.0)
    size = 8.0
    jobs = _counts(rng, job_rates, size)
    sales = rng.poisson(sale_rates).astype(float)
    unit_cost = rng.lognormal(0.3, 0.9, N_ITEMS)
    weekly = job_rates.mean(axis=0) @ needs + sale_rates.mean(axis=0)
    unit_cost *= rng.lognormal(np.log(6.0), 0.9, N_ITEMS) / (unit_cost * weekly)  # 2..25 a week each
    suppliers, deliveries = _suppliers(weekly @ unit_cost)
    offers = _offers(rng, weekly, unit_cost, len(suppliers))
    days = YEAR_WEEKS * 7
    scenario = Scenario(
        needs=needs,
        recipe=recipe,
        tickets=_spread(rng, jobs[PAST_WEEKS:]).astype(np.int64),
        sales=_spread(rng, sales[PAST_WEEKS:]),
        waste=(rng.random((days, N_ITEMS)) < 0.004) * weekly * rng.uniform(0.1, 0.6, (days, N_ITEMS)),
        counted=_counted(rng, days),
        opening=weekly * rng.uniform(2.0, 5.0, N_ITEMS),
        lead_days=np.stack([each.draw(days, rng) for each in deliveries]),
        offers=offers,
        suppliers=suppliers,
        unit_cost=unit_cost,
        shelf_days=np.where(rng.random(N_ITEMS) < 0.12, rng.choice([120.0, 180.0, 365.0], N_ITEMS), np.inf),
        lost_margin=0.6 * unit_cost,
        held_cost=np.full(N_JOBS, 12.0),
        held_day_cost=np.full(N_JOBS, 3.0),
        from_day=SETTLE_WEEKS * 7,
    )
    return World(
        scenario=scenario,
        past_jobs=jobs[:PAST_WEEKS],
        past_sales=sales[:PAST_WEEKS],
        past_leads=tuple(each.draw(20, rng) for each in deliveries),
        deliveries=deliveries,
        job_rates=job_rates,
        sale_rates=sale_rates,
        job_size=size,
    )


def _recipes(rng: np.random.Generator) -> FloatArray:
    """Jobs of three to ten parts, a few of them (glue, thread, finish) in nearly every job."""
    recipe = np.zeros((N_JOBS, N_ITEMS))
    for job in range(N_JOBS):
        common = rng.choice(6, rng.integers(1, 4), replace=False)
        own = 6 + rng.choice(N_ITEMS - 6, rng.integers(2, 7), replace=False)
        for item in (*common, *own):
            recipe[job, item] = rng.choice([0.02, 0.1, 0.25, 1.0, 1.0, 2.0])
    for item in np.flatnonzero(~recipe.any(axis=0)):
        recipe[rng.integers(N_JOBS), item] = 1.0
    return recipe


def _rates(rng: np.random.Generator, level: FloatArray, weeks: int) -> FloatArray:
    """Weekly means: a yearly wave, a drift and slow wandering."""
    week = np.arange(weeks)[:, None]
    wave = rng.uniform(0.1, 0.5, len(level)) * np.cos(2 * np.pi * (week / 52 - rng.normal(0.8, 0.12, len(level))))
    drift = rng.normal(0.0, 0.08, len(level)) * week / 52
    wander = rng.normal(0.0, 0.02, (weeks, len(level))).cumsum(axis=0)
    rates: FloatArray = level * np.exp(wave + drift + wander)
    return rates


def _counts(rng: np.random.Generator, rates: FloatArray, size: float) -> IntArray:
    return rng.poisson(rates * rng.gamma(size, 1 / size, rates.shape)).astype(np.int64)


def _spread(rng: np.random.Generator, weekly: FloatArray | IntArray) -> FloatArray:
    """Weekly figures over the six open days of each week."""
    days = np.zeros((len(weekly) * 7, weekly.shape[1]))
    for week, row in enumerate(weekly):
        for column in np.flatnonzero(row):
            which = rng.integers(0, 6, int(row[column]))
            np.add.at(days, (week * 7 + which, column), 1.0)
    return days


def _suppliers(weekly_spend: float) -> tuple[tuple[SupplierTerms, ...], tuple[Deliveries, ...]]:
    none = np.zeros(1)
    share = weekly_spend / 3
    suppliers = (
        SupplierTerms(name="North Row Findings", leads=none, carriage=8.5, free_over=round(1.5 * share)),
        SupplierTerms(name="Quay Leather Store", leads=none, carriage=12.0, free_over=round(3.0 * share)),
        SupplierTerms(name="Harbour Trade Supplies", leads=none, carriage=15.0, free_over=round(5.0 * share)),
    )
    deliveries = (
        Deliveries(stated=3.0, usual=3.0, spread=0.2, late_chance=0.06, late_mean=8.0),
        Deliveries(stated=5.0, usual=6.0, spread=0.25, late_chance=0.10, late_mean=10.0),
        Deliveries(stated=10.0, usual=12.0, spread=0.3, late_chance=0.12, late_mean=14.0),
    )
    return suppliers, deliveries


def _offers(
    rng: np.random.Generator, weekly: FloatArray, unit_cost: FloatArray, n_suppliers: int
) -> tuple[PackOffer, ...]:
    """One offer per item, a second, dearer one for a fifth of them."""
    offers = []
    for item in range(len(weekly)):
        first = int(rng.integers(n_suppliers))
        pack = float(weekly[item] * rng.choice([0.3, 0.7, 1.5, 3.0]))
        offers.append(PackOffer(item=item, supplier=first, pack=pack, price=pack * float(unit_cost[item])))
        if rng.random() < 0.2:
            other = (first + int(rng.integers(1, n_suppliers))) % n_suppliers
            price = pack * float(unit_cost[item]) * rng.uniform(1.03, 1.25)
            offers.append(PackOffer(item=item, supplier=other, pack=pack, price=float(price)))
    return tuple(offers)


def _counted(rng: np.random.Generator, days: int) -> FloatArray:
    """Eight bins a week, everything every fourth week; a count is a few per cent off."""
    counted = np.full((days, N_ITEMS), np.nan)
    for week in range(days // 7):
        bins = np.arange(N_ITEMS) if week % 4 == 0 else rng.choice(N_ITEMS, 8, replace=False)
        counted[week * 7, bins] = rng.lognormal(0.0, 0.04, len(bins))
    return counted
