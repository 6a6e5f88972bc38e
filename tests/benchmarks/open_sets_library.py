"""Ours against a general library's methods on the open sets: python -m tests.benchmarks.open_sets_library --keep FOLDER.

Sets and scores are those of `tests.benchmarks.open_sets`. Methods: statsmodels' simple smoothing, damped trend, the
better of the two by Akaike's criterion (ets), theta with and without last years' season, Holt-Winters by the month; Croston and
Syntetos-Boylan as published; last year's weeks. Combinations of equal weights: of all, of those without a season, of
the smooth ones, of those with a season. Each has three spreads (of its own past windows, of those of the whole set, of
single steps), and the best of all that counts, figure by figure, judged afterwards: what no shop could have known.

So that it ends, at most `--series` of a set are drawn by a fixed seed and judged at its last `--folds` origins, eight
periods apart, so that a fit serves several; ours sees the whole set, as a shop would, and is scored on the same series. Library fits
are kept in FOLDER, a file a set: a run goes on where the last one stopped (`--minutes`), smallest sets first.
"""

import argparse
import hashlib
import time
import warnings
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pandas as pd

from stockroom.demand.intermittent import croston_levels, sba_factor
from stockroom.demand.spread import LONG, SHORT
from tests.benchmarks.forecast import protocol
from tests.benchmarks.open_sets import DAY, RULES, Forecaster, OpenSet, negative_binomial, ours, sets

