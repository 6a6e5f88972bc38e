"""Invent a shop: hidden rates and seasons, recipes that are a little wrong, deliveries that are late, days shut.

Every world has shared items between suppliers, minimum orders, closures and lots that expire; of a `Kind` it may have
price breaks and a limit of cash for each order day as well. One seed gives the same shop, work and luck in every kind.
"""

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from stockroom.buying.problem import FloatArray, IntArray, PackOffer, PriceStep, SupplierTerms
from stockroom.buying.scenario import Scenario

N_ITEMS, N_JOBS = 18, 8
PAST_WEEKS, YEAR_WEEKS, SETTLE_WEEKS = 104, 52, 6
FIRST_DAY = date(2031, 1, 6)  # a Monday
DRAWN = 2034  # worlds are drawn from this and the seed


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What a world has beyond what all have."""

    breaks: bool = False
    cash: bool = False


KINDS = {
    "no limits": Kind(),
    "breaks": Kind(breaks=True),
    "cash": Kind(cash=True),
    "breaks and cash": Kind(breaks=True, cash=True),
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Deliveries:
    """How a supplier really delivers, in days he works: a usual time, and now and then much later."""

    stated: float
    usual: float
    spread: float
    late_chance: float
    late_mean: float
    shut: tuple[tuple[int, int], ...] = ()  # first and last day

    def draw(self, n: int, rng: np.random.Generator) -> FloatArray:
        """Worked days from order to shelf."""
        late = (rng.random(n) < self.late_chance) * rng.exponential(self.late_mean, n)
        return np.maximum(self.usual * rng.lognormal(0.0, self.spread, n) + late, 1.0)

    def arrives(self, placed: int, worked: FloatArray) -> FloatArray:
        """Days from placing an order to the shelf where so many days are worked on it."""
        days = worked.copy()
        for first, last in self.shut:
            here = placed + days
            days = np.where((here >= first) & (placed <= last), days + last + 1 - max(first, placed), days)
        return days

    @property
    def closures(self) -> tuple[tuple[date, date], ...]:
        """Say when he is shut, by the calendar."""
        return tuple((FIRST_DAY + timedelta(days=a), FIRST_DAY + timedelta(days=b)) for a, b in self.shut)


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
    open_weeks: FloatArray  # (PAST_WEEKS + YEAR_WEEKS,), 0 where the shop is shut
    job_size: float  # dispersion of weekly counts
    cash: float | None  # most to spend on an order day, carriage included


def invent(seed: int, kind: Kind | None = None) -> World:
    """One shop and its year."""
    kind = kind or Kind()
    rng = np.random.default_rng([DRAWN, seed])
    weeks = PAST_WEEKS + YEAR_WEEKS
    recipe = _recipes(rng)
    open_weeks = _open_weeks(rng)
    job_rates = _rates(rng, rng.lognormal(0.9, 0.8, N_JOBS), weeks) * open_weeks[:, None]
    sold = rng.random(N_ITEMS) < 0.2
    sale_rates = _rates(rng, np.where(sold, rng.lognormal(0.0, 0.7, N_ITEMS), 0.0), weeks) * open_weeks[:, None]
    biased = rng.random(recipe.shape) < 0.25
    needs = recipe * np.where(biased, rng.lognormal(0.05, 0.15, recipe.shape), 1.0)
    size = 8.0
    jobs = _counts(rng, job_rates, size)
    sales = rng.poisson(sale_rates).astype(float)
    unit_cost = rng.lognormal(0.3, 0.9, N_ITEMS)
    weekly = job_rates.mean(axis=0) @ needs + sale_rates.mean(axis=0)
    unit_cost *= rng.lognormal(np.log(6.0), 0.9, N_ITEMS) / (unit_cost * weekly)  # 2..25 a week each
    spend = float(weekly @ unit_cost)
    suppliers, deliveries = _suppliers(spend, rng)
    offers = _offers(rng, weekly, unit_cost, len(suppliers))
    days = YEAR_WEEKS * 7
    shelf_days = np.where(rng.random(N_ITEMS) < 0.2, rng.choice([90.0, 120.0, 180.0, 365.0], N_ITEMS), np.inf)
    scenario = Scenario(
        needs=needs,
        recipe=recipe,
        tickets=_spread(rng, jobs[PAST_WEEKS:]).astype(np.int64),
        sales=_spread(rng, sales[PAST_WEEKS:]),
        waste=(rng.random((days, N_ITEMS)) < 0.004) * weekly * rng.uniform(0.1, 0.6, (days, N_ITEMS)),
        counted=_counted(rng, days),
        opening=weekly * rng.uniform(2.0, 5.0, N_ITEMS),
        lead_days=np.stack([_leads(each, days, rng) for each in deliveries]),
        offers=offers,
        suppliers=suppliers,
        unit_cost=unit_cost,
        shelf_days=shelf_days,
        lost_margin=0.6 * unit_cost,
        held_cost=np.full(N_JOBS, 12.0),
        held_day_cost=np.full(N_JOBS, 3.0),
        from_day=SETTLE_WEEKS * 7,
        lot_days=shelf_days * rng.uniform(0.7, 1.0, (days, N_ITEMS)),
        opening_days=np.ceil(shelf_days * rng.uniform(0.1, 0.9, N_ITEMS)),
    )
    past_leads = tuple(each.draw(20, rng) for each in deliveries)
    cash = round(spend * rng.uniform(2.0, 3.0))
    if kind.breaks:
        scenario = replace(scenario, offers=_with_breaks(rng, offers))
    return World(
        scenario=scenario,
        past_jobs=jobs[:PAST_WEEKS],
        past_sales=sales[:PAST_WEEKS],
        past_leads=past_leads,
        deliveries=deliveries,
        job_rates=job_rates,
        sale_rates=sale_rates,
        open_weeks=open_weeks,
        job_size=size,
        cash=float(cash) if kind.cash else None,
    )


def _recipes(rng: np.random.Generator) -> FloatArray:
    """Jobs of three to eight parts, a few of them (glue, thread, finish) in nearly every job."""
    recipe = np.zeros((N_JOBS, N_ITEMS))
    for job in range(N_JOBS):
        common = rng.choice(4, rng.integers(1, 4), replace=False)
        own = 4 + rng.choice(N_ITEMS - 4, rng.integers(2, 6), replace=False)
        for item in (*common, *own):
            recipe[job, item] = rng.choice([0.02, 0.1, 0.25, 1.0, 1.0, 2.0])
    for item in np.flatnonzero(~recipe.any(axis=0)):
        recipe[rng.integers(N_JOBS), item] = 1.0
    return recipe


def _open_weeks(rng: np.random.Generator) -> FloatArray:
    """Shut for a fortnight each summer and a week at Christmas."""
    weeks = np.ones(PAST_WEEKS + YEAR_WEEKS)
    for year in range(len(weeks) // 52):
        summer = 52 * year + int(rng.integers(26, 33))
        weeks[[summer, summer + 1, 52 * year + 50]] = 0.0
    return weeks


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


def _suppliers(
    weekly_spend: float, rng: np.random.Generator
) -> tuple[tuple[SupplierTerms, ...], tuple[Deliveries, ...]]:
    none = np.zeros(1)
    share = weekly_spend / 3
    suppliers = (
        SupplierTerms(name="North Row Findings", leads=none, carriage=8.5, free_over=round(1.5 * share)),
        SupplierTerms(
            name="Quay Leather Store", leads=none, carriage=12.0, free_over=round(3.0 * share), least_order=round(share)
        ),
        SupplierTerms(
            name="Harbour Trade Supplies", leads=none, carriage=15.0, free_over=round(5.0 * share),
            least_order=round(1.5 * share),
        ),
    )  # fmt: skip
    deliveries = (
        Deliveries(stated=3.0, usual=3.0, spread=0.2, late_chance=0.06, late_mean=8.0, shut=_shut(rng, 7)),
        Deliveries(stated=5.0, usual=6.0, spread=0.25, late_chance=0.10, late_mean=10.0, shut=_shut(rng, 7)),
        Deliveries(stated=10.0, usual=12.0, spread=0.3, late_chance=0.12, late_mean=14.0, shut=_shut(rng, 14)),
    )
    return suppliers, deliveries


def _shut(rng: np.random.Generator, long: int) -> tuple[tuple[int, int], ...]:
    """Shut in summer, and over Christmas."""
    summer = 7 * int(rng.integers(24, 34))
    return (summer, summer + long - 1), (350, 358)


def _leads(deliveries: Deliveries, days: int, rng: np.random.Generator) -> FloatArray:
    worked = deliveries.draw(days, rng)
    return np.array([deliveries.arrives(day, worked[day : day + 1])[0] for day in range(days)])


def _offers(
    rng: np.random.Generator, weekly: FloatArray, unit_cost: FloatArray, n_suppliers: int
) -> tuple[PackOffer, ...]:
    """One offer per item, a second, dearer one for three in ten of them."""
    offers = []
    for item in range(len(weekly)):
        first = int(rng.integers(n_suppliers))
        pack = float(weekly[item] * rng.choice([0.3, 0.7, 1.5, 3.0]))
        offers.append(PackOffer(item=item, supplier=first, pack=pack, price=pack * float(unit_cost[item])))
        if rng.random() < 0.3:
            other = (first + int(rng.integers(1, n_suppliers))) % n_suppliers
            price = pack * float(unit_cost[item]) * rng.uniform(1.03, 1.25)
            offers.append(PackOffer(item=item, supplier=other, pack=pack, price=float(price)))
    return tuple(offers)


def _with_breaks(rng: np.random.Generator, offers: tuple[PackOffer, ...]) -> tuple[PackOffer, ...]:
    """Six offers in ten cost 4 to 12 per cent less from some packs on."""
    return tuple(
        replace(each, breaks=(PriceStep(packs=int(packs), price=each.price * (1 - float(less))),)) if has else each
        for each, has, packs, less in zip(
            offers,
            rng.random(len(offers)) < 0.6,
            rng.choice([3, 5, 10], len(offers)),
            rng.uniform(0.04, 0.12, len(offers)),
            strict=True,
        )
    )


def _counted(rng: np.random.Generator, days: int) -> FloatArray:
    """Eight bins a week, everything every fourth week; a count is a few per cent off."""
    counted = np.full((days, N_ITEMS), np.nan)
    for week in range(days // 7):
        bins = np.arange(N_ITEMS) if week % 4 == 0 else rng.choice(N_ITEMS, 8, replace=False)
        counted[week * 7, bins] = rng.lognormal(0.0, 0.04, len(bins))
    return counted
