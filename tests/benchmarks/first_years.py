"""A season in a shop's first years, printed: python -m tests.benchmarks.first_years [--worlds 20].

Shops are simulated whose season is known: families that follow a year of their own, with weeks that hang together and a
slow drift. Each is forecast after so many weeks: with no season at all, as it learns one by itself, and with a year
that was expected beforehand: the right one, one that is right in kind but half as strong, one that is another family's,
and one that is half a year out. Then repair events (Open Repair Alliance, CC BY-SA 4.0) with the season and without.
Scores are the pinball loss of 8-week sums over that of a forecast without a season; below 1 the season pays.
"""

import argparse

import numpy as np

from stockroom.demand.history import Floats, History
from stockroom.demand.models import all_models
from stockroom.demand.paths import sample_paths
from stockroom.demand.seasons import month_factors
from tests.benchmarks.forecast import protocol, repair

QUANTILES = np.array([0.5, 0.8, 0.9, 0.95, 0.98])
WEEKS_SEEN = (13, 26, 39, 52, 65, 78, 104, 156)
HORIZON = 8
FAMILIES, MEMBERS, LONGEST, N_PATHS = 8, 6, 170, 400
PRIORS = ("none", "right", "half", "another's", "half a year out")


def _world(seed: int) -> tuple[Floats, Floats, np.ndarray, np.ndarray]:
    """Give weekly use, each family's true months, each series' family, and the weeks."""
    rng = np.random.default_rng(seed)
    months = np.arange(12)
    peak, strength = rng.uniform(0, 12, (FAMILIES, 1)), rng.uniform(0.1, 0.8, (FAMILIES, 1))
    true = np.exp(strength * np.cos(2 * np.pi * (months - peak) / 12))
    true /= true.mean(axis=1, keepdims=True)
    family = np.repeat(np.arange(FAMILIES), MEMBERS)
    start = np.datetime64("2022-01-03") + np.timedelta64(7 * int(rng.integers(52)), "D")
    weeks = start + np.timedelta64(7, "D") * np.arange(LONGEST)
    season = month_factors(np.broadcast_to(weeks, (FAMILIES, LONGEST)), true)
    tide = np.cumsum(rng.normal(0, 0.01, (FAMILIES, LONGEST)), axis=1)
    rate = rng.gamma(1.0, 2.0, (len(family), 1)) + 0.1
    busy = rng.gamma(20, 1 / 20, LONGEST) * rng.gamma(8, 1 / 8, (len(family), LONGEST))
    use = rng.poisson(rate * (season * np.exp(tide))[family] * busy).astype(float)
    return use, true, family, weeks


def _priors(true: Floats, family: np.ndarray) -> dict[str, Floats | None]:
    half = true**0.5
    turned = np.roll(true, 6, axis=1)
    found: dict[str, Floats | None] = {"none": None}
    for name, year in (
        ("right", true),
        ("half", half),
        ("another's", np.roll(true, 1, axis=0)),
        ("half a year out", turned),
    ):
        found[name] = (year / year.mean(axis=1, keepdims=True))[family]
    return found


def _loss(paths: Floats, actual: Floats) -> Floats:
    cut = np.quantile(paths.sum(axis=2), QUANTILES, axis=0)
    gap = actual.sum(axis=1) - cut
    loss: Floats = np.maximum(QUANTILES[:, None] * gap, (QUANTILES[:, None] - 1) * gap).mean(axis=0)
    return loss


def _flat() -> list[str]:
    return [name for name in all_models() if name.endswith("-flat")] + ["tsb"]


