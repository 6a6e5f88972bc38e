"""Time the outlook's risk and the basket at growing sizes, and print how the cost grows with the size.

Run: python -m tests.benchmarks.basket          each size without limits
     python -m tests.benchmarks.basket limits   the largest with price breaks and expiry, under every kind of limit
"""

import resource
import sys
import time
from dataclasses import replace

import numpy as np

from stockroom.buying.basket import basket
from stockroom.buying.problem import (
    Jobs,
    Limits,
    OrderItem,
    OrderProblem,
    PackOffer,
    PriceStep,
    ShelfLot,
    SupplierTerms,
)
from stockroom.buying.risk import runouts
from stockroom.demand.history import History
from stockroom.demand.paths import explode, sample_paths

WEEKS, HORIZON, N_PATHS = 156, 26, 200
SIZES = ((75, 10, 2), (150, 20, 3), (300, 40, 4), (600, 80, 5), (1250, 160, 8), (2500, 250, 12), (5000, 500, 20))


def shop(n_items: int, n_jobs: int, n_suppliers: int, seed: int = 0) -> tuple[History, OrderProblem]:
    """Invent three years of jobs, and everything a basket needs but the forecast."""
    rng = np.random.default_rng(seed)
    needs = np.zeros((n_jobs, n_items))
    for job in range(n_jobs):
        needs[job, rng.choice(n_items, 8, replace=False)] = rng.choice([0.1, 0.5, 1.0, 2.0], 8)
    needs[rng.integers(n_jobs, size=n_items), np.arange(n_items)] += 0.25
    rate = rng.lognormal(0.7, 0.8, n_jobs)
    wave = 1 + 0.3 * np.cos(2 * np.pi * np.arange(WEEKS) / 52)
    history = History(
        use=rng.poisson(rate[:, None] * wave).astype(float),
        weeks=np.datetime64("2029-01-01") + 7 * np.arange(WEEKS),
    )
    weekly, price = rate @ needs, rng.lognormal(0.5, 0.8, n_items)
    home = rng.integers(n_suppliers, size=n_items)
    offers = [
        PackOffer(item=i, supplier=int(home[i]), pack=float(2 * weekly[i]), price=float(2 * weekly[i] * price[i]))
        for i in range(n_items)
    ]
    for i in np.flatnonzero(rng.random(n_items) < 0.1):
        other = int(home[i] + 1) % n_suppliers
        offers.append(
            PackOffer(item=int(i), supplier=other, pack=float(2 * weekly[i]), price=float(2.2 * weekly[i] * price[i]))
        )
    spend = float(weekly @ price) / n_suppliers
    suppliers = tuple(
        SupplierTerms(
            name=f"supplier {n}",
            leads=rng.lognormal(1.7, 0.3, N_PATHS) + (rng.random(N_PATHS) < 0.1) * rng.exponential(10.0, N_PATHS),
            carriage=9.0,
            free_over=2 * spend,
            order_days=tuple(np.arange(0.0, 180.0, 7.0)),
        )
        for n in range(n_suppliers)
    )
    items = tuple(
        OrderItem(
            name=f"material {i}", on_hand=np.array([weekly[i] * rng.uniform(0.5, 5.0)]), unit_cost=float(price[i])
        )
        for i in range(n_items)
    )
    jobs = Jobs(
        names=tuple(f"job {n}" for n in range(n_jobs)),
        needs=needs,
        paths=np.zeros((N_PATHS, n_jobs, HORIZON)),
        held_cost=np.full(n_jobs, 12.0),
        held_day_cost=np.full(n_jobs, 3.0),
    )
    use = np.zeros((N_PATHS, n_items, HORIZON))
    return history, OrderProblem(items=items, use=use, offers=tuple(offers), suppliers=suppliers, jobs=jobs)


