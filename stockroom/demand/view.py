"""What a forecasting model may see: the history from several points of time, seasonal patterns taken out of it."""

from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Floats, History
from stockroom.demand.seasons import Design, fit_patterns

N_WAVES = 10
PRIOR_COUNT = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class View:
    """History as known at each of several origins.

    Parameters
    ----------
    use : (n_series, n_weeks) float
        Units used, 0 where unknown (exposure is 0 there too).
    exposure : (n_origins, n_series, n_weeks) float
        Open share times the seasonal index as known at the origin; 0 where use is unknown.
    ahead : (n_origins, n_series, horizon) float
        The same for the weeks after each origin, open share of 1.
    family : (n_series,) int
        Index of each series' family.
    origins : (n_origins,) int
        Weeks known. What lies at or after an origin may not be used for it.
    """

    use: Floats
    exposure: Floats
    ahead: Floats
    family: NDArray[np.intp]
    origins: NDArray[np.intp]

    @property
    def horizon(self) -> int:
        """Weeks ahead."""
        return int(self.ahead.shape[2])

    def by_family(self, amount: Floats) -> Floats:
        """Sum the series axis (second) by family: (n_origins, n_series) -> (n_origins, n_families)."""
        member = (self.family[:, None] == np.arange(self.family.max() + 1)).astype(np.float64)
        total: Floats = amount @ member
        return total


@runtime_checkable
class Model(Protocol):
    """A forecasting model: one file in `stockroom/demand/models` that ends with `MODEL = …`.

    Models forecast means; chances come from how the chosen mean has missed over past lead-time windows, which
    asks of a model nothing but a mean, and measures its spread for any model alike.
    """

    @property
    def name(self) -> str:
        """Unique, short, lower case."""
        ...

    @property
    def least_weeks(self) -> int:
        """Weeks of history without which the model must not be asked."""
        ...

    @property
    def light(self) -> bool:
        """Whether it is quick enough to be asked by default."""
        ...

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week, (n_origins, n_series, horizon), never NaN or negative."""
        ...


def look(history: History, origins: NDArray[np.intp], horizon: int) -> View:
    """Lay out the history as known at each origin, with pooled seasonal patterns."""
    known = ~np.isnan(history.use)
    use = np.where(known, history.use, 0.0)
    open_weeks = np.where(known, history.share, 0.0)
    family = history.family_of()
    index = np.exp(_log_index(history, use, open_weeks, origins, horizon))[:, family]
    n_weeks = history.n_weeks
    ahead = np.stack([index[i, :, o : o + horizon] for i, o in enumerate(origins)])
    exposure = open_weeks * index[:, :, :n_weeks]
    return View(use=use, exposure=exposure, ahead=ahead, family=family, origins=origins)


def _log_index(history: History, use: Floats, open_weeks: Floats, origins: NDArray[np.intp], horizon: int) -> Floats:
    """Pattern of each family, (n_origins, n_families, n_weeks + horizon)."""
    family = history.family_of()
    level = use.sum(axis=1) / np.maximum(open_weeks.sum(axis=1), 1e-9)
    member = (np.arange(family.max() + 1)[:, None] == family).astype(np.float64)
    first = np.argmax(member, axis=1)
    dates = np.concatenate([history.weeks, history.weeks_ahead(horizon)], axis=1)[first]
    design = Design.of(dates, history.occasions, N_WAVES)
    return fit_patterns(member @ use, member @ (level[:, None] * open_weeks), design, origins)


def discounted(view: View, keep: float) -> tuple[Floats, Floats]:
    """Discounted use and exposure before each origin, two (n_origins, n_series) arrays.

    Notes
    -----
    A week j weeks before the origin counts `keep`**j. Use over exposure is the posterior mean of a rate under
    the discounted gamma-Poisson model (Harvey and Fernandes 1989); with constant exposure it is simple
    exponential smoothing with constant 1 - `keep`.
    """
    age = view.origins[:, None] - 1 - np.arange(view.use.shape[1])
    kernel = np.where(age >= 0, float(keep) ** np.maximum(age, 0), 0.0)
    return kernel @ view.use.T, np.einsum("ont,ot->on", view.exposure, kernel)


def levels(view: View, keep: float) -> Floats:
    """Discounted rate of each series, drawn a little towards its family's, (n_origins, n_series).

    The family's mean rate counts as `PRIOR_COUNT` units of use seen at that rate: next to nothing for a busy
    series, all there is for one that has just begun, and a floor under one that has fallen idle.
    """
    count, exposure = discounted(view, keep)
    families = view.by_family(count) / np.maximum(view.by_family(exposure), 1e-9)
    prior = np.maximum(families[:, view.family], 1e-6)
    rate: Floats = (count + PRIOR_COUNT) / (exposure + PRIOR_COUNT / prior)
    return rate
