"""Sample paths of future use: the one entry to forecasting, and the step from jobs to materials."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
from numpy.typing import DTypeLike, NDArray

from stockroom.demand.chance import Chance
from stockroom.demand.choose import forecast
from stockroom.demand.history import Dates, Floats, History
from stockroom.demand.spread import LEAST_SPREAD, Drawer, Spread, draw_counts

CHUNK = 1000  # series drawn at a time


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Paths:
    """Possible futures: every path is one way the coming weeks may go, for all series together.

    Parameters
    ----------
    names : (n_series,) tuple of str
    weeks : (n_series, horizon) datetime64[D]
        First days of the coming weeks.
    mean : (n_series, horizon) float
        Expected use per week.
    counts : (n_paths, n_series, horizon)
        Sampled use per week: whole numbers for demand streams, amounts for exploded materials.
    by_average : tuple of str
        Names of the series that a plain average served better, and is believed for.
    """

    names: tuple[str, ...]
    weeks: Dates
    mean: Floats
    counts: NDArray[Any]
    by_average: tuple[str, ...] = ()

    @property
    def horizon(self) -> int:
        """How many weeks ahead."""
        return int(self.mean.shape[1])

    @property
    def n_paths(self) -> int:
        """How many sampled futures."""
        return int(self.counts.shape[0])


@dataclass(frozen=True, slots=True, kw_only=True)
class ChanceLine:
    """A recipe line used on some jobs only: `amount` of a material on a `chance` part of a stream's jobs."""

    stream: int
    material: int
    amount: float
    chance: float


def sample_paths(
    history: History,
    horizon: int,
    rng: np.random.Generator,
    n_paths: int = 500,
    *,
    models: Sequence[str] | None = None,
) -> Paths:
    """Forecast every series and sample whole-number futures.

    Parameters
    ----------
    history : History
        Use to date, at least one week of it.
    horizon : int
        Weeks ahead, at least 1.
    rng : numpy.random.Generator
        Source of chance; the same seed gives the same paths.
    n_paths : int
        How many futures.
    models : sequence of str, optional
        Names of the forecasting models to choose from; all everyday ones by default.

    Returns
    -------
    Paths

    Raises
    ------
    ValueError
        If `horizon` or `n_paths` is below 1, or the history holds no week.
    """
    if not history.n_series:
        _check(history, horizon, n_paths)
        return _no_paths(horizon, n_paths)
    (paths,) = path_chunks(history, horizon, rng, n_paths, models=models, size=history.n_series)
    return paths


def path_chunks(
    history: History,
    horizon: int,
    rng: np.random.Generator,
    n_paths: int = 500,
    *,
    models: Sequence[str] | None = None,
    size: int = CHUNK,
) -> Iterator[Paths]:
    """Forecast every series, and give their futures by so many series at a time: those of `sample_paths`, to the last.

    Raises
    ------
    ValueError
        If `horizon`, `n_paths` or `size` is below 1, or the history holds no week.

    Notes
    -----
    Families and the shop are learnt from all series together; what is large are the futures, and each series draws its
    own by its name.
    """
    _check(history, horizon, min(n_paths, size))
    seed = int(rng.integers(2**63))
    found = forecast(history, horizon, models=models)
    names, families, houses = history.own_names(), history.families(), history.houses()
    dates, spread = history.weeks_ahead(horizon), found.spread
    for start in range(0, history.n_series, size):
        part = slice(start, start + size)
        by = Drawer(seed=seed, names=names[part], families=families[part], houses=houses[part])
        own = Spread(**{each.name: getattr(spread, each.name)[part] for each in fields(Spread)})
        yield Paths(
            names=history.names[part],
            weeks=dates[part],
            mean=found.mean[part],
            counts=draw_counts(found.mean[part], own, by=by, n_paths=n_paths),
            by_average=tuple(np.array(history.names[part])[found.by_average[part]]),
        )


def _check(history: History, horizon: int, least: int) -> None:
    if horizon < 1 or least < 1 or history.n_weeks < 1:
        raise ValueError("horizon, n_paths and weeks of history must be at least 1")


