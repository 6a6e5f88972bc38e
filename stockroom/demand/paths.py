"""Sample paths of future use: the one entry to forecasting, and the step from jobs to materials."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from stockroom.demand.choose import forecast
from stockroom.demand.draw import draw_counts
from stockroom.demand.history import Dates, Floats, History


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
    """

    names: tuple[str, ...]
    weeks: Dates
    mean: Floats
    counts: NDArray[Any]

    @property
    def horizon(self) -> int:
        """How many weeks ahead."""
        return int(self.mean.shape[1])

    @property
    def n_paths(self) -> int:
        """How many sampled futures."""
        return int(self.counts.shape[0])

    def sums(self, start: int = 0, stop: int | None = None) -> NDArray[Any]:
        """Sum sampled use over weeks `start` to `stop` (exclusive), (n_paths, n_series)."""
        total: NDArray[Any] = self.counts[:, :, start:stop].sum(axis=2)
        return total

    def quantiles(self, levels: ArrayLike, start: int = 0, stop: int | None = None) -> Floats:
        """Quantiles of the use over a span of weeks, (n_series, n_levels)."""
        found: Floats = np.quantile(self.sums(start, stop), np.atleast_1d(levels), axis=0).T
        return found


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
    if horizon < 1 or n_paths < 1 or history.n_weeks < 1:
        raise ValueError("horizon, n_paths and weeks of history must be at least 1")
    if not history.n_series:
        return _no_paths(horizon, n_paths)
    found = forecast(history, horizon, models)
    counts = draw_counts(found.mean, found.spread, history.family_of(), rng, n_paths)
    return Paths(names=history.names, weeks=history.weeks_ahead(horizon), mean=found.mean, counts=counts)


def _no_paths(horizon: int, n_paths: int) -> Paths:
    weeks = np.zeros((0, horizon), dtype="datetime64[D]")
    counts = np.zeros((n_paths, 0, horizon), dtype=np.int32)
    return Paths(names=(), weeks=weeks, mean=np.zeros((0, horizon)), counts=counts)


def explode(paths: Paths, recipes: Any, *, names: tuple[str, ...], dtype: Any = np.float32) -> Paths:  # noqa: ANN401 -- dense or scipy.sparse
    """Turn demand for jobs into demand for materials, keeping together what the same job uses.

    Parameters
    ----------
    paths : Paths
        Futures of (n_streams) demand streams.
    recipes : (n_streams, n_materials) array or scipy.sparse matrix
        Amount of each material that one unit of each stream uses.
    names : (n_materials,) tuple of str
        Names of the materials.
    dtype : numpy dtype
        Type of the resulting amounts; float32 halves the memory of large shops.

    Returns
    -------
    Paths
        Of materials; `counts` are amounts.
    """
    if recipes.shape != (len(paths.names), len(names)):
        raise ValueError(f"recipes of shape {recipes.shape} for {len(paths.names)} streams, {len(names)} materials")
    turned = recipes.T
    amounts = np.empty((paths.n_paths, len(names), paths.horizon), dtype=dtype)
    for index, future in enumerate(paths.counts):
        amounts[index] = turned @ future
    weeks = np.broadcast_to(paths.weeks[:1], (len(names), paths.horizon))
    return Paths(names=names, weeks=weeks, mean=np.asarray(turned @ paths.mean), counts=amounts)