def simulated(worlds: int) -> None:
    """Print the table of the simulated shops, and how often use stayed within the level of .95."""
    print(f"{'weeks seen':>10}" + "".join(f"{name:>17}" for name in PRIORS) + "   and within .95 (standard error .007)")
    for seen in WEEKS_SEEN:
        total, cover = (dict.fromkeys((*PRIORS, "flat"), 0.0) for _ in range(2))
        for seed in range(worlds):
            use, true, family, weeks = _world(seed)
            at = min(seen, LONGEST - HORIZON)
            actual = use[:, at : at + HORIZON]
            for name, year in (*_priors(true, family).items(), ("flat", None)):
                known = History(use=use[:, :at], weeks=weeks[:at], groups=tuple(map(str, family)), usual_year=year)
                models = _flat() if name == "flat" else None
                paths = sample_paths(known, HORIZON, np.random.default_rng(seed), N_PATHS, models=models)
                total[name] += float(_loss(paths.counts, actual).mean()) / worlds
                most = np.quantile(paths.counts.sum(axis=2), 0.95, axis=0)
                cover[name] += float((actual.sum(axis=1) <= most).mean()) / worlds
        ratios = "".join(f"{total[name] / total['flat']:10.3f} {cover[name]:6.3f}" for name in PRIORS)
        print(f"{seen:>10}{ratios}", flush=True)


def real() -> None:
    """Print the same of repair events: without a season, learnt, and with the year of all the others expected."""
    case = repair(protocol())
    use, dates, groups = case.panel
    years = _year_of_others(use, dates, groups)
    for seen in WEEKS_SEEN:
        at = [_start(row) + seen for row in use]
        fits = [n for n, start in enumerate(at) if start + HORIZON <= use.shape[1]]
        if len(fits) < 20:
            continue
        losses = [_of_length(use, dates, groups, fits, at, how, years) for how in ("flat", "none", "others")]
        print(
            f"{seen:>10}{losses[1] / losses[0]:17.3f}{losses[2] / losses[0]:17.3f}   ({len(fits)} series)", flush=True
        )


def _start(row: Floats) -> int:
    return int(np.flatnonzero(~np.isnan(row))[0])


def _year_of_others(use: Floats, dates: np.ndarray, groups: np.ndarray) -> Floats:
    """Give what each month brought to the series of all other groups, 1 on average."""
    month = dates.astype("datetime64[M]").astype(int) % 12
    found = np.ones((len(use), 12))
    level = np.nanmean(use, axis=1, keepdims=True)
    for name in np.unique(groups):
        other = groups != name
        for m in range(12):
            there = (month[other] == m) & ~np.isnan(use[other])
            expected = np.where(there, level[other], 0.0).sum()
            found[groups == name, m] = np.where(there, use[other], 0.0).sum() / max(expected, 1e-9)
    found = np.maximum(found, 0.05)
    year: Floats = found / found.mean(axis=1, keepdims=True)
    return year


def _of_length(
    use: Floats, dates: np.ndarray, groups: np.ndarray, rows: list[int], at: list[int], how: str, years: Floats
) -> float:
    """Forecast each group's series after so many weeks of theirs; those that end on one day together."""
    total = 0.0
    ends: dict[tuple[int, str], list[int]] = {}
    for n in rows:
        ends.setdefault((at[n], groups[n]), []).append(n)
    for (end, _), mine in ends.items():
        start = min(_start(use[n]) for n in mine)
        known = History(
            use=use[mine, start:end], weeks=dates[mine, start:end], groups=tuple(map(str, groups[mine])),
            usual_year=years[mine] if how == "others" else None,
        )  # fmt: skip
        paths = sample_paths(
            known, HORIZON, np.random.default_rng(1), N_PATHS, models=_flat() if how == "flat" else None
        )
        total += float(np.nansum(_loss(paths.counts, use[mine, end : end + HORIZON])))
    return total


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--worlds", type=int, default=20)
    worlds = parser.parse_args().worlds
    print(f"{worlds} simulated shops: loss over that without a season, by the year that was expected")
    simulated(worlds)
    print("\nrepair events: the season learnt, and with the year of the other groups expected")
    real()


if __name__ == "__main__":
    main()
