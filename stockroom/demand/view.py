"""What a forecasting model may see: the history from several points of time, seasonal patterns taken out of it."""

from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import WEEKS_IN_YEAR, Borrowing, Dates, Floats, History, Occasion, group_sums
from stockroom.demand.seasons import Design, believed_waves, borne_out, month_factors

N_WAVES = 10  # a shop's year has sharp corners: holidays, sales, first frost
N_OWN_WAVES = 2  # a single series says too little for more


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
    open_weeks : (n_series, n_weeks) float
        Open share without any season; 0 where use is unknown.
    season : float
        How many weeks (or months, where the columns are months) a year has.
    borrowing : Borrowing, optional
        From which others new series take what is usual.
    doubted_year : (n_series,) float, optional
        Relative variance of the year that was expected of each series, as far as it is not borne out.
    """

    use: Floats
    exposure: Floats
    ahead: Floats
    family: NDArray[np.intp]
    origins: NDArray[np.intp]
    open_weeks: Floats
    season: float = WEEKS_IN_YEAR
    borrowing: Borrowing | None = None
    doubted_year: Floats | None = None

    @property
    def known(self) -> NDArray[np.bool_]:
        """Where use is known, (n_series, n_weeks)."""
        known: NDArray[np.bool_] = self.exposure[0] > 0
        return known

    @property
    def horizon(self) -> int:
        """Weeks ahead."""
        return int(self.ahead.shape[2])

    def by_family(self, amount: Floats) -> Floats:
        """Sum the series axis (second) by family: (n_origins, n_series) -> (n_origins, n_families)."""
        return group_sums(amount, self.family)


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
    def everyday(self) -> bool:
        """Whether it is asked by default: quick, and found to add to the others."""
        ...

    def rates(self, view: View) -> Floats:
        """Forecast expected use per full open week, (n_origins, n_series, horizon), never NaN or negative."""
        ...


def look(history: History, origins: NDArray[np.intp], *, horizon: int) -> View:
    """Lay out the history as known at each origin, with pooled seasonal patterns."""
    known = ~np.isnan(history.use)
    use = np.where(known, history.use, 0.0)
    open_weeks = np.where(known, history.share, 0.0)
    index, doubted = _index(history, use, open_weeks, origins, horizon)
    ahead = np.stack([index[i, :, o : o + horizon] for i, o in enumerate(origins)])
    exposure = index[:, :, : history.n_weeks]
    exposure *= open_weeks  # the largest of all that is held: in its place
    return View(
        use=use,
        exposure=exposure,
        ahead=ahead,
        family=history.family_of(),
        origins=origins,
        open_weeks=open_weeks,
        season=history.season,
        borrowing=history.borrowing,
        doubted_year=doubted,
    )


def _index(
    history: History, use: Floats, open_weeks: Floats, origins: NDArray[np.intp], horizon: int
) -> tuple[Floats, Floats | None]:
    """Seasonal index of each series, (n_origins, n_series, n_weeks + horizon), and what is doubted of an expected year.

    The shop's pattern first, then what each family, then what each series does differently: each step fits
    only what the one before leaves, and believes only what stands out from the noise.
    """
    dates = np.concatenate([history.weeks, history.weeks_ahead(horizon)], axis=1)
    level = use.sum(axis=1) / np.maximum(open_weeks.sum(axis=1), 1e-9)
    usual = level[:, None] * open_weeks
    log_index, doubted = _expected_year(history, dates, use, usual, origins)
    for rows, n_waves, occasions in _steps(history):
        first = np.unique(rows, return_index=True)[1]
        named = [history.groups[n] for n in first]
        design = Design.of(dates[first], occasions, n_waves=n_waves, season=history.season, groups=named)
        expected = usual * np.exp(log_index[-1, :, : history.n_weeks])
        totals, promised = group_sums(use.T, rows).T, group_sums(expected.T, rows).T
        alike = len(totals) == len(use)
        waves = believed_waves(totals, promised, design=design, origins=origins, alike=alike)
        for number, each in enumerate(waves):  # one origin at a time: this is the largest of all
            log_index[number] += design.index(each[None])[0, rows]
    return np.exp(log_index, out=log_index), doubted


def _expected_year(
    history: History, dates: Dates, use: Floats, usual: Floats, origins: NDArray[np.intp]
) -> tuple[Floats, Floats | None]:
    """Log of the year that was expected of each series, as far as all that were expected to go alike bear it out."""
    if history.usual_year is None:
        return np.zeros((len(origins), *dates.shape)), None
    pairs = np.column_stack([history.usual_year, history.house_of()])
    _, first, kind = np.unique(pairs, axis=0, return_index=True, return_inverse=True)
    kind, months = kind.reshape(-1), history.usual_year[first]
    shape = np.log(month_factors(dates[first], months, season=history.season))
    totals, expected = group_sums(use.T, kind).T, group_sums(usual.T, kind).T
    power = borne_out(totals, expected, shape, season=history.season, origins=origins)
    level = np.log((months ** power[..., None]).mean(axis=-1, keepdims=True))
    doubted = np.log(months).var(axis=1) * np.clip(1 - power[-1], 0.0, 1.0)
    return (power[..., None] * shape - level)[:, kind], doubted[kind]


def _steps(history: History) -> list[tuple[NDArray[np.intp], int, tuple[Occasion, ...]]]:
    """Rows that share a pattern, waves and occasions: house (one to a calendar), families, series."""
    house, family = history.house_of(), history.family_of()
    for_all = tuple(occasion for occasion in history.occasions if not occasion.groups)
    steps = [(house, N_WAVES, for_all), (family, N_WAVES, history.occasions)]
    if family.max() == house.max():
        steps = steps[1:]
    return [*steps, (np.arange(history.n_series), N_OWN_WAVES, ())]


PRIOR_COUNT = 0.5
FAMILY_COUNT = 20.0
DOUBT_KEEP = 0.97  # half a year's memory
SEASON_SEEN = 1.5  # years, after which windows have seen what a season does
TINY = 1e-9


def weighted(view: View, kernel: Floats, *, flat: bool = False) -> tuple[Floats, Floats]:
    """Weigh past use and exposure by age, two (n_origins, n_series) arrays; `kernel[j]` is for j weeks ago.

    `flat` leaves the season out of the exposure.
    """
    n_weeks = view.use.shape[1]
    age = view.origins[:, None] - 1 - np.arange(n_weeks)
    weights = np.where(age >= 0, kernel[np.maximum(age, 0)], 0.0)
    exposure = weights @ view.open_weeks.T if flat else (view.exposure @ weights[:, :, None])[:, :, 0]
    return weights @ view.use.T, exposure


def fading(view: View, keep: float) -> Floats:
    """Give the kernel that counts a week j weeks ago `keep`**j, (n_weeks,).

    Notes
    -----
    Use over exposure under this kernel is the posterior mean of a rate in the discounted gamma-Poisson model
    (Harvey and Fernandes 1989); with constant exposure it is simple exponential smoothing with constant
    1 - `keep`.
    """
    return np.power(keep, np.arange(view.use.shape[1]), dtype=np.float64)


def levels(view: View, kernel: Floats, *, flat: bool = False) -> Floats:
    """Weighted rate of each series, drawn a little towards its own of old, (n_origins, n_series).

    The mean rate of all its past counts as `PRIOR_COUNT` units of use seen at that rate: next to nothing for a busy
    series, a floor under one that has fallen idle. That rate is drawn to its family's in the same way, which is all
    there is for a series that has just begun, and the family's to the house's.

    Drawn to the family's at once, a fading kernel would forget within months that a series is rare, and each of a
    family's many rare ones would be lifted towards its few busy ones.
    """
    always = _long_levels(*weighted(view, np.ones_like(kernel), flat=flat), view)
    return _drawn(*weighted(view, kernel, flat=flat), always)


def _long_levels(count: Floats, exposure: Floats, view: View) -> Floats:
    house = count.sum(axis=1, keepdims=True) / np.maximum(exposure.sum(axis=1, keepdims=True), TINY)
    usual = _drawn(view.by_family(count), view.by_family(exposure), house)[:, view.family]
    if view.borrowing is not None:
        usual[:, view.borrowing.rows] = _drawn(count, exposure, usual) @ view.borrowing.weights.T
    return _drawn(count, exposure, usual)


def _drawn(count: Floats, exposure: Floats, prior: Floats) -> Floats:
    return (count + PRIOR_COUNT) / (exposure + PRIOR_COUNT / np.maximum(prior, TINY))


def doubt(view: View) -> Floats:
    """Relative variance of a level's estimate, (n_origins, n_series): one over the units it rests on."""
    count, _ = weighted(view, fading(view, DOUBT_KEEP))
    return 1 / (PRIOR_COUNT + count)


