"""Is the use of the coming weeks forecast true, when work waits at the bench: bias by horizon over invented shops.

Run: python -m tests.benchmarks.work_in_hand [worlds]     (default 20, drawn from seed 300 on)

Each job of a world waits its own number of worked days from taking in to finishing. On days through the year the use of
the coming weeks is forecast, from tickets until then, and held against what the bench really took: as it was, with
future tickets drawn in the week they are taken in and those in hand on top, and as it is, drawn when they are worked.
Materials are weighed by their cost. `of the rates` leaves out chance: forecast tickets against the true weekly means.
"""

import sys
from collections.abc import Sequence

import numpy as np

from stockroom.buying.problem import FloatArray
from stockroom.demand.chance import chance_from
from stockroom.demand.lags import waiting_chances, weeks_moved, worked
from stockroom.demand.paths import Paths
from tests.benchmarks.shop_year.own import HORIZON, N_PATHS, forecast
from tests.benchmarks.shop_year.world import FIRST_DAY, N_JOBS, PAST_WEEKS, YEAR_WEEKS, World, invent

FIRST_SEED, ORIGINS = 300, tuple(range(8, 41, 4))  # weeks of the year
SPANS = {"weeks 1-2": (0, 2), "weeks 3-4": (2, 4), "weeks 4-10": (3, 10), "weeks 1-8": (0, 8)}
LONGEST_WAIT = 9


def worked_on(world: World, wait: Sequence[int]) -> FloatArray:
    """Say when the year's tickets are worked, by the day taken in and the week worked, (n_days, n_jobs, YEAR_WEEKS)."""
    days, week_of = _open_days(world)
    done = np.zeros((YEAR_WEEKS * 7, N_JOBS, YEAR_WEEKS))
    for day, row in enumerate(world.scenario.tickets):
        place = int(np.searchsorted(days, day))
        for job in np.flatnonzero(row).tolist():
            if place + wait[job] < len(days):
                done[day, job, week_of[place + wait[job]]] += row[job]
    return done


def _open_days(world: World) -> tuple[np.ndarray, np.ndarray]:
    opened = [d for d in range(YEAR_WEEKS * 7) if d % 7 < 6 and world.open_weeks[PAST_WEEKS + d // 7]]
    return np.array(opened), np.array(opened) // 7


def biases(seed: int) -> FloatArray:
    """Sums over the origins, shape (3 forecasts and what they are held against, n_spans, 2)."""
    world, rng = invent(seed), np.random.default_rng([seed, 1])
    wait = rng.integers(0, LONGEST_WAIT + 1, N_JOBS).tolist()
    done, (days, week_of) = worked_on(world, wait), _open_days(world)
    worth = world.scenario.needs @ world.scenario.unit_cost
    kinds = np.repeat(np.arange(N_JOBS), 40)
    chances = waiting_chances(kinds, wait[kinds], np.ones(len(kinds), dtype=bool), n_kinds=N_JOBS)
    found = np.zeros((3, len(SPANS), 2))
    for week in ORIGINS:
        coming, _ = forecast(world, 7 * week, rng, N_PATHS, HORIZON)
        none = np.zeros((N_JOBS, HORIZON), dtype="datetime64[D]")
        paths = Paths(names=("",) * N_JOBS, weeks=none, mean=coming.mean(axis=0), counts=coming.astype(np.int32))
        moved = weeks_moved(chances, week_of[days >= 7 * week] - week, HORIZON)
        later = worked(paths, moved, np.arange(N_JOBS), chance_from(rng)).counts.mean(axis=0)
        taken = paths.mean
        in_hand = done[: 7 * week].sum(axis=0)[:, week:]  # known tickets, by the week they will be worked
        came = done.sum(axis=0)[:, week:]
        rates = world.job_rates[PAST_WEEKS + week :].T
        for n, (a, b) in enumerate(SPANS.values()):
            said = (taken[:, a:b], later[:, a:b], taken[:, a:b])
            hand = worth @ in_hand[:, a:b].sum(axis=1)
            true = (came[:, a:b], came[:, a:b], rates[:, a:b])
            for way in range(3):
                forecasted = worth @ said[way].sum(axis=1) + (hand if way < 2 else 0.0)
                found[way, n] += forecasted, worth @ true[way].sum(axis=1)
    return found


def main(worlds: int) -> None:
    """Print the mean bias over the worlds, and its standard error."""
    sums = np.array([biases(seed) for seed in range(FIRST_SEED, FIRST_SEED + worlds)])
    bias = sums[..., 0] / sums[..., 1] - 1
    print(f"{worlds} worlds from {FIRST_SEED}, {len(ORIGINS)} days each, shop opened {FIRST_DAY}")
    print(f"{'':28s}" + "".join(f"{name:>20s}" for name in SPANS))
    for way, name in enumerate(("drawn when taken in", "drawn when worked", "of the rates, taken in")):
        mean, error = bias[:, way].mean(axis=0), bias[:, way].std(axis=0, ddof=1) / np.sqrt(worlds)
        print(f"{name:28s}" + "".join(f"{m:+12.3f} ± {e:.3f}" for m, e in zip(mean, error, strict=True)))


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 20)