def foreseen(n_items: int, n_jobs: int, n_suppliers: int) -> OrderProblem:
    """Invent a shop and forecast what it uses."""
    history, problem = shop(n_items, n_jobs, n_suppliers)
    paths = sample_paths(history, HORIZON, np.random.default_rng(1), N_PATHS)
    assert problem.jobs is not None
    use = explode(paths, problem.jobs.needs, names=tuple(each.name for each in problem.items)).counts
    return replace(problem, use=use, jobs=replace(problem.jobs, paths=paths.counts.astype(np.float64)))


def timed(n_items: int, n_jobs: int, n_suppliers: int) -> tuple[float, float, float, float]:
    """Seconds of forecast, risk and basket, and the basket's gap as a share of what it saves."""
    begun = time.perf_counter()
    problem = foreseen(n_items, n_jobs, n_suppliers)
    forecast = time.perf_counter()
    runouts(problem)
    risk = time.perf_counter()
    found = basket(problem)
    done = time.perf_counter()
    share = found.gap / max(found.cost_of_nothing - found.cost, 1e-9)
    return forecast - begun, risk - forecast, done - risk, share


def with_breaks_and_expiry(problem: OrderProblem, seed: int = 0) -> OrderProblem:
    """Let a third of the offers have a price break, and a fifth of the items spoil, some of them soon."""
    rng = np.random.default_rng(seed)
    broken = rng.random(len(problem.offers)) < 1 / 3
    offers = tuple(
        replace(o, breaks=(PriceStep(packs=3, price=0.92 * o.price),)) if cut else o
        for o, cut in zip(problem.offers, broken, strict=True)
    )
    items = []
    for n, item in enumerate(problem.items):
        whole = float(item.on_hand[0])
        lots = (ShelfLot(quantity=whole / 3, until=10.0), ShelfLot(quantity=whole * 2 / 3, until=60.0))
        spoils = replace(item, lots=lots, shelf_days=120.0, flammable=0.1)
        items.append(spoils if n % 5 == 0 else item)
    return replace(problem, offers=offers, items=tuple(items))


def under_limits() -> None:
    """Print processor seconds of the basket of the largest shop under each kind of limit."""
    begun = time.process_time()
    plain = foreseen(*SIZES[-1])
    whole = with_breaks_and_expiry(plain)
    print(f"forecast {time.process_time() - begun:.1f} s of processor", flush=True)
    value = basket(whole).value
    there = sum(float(each.on_hand[0]) * each.flammable for each in whole.items)
    tried = {
        "no limit, no breaks, nothing expires": plain,
        "no limit": whole,
        "cash, .6 of what is wanted": replace(whole, limits=Limits(cash=0.6 * value)),
        "cash, .2": replace(whole, limits=Limits(cash=0.2 * value)),
        "litres, a tenth more than is there": replace(whole, limits=Limits(flammable=1.1 * there)),
        "cash and litres": replace(whole, limits=Limits(cash=0.4 * value, flammable=1.1 * there)),
    }
    for name, problem in tried.items():
        begun = time.process_time()
        found = basket(problem)
        took, saved = time.process_time() - begun, found.cost_of_nothing - found.cost
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{name:40s} {took:6.1f} s   saved {saved:9.0f}   gap {found.gap:8.2f}   peak {peak:5.0f} MB", flush=True)


def main() -> None:
    """Print a line per size and the exponent of growth."""
    print("materials  jobs  suppliers  forecast s    risk s  basket s   total s   gap/saving  peak MB")
    totals = []
    for size in SIZES:
        forecast, risk, order, gap = timed(*size)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        totals.append(forecast + risk + order)
        print(
            f"{size[0]:9d} {size[1]:5d} {size[2]:10d} {forecast:11.2f} {risk:9.2f} {order:9.2f} {totals[-1]:9.2f}"
            f" {gap:12.2e} {peak:8.0f}",
            flush=True,
        )
    sizes = np.log([size[0] for size in SIZES])
    print(f"growth: n^{np.polyfit(sizes[2:], np.log(totals[2:]), 1)[0]:.2f} from {SIZES[2][0]} materials on")


if __name__ == "__main__":
    if "limits" in sys.argv[1:]:
        under_limits()
    else:
        main()
