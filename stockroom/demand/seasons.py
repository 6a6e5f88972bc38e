"""Pooled seasonal patterns: what a family of streams has in common through the year.

A family's weekly totals, relative to the usual use of its members, are explained by a slow trend, waves through
the year and named occasions. How much of each wave is believed follows from signal and noise: the variance of the
coefficients is itself estimated (empirical Bayes), so a family without a season gets a flat pattern.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import MONTHS_IN_YEAR, WEEKS_IN_YEAR, Dates, Floats, Occasion

DAYS_IN_YEAR = 365.25
LEAST_YEARS = 1.0  # a season is believed as far as a second year has seen it return
BUMP_WEEKS = 4
ROUNDS = 6
ROWS = 500  # regressions whose moments are summed at a time
STEADY = 25.0  # one over the variance first believed of a change of level: a fifth, up or down
SHAPE_UNSURE = 0.5  # by how much the power of an expected year may be wrong
MOST_POWER = 1.5
STEEP = 3.0  # largest believed logarithm of a week's index during the fit: e^3 = 20 times the usual


def year_waves(weeks: Dates, n_waves: int, *, season: float = WEEKS_IN_YEAR) -> Floats:
    """Cosines and sines of the time of year of the middle of each week, or month, (..., 2 * n_waves)."""
    since = (weeks - weeks.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.float64)
    angle = 2 * np.pi * (since / DAYS_IN_YEAR + 0.5 / season)
    waves = [turn(k * angle) for k in range(1, n_waves + 1) for turn in (np.cos, np.sin)]
    return np.stack(waves, axis=-1)


def occasion_bumps(weeks: Dates, occasions: Sequence[Occasion], *, season: float = WEEKS_IN_YEAR) -> Floats:
    """Two columns an occasion: the weeks up to and with it, and the weeks after, (..., 2 * n_occasions).

    One that lasts several days has no weeks that lead up to it, but those it lasts, each by the part of it.
    """
    length = DAYS_IN_YEAR / season
    reach = max(BUMP_WEEKS * season / WEEKS_IN_YEAR, 1.0)
    columns = []
    for occasion in occasions:
        first = np.array(occasion.dates, dtype="datetime64[D]")
        last = np.array(occasion.ends or occasion.dates, dtype="datetime64[D]")
        since = -np.floor((last - weeks[..., None]).astype(np.int64) / length)  # weeks; 0 holds its last day
        near = np.clip(1 - np.abs(since) / reach, 0, None)
        leading = near * (since <= 0)
        lasting = np.minimum(last, weeks[..., None] + round(length) - 1) - np.maximum(first, weeks[..., None])
        part = np.clip(lasting.astype(np.int64) + 1, 0, None) / length
        columns.append(np.where(last > first, part, leading).sum(axis=-1))
        columns.append((near * (since > 0)).sum(axis=-1))
    return np.stack(columns, axis=-1) if columns else np.zeros((*weeks.shape, 0))


def month_factors(dates: Dates, months: Floats, *, season: float = WEEKS_IN_YEAR) -> Floats:
    """Slide from the middle of one month's factor to the next: (n_rows, n_weeks) dates, (n_rows, 12) factors."""
    since = (dates - dates.astype("datetime64[Y]").astype("datetime64[D]")).astype(np.float64)
    place = 12 * (since / DAYS_IN_YEAR + 0.5 / season) - 0.5
    low = np.floor(place).astype(np.int64)
    part = place - low
    rows = np.arange(len(months))[:, None]
    factors: Floats = months[rows, low % 12] * (1 - part) + months[rows, (low + 1) % 12] * part
    return factors


def borne_out(totals: Floats, usual: Floats, log_shape: Floats, *, season: float, origins: NDArray[np.intp]) -> Floats:
    """Say how far use so far follows the year that was expected: 1 as expected, 0 not at all, (n_origins, n_rows).

    Notes
    -----
    The regression of `fit_patterns` with the expected year as its only pattern, taken to a power that is 1 before
    anything was seen, give or take SHAPE_UNSURE.
    """
    base = drift_columns(totals.shape[1], season, step=0.25)
    shape = log_shape[:, : totals.shape[1], None]
    columns = np.concatenate([np.broadcast_to(base, (len(totals), *base.shape)), shape], axis=-1)
    fit = _Fit(columns, totals, usual * np.exp(shape[..., 0]), np.ones(1), alike=False)
    fit.run(ridge=SHAPE_UNSURE**-2)
    powers: Floats = np.clip(1 + fit.at(origins)[..., 0], 0.0, MOST_POWER)
    return powers