def season_doubt(view: View) -> Floats:
    """Relative variance that an expected year adds to what is ahead, (n_series,).

    One that was expected and does not come says that there is a season, and not which. Until windows have seen a year
    and a half they lie in one part of it, and do not show how far the rest departs from it.
    """
    if view.doubted_year is None:
        return np.zeros(len(view.use))
    unseen: float = np.clip(SEASON_SEEN - view.use.shape[1] / view.season, 0.0, 1.0)
    return unseen * view.doubted_year


def shared_levels(view: View, slow: Floats, *, kernel: Floats) -> Floats:
    """Slow levels moved by how much the whole family has lately used more than they promise, (n_origins, n_series).

    A family's movement is drawn to the house's as if it had used FAMILY_COUNT units more at that pace, and
    the house's to none: a family of few tickets follows the shop.
    """
    count, exposure = weighted(view, kernel)
    expected = slow * exposure
    house = (count.sum(axis=1) + FAMILY_COUNT) / (expected.sum(axis=1) + FAMILY_COUNT)
    used = view.by_family(count) + FAMILY_COUNT * house[:, None]
    factor = used / (view.by_family(expected) + FAMILY_COUNT)
    moved: Floats = slow * factor[:, view.family]
    return moved


def calm(view: View, origin: int) -> Floats:
    """Rates with the season as known at one origin (its index) taken out, gaps filled, (n_series, weeks known).

    For models that need unbroken series: unknown weeks take the series' mean.
    """
    weeks = int(view.origins[origin])
    exposure = view.exposure[origin, :, :weeks]
    use = view.use[:, :weeks]
    mean = use.sum(axis=1, keepdims=True) / np.maximum(exposure.sum(axis=1, keepdims=True), TINY)
    return np.where(exposure > 0, use / np.maximum(exposure, TINY), mean)