APART, PAST = LONG, 5  # periods between origins, windows that tell a spread
PLAIN_METHODS = ("simple smoothing", "damped", "ets", "theta", "croston", "sba")
SEASONAL = ("last year", "theta with season", "holt-winters")
COMBINATIONS = {
    "all": (*PLAIN_METHODS, *SEASONAL),
    "without season": PLAIN_METHODS,
    "smooth": ("simple smoothing", "damped", "theta"),
    "seasonal": ("simple smoothing", "damped", "theta", *SEASONAL),
}
SPREADS = ("own windows", "all windows", "single steps")
FIGURES = ("rmsse", "pinball_3", "pinball_8", "cover95_3", "cover95_8")
Floats = np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """The series drawn of a set, how often they are judged, and the origins at which methods are fitted."""

    rows: Floats
    folds: int
    ends: list[int]  # oldest first

    @classmethod
    def of(cls, each: OpenSet, *, series: int, folds: int) -> "Drawn":
        """Draw, by a fixed seed."""
        n, weeks = each.panel[0].shape
        rows = np.sort(np.random.default_rng(14).choice(n, min(series, n), replace=False))
        ends = [weeks - LONG - APART * k for k in range(folds + PAST)]
        ends = [end for end in ends[::-1] if end >= min(26, weeks // 2)]
        return cls(rows=rows, folds=min(folds, len(ends)), ends=ends)


# --- the methods, one series at a time


def methods(series: Floats, year: int, horizon: int) -> dict[str, Floats]:
    """Forecast a series by every method that it is long enough for; 'one step' holds its single step's square."""
    from statsmodels.tsa.forecasting.theta import ThetaModel
    from statsmodels.tsa.holtwinters import ExponentialSmoothing, Holt, SimpleExpSmoothing

    if len(series) < 8 or np.ptp(series) == 0:
        level = np.full(horizon, series.mean() if len(series) else 0.0)
        return {**dict.fromkeys(PLAIN_METHODS, level), "one step": np.zeros(1)}
    simple = SimpleExpSmoothing(series, initialization_method="estimated").fit()
    damped = Holt(series, damped_trend=True, initialization_method="estimated").fit()
    croston = croston_levels(series[None], np.ones((1, len(series)), dtype=bool), alpha=0.1)[:, -1]
    found = {
        "simple smoothing": simple.forecast(horizon),
        "damped": damped.forecast(horizon),
        "ets": min((simple, damped), key=lambda fit: fit.aicc).forecast(horizon),
        "theta": ThetaModel(series, period=1, deseasonalize=False).fit().forecast(horizon),
        "croston": np.repeat(croston, horizon),
        "sba": np.repeat(croston * sba_factor(0.1), horizon),
        "one step": np.array([simple.sse / len(series)]),
    }
    if len(series) >= year + horizon:
        found["last year"] = series[-year : len(series) - year + horizon]
    if len(series) >= 2 * year + 2:
        seasonal = ThetaModel(series, period=year, deseasonalize=True, method="additive", use_test=False)
        found["theta with season"] = seasonal.fit().forecast(horizon)
        if year <= 12:  # more periods than a fit can hold
            waves = ExponentialSmoothing(
                series, seasonal="add", seasonal_periods=year, initialization_method="estimated"
            )
            found["holt-winters"] = waves.fit().forecast(horizon)
    return {name: np.maximum(np.nan_to_num(np.asarray(each, dtype=float)), 0.0) for name, each in found.items()}


def kept_fits(each: OpenSet, drawn: Drawn, folder: Path) -> dict[str, Floats]:
    """Give what every method forecasts from every origin, {method: (n_origins, n_rows, LONG)}, NaN where it can't.

    Each origin is a file, so that a run that was stopped goes on.
    """
    use, found = each.panel[0][drawn.rows], []
    for end in drawn.ends:
        mark = hashlib.sha256(np.nan_to_num(use[:, :end], nan=-1).tobytes()).hexdigest()[:24]
        file = folder / f"library-{mark}.npz"
        if not file.exists():
            folder.mkdir(parents=True, exist_ok=True)
            made: dict[str, Any] = {**fitted(each, drawn.rows, end)}
            np.savez_compressed(file, **made)
        found.append(dict(np.load(file)))
    names = {name for one in found for name in one}
    gone = np.full((len(use), LONG), np.nan)
    return {name: np.stack([one.get(name, gone) for one in found]) for name in names}


def fitted(each: OpenSet, rows: Floats, end: int) -> dict[str, Floats]:
    use, weeks, _ = each.panel
    year = 12 if (weeks[0, -1] - weeks[0, -2]) / DAY > 7 else 52
    found: dict[str, Floats] = {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for n, row in enumerate(rows):
            seen = use[row, :end]
            for name, ahead in methods(seen[~np.isnan(seen)], year, LONG).items():
                found.setdefault(name, np.full((len(rows), LONG), np.nan))[n] = ahead
    return found


# --- scoring


def combined(fits: dict[str, Floats], names: tuple[str, ...]) -> Floats:
    """Mean of the methods that a series is long enough for."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        mean: Floats = np.nan_to_num(np.nanmean([fits[name] for name in names if name in fits], axis=0))
    return mean


def from_fits(ahead: Floats, step: Floats, use: Floats, ends: list[int], spread: str) -> Forecaster:
    """Answer as the protocol asks, from what was fitted before; `use` holds the drawn series whole."""

    def run(history: Floats, weeks: Floats, groups: Floats, horizon: int) -> Any:
        o = ends.index(history.shape[1])
        past = [p for p in range(o) if o - PAST <= p and ends[p] + LONG <= ends[o]]
        quantiles = {}
        for span in (SHORT, LONG):
            mean = np.maximum(ahead[o, :, :span].sum(axis=1), 1e-6)
            said = ahead[past][:, :, :span].sum(axis=2)
            came = np.stack([use[:, ends[p] : ends[p] + span].sum(axis=1) for p in past]) if past else said
            beyond = measured(said, came, step[o] * span, mean, spread)
            quantiles[span] = negative_binomial(mean, beyond)
        return ahead[o], quantiles

    return run


def measured(said: Floats, came: Floats, steps: Floats, mean: Floats, spread: str) -> Floats:
    """Relative variance beyond Poisson of a sum, for each series."""
    square = steps
    if spread == "single steps" or not len(said):
        return _beyond(square, mean)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        square = np.nanmean((came - said) ** 2, axis=0)
        pooled = np.nansum((came - said) ** 2 - said) / max(np.nansum(said**2), 1e-9)
    if spread == "all windows":
        return np.full(len(mean), max(pooled, 0.0))
    return _beyond(np.where(np.isnan(square), 2 * mean, square), mean)


def _beyond(square: Floats, mean: Floats) -> Floats:
    spread: Floats = np.maximum(square - mean, 0) / mean**2
    return spread


def ours_on(each: OpenSet, rows: Floats) -> Forecaster:
    """Forecast the whole set, and answer for the drawn series."""

    def run(history: Floats, weeks: Floats, groups: Floats, horizon: int) -> Any:
        end = history.shape[1]
        mean, quantiles = ours(None)(each.panel[0][:, :end], each.panel[1][:, :end], each.panel[2], horizon)
        return mean[rows], {span: q[rows] for span, q in quantiles.items()}

    return run


def by_series(score: ModuleType, each: OpenSet, drawn: Drawn, run: Forecaster) -> pd.DataFrame:
    """Score every series by itself, so that differences have a standard error; their mean is the protocol's."""
    use, weeks, groups = (part[drawn.rows] for part in each.panel)
    answers: dict[int, Any] = {}

    def one(row: int) -> Forecaster:
        def answer(history: Floats, dates: Floats, names: Floats, horizon: int) -> Any:
            end = history.shape[1]
            if end not in answers:
                answers[end] = run(use[:, :end], weeks[:, :end], groups, horizon)
            mean, quantiles = answers[end]
            return mean[[row]], {span: q[[row]] for span, q in quantiles.items()}

        return answer

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = [
            score.score(one(r), use[[r]], weeks[[r]], groups[[r]], step=APART, origins=drawn.folds).mean()[
                list(FIGURES)
            ]
            for r in range(len(use))
        ]
    return pd.DataFrame(found)


def against(score: ModuleType, each: OpenSet, drawn: Drawn, folder: Path) -> dict[str, Any]:
    """Hold ours against the best of each kind on a set: differences in per cent, below zero where ours is better."""
    rows, use = drawn.rows, each.panel[0][drawn.rows]
    fits = kept_fits(each, drawn, folder)
    step = fits["one step"][:, :, 0]
    mine = by_series(score, each, drawn, ours_on(each, rows))
    kinds: dict[str, dict[str, pd.DataFrame]] = {"combination": {}, "single": {}, "simple": {}}
    for kind, members in (
        ("combination", COMBINATIONS),
        ("single", {name: (name,) for name in (*PLAIN_METHODS, *SEASONAL) if name in fits}),
    ):
        for name, names in members.items():
            ahead = combined(fits, names)
            for spread in SPREADS:
                run = from_fits(ahead, step, use, drawn.ends, spread)
                kinds[kind][f"{name}, {spread}"] = by_series(score, each, drawn, run)
    kinds["simple"] = {name: by_series(score, each, drawn, run) for name, run in RULES.items()}
    row: dict[str, Any] = {"series": len(rows)} | {figure: float(mine[figure].mean()) for figure in FIGURES}
    for kind, rivals in kinds.items():
        for figure in FIGURES[:3]:
            best = min(rivals, key=lambda name: rivals[name][figure].mean())
            gap, base = mine[figure] - rivals[best][figure], rivals[best][figure].mean()
            row[f"{kind} {figure}"] = 100 * gap.mean() / base
            row[f"{kind} {figure} se"] = 100 * gap.std() / np.sqrt(gap.notna().sum()) / base
            row[f"{kind} {figure} best"] = best
    return row


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--half", choices=("dev", "held", "both"), default="both")
    parser.add_argument("--wheels", type=Path, help="folder that holds unpacked wheels")
    parser.add_argument("--keep", type=Path, required=True, help="folder in which library fits are kept")
    parser.add_argument("--series", type=int, default=60)
    parser.add_argument("--folds", type=int, default=3)
    parser.add_argument("--minutes", type=float, default=20, help="begin no further set after so long")
    parser.add_argument("only", nargs="*", help="parts of names of sets")
    options = parser.parse_args()
    score, began = protocol(), time.monotonic()
    for half in ("dev", "held") if options.half == "both" else (options.half,):
        rows = {}
        for each in sorted(
            sets(half, options.wheels), key=lambda s: min(len(s.panel[0]), options.series) * s.panel[0].shape[1]
        ):
            late = time.monotonic() - began > 60 * options.minutes
            if late or (options.only and not any(part in each.name for part in options.only)):
                continue
            drawn = Drawn.of(each, series=options.series, folds=options.folds)
            rows[each.name] = against(score, each, drawn, options.keep)
            print(f"{half} {each.name}: {time.monotonic() - began:.0f} s", flush=True)
        if rows:
            told(half, pd.DataFrame(rows).T)


def told(half: str, found: pd.DataFrame) -> None:
    """Print a half: every set, and how many were won."""
    shown = [n for n in found.columns if not n.endswith((" se", " best"))]
    with pd.option_context("display.width", 250, "display.max_columns", 40, "display.max_colwidth", 40):
        print(f"\n{half}: differences in per cent, below zero where ours is better")
        print(found[shown].astype(float).round(3).to_string())
        print(found[[n for n in found.columns if n.endswith(" se")]].astype(float).round(1).to_string())
        print(found[[n for n in found.columns if n.endswith(" best") and "rmsse" not in n]].to_string())
    for kind in ("combination", "single", "simple"):
        for figure in FIGURES[:3]:
            gap = found[f"{kind} {figure}"].astype(float)
            print(f"{half}: {kind:<12}{figure:<10} won {(gap < 0).sum()} of {len(gap)}, mean {gap.mean():+.1f} %")


if __name__ == "__main__":
    main()