A_YEAR = (  # its weeks, and its months
    np.arange("2024-01-01", "2024-12-30", 7, dtype="datetime64[D]"),
    np.arange("2024-01", "2025-01", dtype="datetime64[M]").astype("datetime64[D]"),
)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Design:
    """What may explain a week: columns, how smooth they are expected to be, and their mean over a year.

    `columns` is (n_rows, n_weeks + horizon, n_columns), `rank` (n_columns,) is the frequency by which a
    coefficient's expected size is divided.
    """

    columns: Floats
    rank: Floats
    n_waves: int
    season: float = WEEKS_IN_YEAR

    @classmethod
    def of(
        cls,
        weeks: Dates,
        occasions: Sequence[Occasion],
        *,
        n_waves: int,
        season: float = WEEKS_IN_YEAR,
        groups: Sequence[str] = (),
    ) -> "Design":
        """Build the design of (n_rows, n_weeks + horizon) week dates; `season` is the number of weeks in a year.

        `groups` names the rows, where occasions concern some of them only.
        """
        waves = min(n_waves, int((season - 1) / 2))  # no more than so many columns can tell apart
        if not occasions and len(weeks) > 1 and (weeks[1:] == weeks[:1]).all():  # one row serves all
            one = cls.of(weeks[:1], occasions, n_waves=n_waves, season=season)
            return replace(one, columns=np.broadcast_to(one.columns, (len(weeks), *one.columns.shape[1:])))
        bumps = occasion_bumps(weeks, occasions, season=season)
        for number, occasion in enumerate(occasions):
            apart = [row for row, name in enumerate(groups) if occasion.groups and name not in occasion.groups]
            bumps[apart, :, 2 * number : 2 * number + 2] = 0.0
        columns = [year_waves(weeks, waves, season=season), bumps]
        rank = np.concatenate([np.repeat(np.arange(1.0, waves + 1), 2), np.ones(2 * len(occasions))])
        return cls(columns=np.concatenate(columns, axis=-1), rank=rank, n_waves=waves, season=season)

    def index(self, coefficients: Floats) -> Floats:
        """Log index of every week, so that the waves average to a factor of 1 over a year."""
        year = year_waves(A_YEAR[self.season == MONTHS_IN_YEAR], self.n_waves, season=self.season)
        waves = coefficients[..., : 2 * self.n_waves] @ year.T
        usual = np.log(np.exp(waves).mean(axis=-1, keepdims=True))
        log_index: Floats = np.einsum("rtp,orp->ort", self.columns, coefficients) - usual
        return log_index


def drift_columns(n_weeks: int, season: float, *, step: float) -> Floats:
    """Give a level, a straight trend, and changes of the level phased over `step` years each, (n_weeks, 2 + n_changes).

    Notes
    -----
    The changes make the trend wander, as a random walk does. Without it a drift that came once would pass for a season,
    the more so the fewer years have been seen.
    """
    ago = (np.arange(n_weeks) - n_weeks) / season
    knots = -step * np.arange(1, int(n_weeks / season / step) + 2)
    changes = np.clip((ago[:, None] - knots) / step, 0.0, 1.0)
    return np.column_stack([np.ones(n_weeks), ago, changes])


def fit_patterns(
    totals: Floats,
    usual: Floats,
    *,
    design: Design,
    origins: NDArray[np.intp],
    alike: bool = False,
) -> Floats:
    """Fit the log seasonal index of each row as it could have been known at each origin.

    Parameters
    ----------
    totals : (n_rows, n_weeks) float
        Use of all members together.
    usual : (n_rows, n_weeks) float
        Use expected of the members seen that week if there were no season; 0 where nothing was seen.
    design : Design
        Explanatory columns, (n_rows, n_weeks + horizon, n_columns).
    origins : (n_origins,) int
        Numbers of weeks known; a pattern at origin o uses only weeks before o.
    alike : bool
        Whether all rows share one s2, as many rows with little to say each should.

    Returns
    -------
    (n_origins, n_rows, n_weeks + horizon) float

    Notes
    -----
    Quasi-Poisson regression with log link by iteratively reweighted least squares (McCullagh and Nelder 1989,
    ch. 9), weights mu / (1 + d mu). Wave k has prior N(0, s2 / k^2); s2 is estimated by EM from the
    coefficients and their posterior variance, and that of the trend's changes alike.
    Working weights and s2 come from the whole history, the
    normal equations of earlier origins from its beginning only; this costs one pass for all origins.
    """
    return design.index(believed_waves(totals, usual, design=design, origins=origins, alike=alike))


def believed_waves(totals: Floats, usual: Floats, *, design: Design, origins: NDArray[np.intp], alike: bool) -> Floats:
    """Fit the coefficients of `fit_patterns`, as far as they are believed, (n_origins, n_rows, n_columns)."""
    n_weeks = totals.shape[1]
    base = drift_columns(n_weeks, design.season, step=0.5 if alike else 0.25)
    known = design.columns[:, :n_weeks]
    kinds = known[:1] if known.strides[0] == 0 else known
    columns = np.concatenate([np.broadcast_to(base, (len(kinds), *base.shape)), kinds], axis=-1)
    columns = np.broadcast_to(columns, (len(totals), *columns.shape[1:]))
    fit = _Fit(columns, totals, usual, design.rank, alike=alike)
    fit.run()
    coefficients = fit.at(origins)
    seen = np.cumsum(usual > 0, axis=1)[:, origins - 1].T
    believed: Floats = np.clip(seen / design.season - LEAST_YEARS, 0.0, 1.0)[..., None] * coefficients
    return believed