def _no_paths(horizon: int, n_paths: int) -> Paths:
    weeks = np.zeros((0, horizon), dtype="datetime64[D]")
    counts = np.zeros((n_paths, 0, horizon), dtype=np.int32)
    return Paths(names=(), weeks=weeks, mean=np.zeros((0, horizon)), counts=counts)


def explode(paths: Paths, recipes: Floats, *, names: tuple[str, ...], dtype: DTypeLike = np.float32) -> Paths:
    """Turn demand for jobs into demand for materials, keeping together what the same job uses.

    Parameters
    ----------
    paths : Paths
        Futures of (n_streams) demand streams.
    recipes : (n_streams, n_materials) float
        Amount of each material that one unit of each stream uses, in the material's unit.
    names : (n_materials,) tuple of str
        Names of the materials.
    dtype : numpy dtype
        Type of the resulting amounts; float32 halves the memory of large shops.

    Returns
    -------
    Paths
        Of materials; `counts` are amounts.

    Raises
    ------
    ValueError
        If the recipes' shape is not (n_streams, n_materials).
    """
    if recipes.shape != (len(paths.names), len(names)):
        raise ValueError(f"recipes of shape {recipes.shape} for {len(paths.names)} streams and {len(names)} materials")
    amounts = np.zeros((paths.n_paths, len(names), paths.horizon), dtype=dtype)
    mean = np.zeros((len(names), paths.horizon))
    for stream, material in zip(*np.nonzero(recipes), strict=True):  # a job uses few of a shop's materials
        amounts[:, material] += recipes[stream, material] * paths.counts[:, stream]
        mean[material] += recipes[stream, material] * paths.mean[stream]
    return Paths(
        names=names,
        weeks=_shop_weeks(paths, len(names)),
        mean=mean,
        counts=amounts,
    )


def explode_chances(paths: Paths, lines: Sequence[ChanceLine], *, names: tuple[str, ...], chance: Chance) -> Paths:
    """Use of materials by recipe lines that only some of the jobs need, (n_materials,) like `explode`'s.

    Each job draws for itself, so a line used on one job in three spreads wider than a third of its amount.
    """
    shape = (paths.n_paths, len(names), paths.horizon)
    amounts, mean = np.zeros(shape, dtype=np.float32), np.zeros(shape[1:])
    own = chance.each("line", [f"{paths.names[each.stream]} {names[each.material]}" for each in lines])
    for line, rng in zip(lines, own, strict=True):
        needed = rng.binomial(paths.counts[:, line.stream], line.chance)
        amounts[:, line.material] += np.float32(line.amount) * needed
        mean[line.material] += line.amount * line.chance * paths.mean[line.stream]
    return Paths(names=names, weeks=_shop_weeks(paths, len(names)), mean=mean, counts=amounts)


def together(first: Paths, *others: Paths) -> Paths:
    """Add the futures of several sources of demand for the same things, path by path."""
    for other in others:
        if other.names != first.names or other.counts.shape != first.counts.shape:
            raise ValueError("only paths of the same names, number and horizon can be added")
    mean, counts = first.mean.copy(), first.counts.copy()
    for other in others:
        mean += other.mean
        counts = counts + other.counts
    return Paths(names=first.names, weeks=first.weeks, mean=mean, counts=counts)


def around_one(spread: Floats, own: Sequence[np.random.Generator], n_paths: int) -> Floats:
    """Draw gamma factors of mean 1 and relative variances `spread`, each from its own source: (n_paths, n)."""
    drawn = np.empty((n_paths, len(spread)))
    for n, (unsure, rng) in enumerate(zip(np.maximum(spread, LEAST_SPREAD), own, strict=True)):
        drawn[:, n] = unsure * rng.standard_gamma(1 / unsure, n_paths)
    return drawn


def _shop_weeks(paths: Paths, rows: int) -> Dates:
    if not len(paths.weeks):
        return np.full((rows, paths.horizon), np.datetime64("NaT", "D"))
    return np.broadcast_to(paths.weeks[:1], (rows, paths.horizon))
