"""Time the outlook's risk and the basket at growing sizes, and print how the cost grows with the size.

Run: python -m tests.benchmarks.basket
"""

import resource
import time

import numpy as np

from stockroom.buying.basket import basket
from stockroom.buying.problem import Jobs, OrderItem, OrderProblem, PackOffer, SupplierTerms
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


def timed(n_items: int, n_jobs: int, n_suppliers: int) -> tuple[float, float, float, float]:
    """Seconds of forecast, risk and basket, and the basket's gap as a share of what it saves."""
    history, problem = shop(n_items, n_jobs, n_suppliers)
    begun = time.perf_counter()
    paths = sample_paths(history, HORIZON, np.random.default_rng(1), N_PATHS)
    assert problem.jobs is not None
    use = explode(paths, problem.jobs.needs, names=tuple(each.name for each in problem.items)).counts
    forecast = time.perf_counter()
    jobs = Jobs(
        names=problem.jobs.names,
        needs=problem.jobs.needs,
        paths=paths.counts.astype(np.float64),
        held_cost=problem.jobs.held_cost,
        held_day_cost=problem.jobs.held_day_cost,
    )
    problem = OrderProblem(items=problem.items, use=use, offers=problem.offers, suppliers=problem.suppliers, jobs=jobs)
    runouts(problem)
    risk = time.perf_counter()
    found = basket(problem)
    done = time.perf_counter()
    share = found.gap / max(found.cost_of_nothing - found.cost, 1e-9)
    return forecast - begun, risk - forecast, done - risk, share


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
    main()