class _Fit:
    """State of one batch of regressions: every array has one entry a row."""

    def __init__(self, columns: Floats, totals: Floats, usual: Floats, rank: Floats, *, alike: bool) -> None:
        self.columns, self.totals, self.usual = columns, totals, usual
        self.seen = usual > 0
        self.n_seen = np.maximum(self.seen.sum(axis=1), 1)
        self.rank, self.alike = rank, alike
        self.n_base = columns.shape[-1] - len(self.rank)
        self.beta = np.zeros((len(totals), columns.shape[-1]))
        self.extra = np.full(len(totals), 0.1)
        self.ridge = np.full(len(totals), 4.0)
        self.steady = np.full(len(totals), STEADY)
        self.weight = self.working = np.zeros_like(totals)

    def run(self, *, ridge: float | None = None) -> None:
        """Fit; how large coefficients are believed is learnt, unless `ridge`, one over their variance, is given."""
        for _ in range(ROUNDS):
            if ridge is not None:
                self.ridge = np.full(len(self.totals), ridge)
            self._reweigh()
            information, right = self._moments(self.columns, self.weight, self.working)
            covariance = np.asarray(np.linalg.inv(information + self._penalty()), dtype=np.float64)
            self.beta = np.einsum("rpq,rq->rp", covariance, right)
            self._learn_ridge(covariance)

    def at(self, origins: NDArray[np.intp]) -> Floats:
        """Coefficients of the pattern columns from the weeks before each origin, (n_origins, n_rows, n_columns)."""
        information = np.zeros((*self.beta.shape, self.beta.shape[1]))
        right, found, start = np.zeros_like(self.beta), {}, 0
        for origin in sorted({int(o) for o in origins}):
            part = slice(start, origin)
            more = self._moments(self.columns[:, part], self.weight[:, part], self.working[:, part])
            information, right, start = information + more[0], right + more[1], origin
            found[origin] = np.linalg.solve(information + self._penalty(), right[..., None])[..., 0]
        return np.stack([found[int(o)][:, self.n_base :] for o in origins])

    @staticmethod
    def _moments(columns: Floats, weight: Floats, working: Floats) -> tuple[Floats, Floats]:
        n_rows, _, n_columns = columns.shape
        information, right = np.empty((n_rows, n_columns, n_columns)), np.empty((n_rows, n_columns))
        for start in range(0, n_rows, ROWS):
            part = slice(start, start + ROWS)
            weighted = columns[part] * weight[part, :, None]
            information[part] = weighted.transpose(0, 2, 1) @ columns[part]
            right[part] = np.einsum("rtp,rt->rp", weighted, working[part])
        return information, right

    def _reweigh(self) -> None:
        eta = np.clip(np.einsum("rtp,rp->rt", self.columns, self.beta), -STEEP, STEEP)
        mean = np.where(self.seen, self.usual * np.exp(eta), 1.0)
        miss = np.where(self.seen, self.totals - mean, 0.0)
        plain = np.where(self.seen, mean / (1 + mean * self.extra[:, None]), 0.0)
        noise = np.maximum((plain * (miss / mean) ** 2).sum(axis=1) / self.n_seen, 0.3)
        self.weight, self.working = plain / noise[:, None], eta + miss / mean
        square = np.where(self.seen, mean**2, 0.0).sum(axis=1)
        surplus = (miss**2 - np.where(self.seen, mean, 0.0)).sum(axis=1)
        self.extra = np.maximum(surplus / np.maximum(square, 1e-9), 0.0)

    def _penalty(self) -> Floats:
        rows = np.full((len(self.beta), self.n_base), 1e-6)
        rows[:, 1] = 1.0
        rows[:, 2:] = self.steady[:, None]
        ridge = self.ridge[:, None] * self.rank**2
        return np.concatenate([rows, ridge], axis=1)[..., None] * np.eye(self.beta.shape[1])

    def _learn_ridge(self, covariance: Floats) -> None:
        spread = np.diagonal(covariance, axis1=1, axis2=2)
        changes, waves = slice(2, self.n_base), slice(self.n_base, None)
        self.steady = self._ridge(self.beta[:, changes], spread[:, changes], self.steady, np.ones(1))
        self.ridge = self._ridge(self.beta[:, waves], spread[:, waves], self.ridge, self.rank**2)

    def _ridge(self, beta: Floats, spread: Floats, ridge: Floats, scale: Floats) -> Floats:
        """One over the variance of some coefficients, by EM from their size and posterior variance."""
        size = (beta**2 * scale).sum(axis=1)
        learnt = np.maximum((1 - ridge[:, None] * scale * spread).sum(axis=1), 1e-3)
        if self.alike:
            size, learnt = np.full_like(size, size.sum()), np.full_like(size, learnt.sum())
        ridge_found: Floats = np.minimum(learnt / np.maximum(size, 1e-9), 1e4)
        return ridge_found
