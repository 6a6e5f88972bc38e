"""Past forecasts on trial: what they promised over lead times, and what came."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import Floats, History
from stockroom.demand.levels import doubt
from stockroom.demand.spread import LONG, SHORT, TINY, Spread, Windows, measure, shared_part
from stockroom.demand.view import View

LEVELS = np.array([0.5, 0.8, 0.9, 0.95, 0.98])
NORMAL_SCORES = np.array([0.0, 0.84162, 1.28155, 1.64485, 2.05375])  # of LEVELS
LEAST_SCALE = 0.05  # units a week; a series that never moves must not outweigh the rest


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """Weeks after each past origin, and what is needed to judge forecasts of them.

    `actual` and `share` are (n_origins, n_series, LONG), use and open share of the weeks after each past
    origin; `doubt` (n_origins + 1, n_series) holds today's in its last row; `scale` (n_series,) is the mean
    change from week to week; `step` the weeks between origins.
    """

    actual: Floats
    share: Floats
    doubt: Floats
    scale: Floats
    family: NDArray[np.intp]
    house: NDArray[np.intp]
    step: int

    @classmethod
    def of(cls, history: History, view: View) -> "Trial":
        """Lay out the weeks after a view's past origins; closed weeks are known to use nothing."""
        past = view.origins[:-1]
        columns = past[:, None] + np.arange(LONG)
        use = np.where(history.share == 0, 0.0, history.use)
        jump = np.abs(np.diff(history.use, axis=1))
        number = (~np.isnan(jump)).sum(axis=1)
        return cls(
            actual=use[:, columns].transpose(1, 0, 2),
            share=history.share[:, columns].transpose(1, 0, 2),
            doubt=doubt(view),
            scale=np.maximum(np.nansum(jump, axis=1) / np.maximum(number, 1), LEAST_SCALE),
            family=view.family,
            house=history.house_of(),
            step=int(past[1] - past[0]) if len(past) > 1 else LONG,
        )

    def windows(self, rates: Floats, span: int) -> Windows:
        """Sum what came and what was promised over `span` weeks; `rates` is (n_origins + 1, n_series, >= LONG)."""
        return Windows(
            actual=self.actual[:, :, :span].sum(axis=2),
            mean=(rates[:-1, :, :span] * self.share[:, :, :span]).sum(axis=2),
            doubt=self.doubt[:-1],
            family=self.family,
            overlap=max(span / self.step, 1.0),
        )

    def losses(self, rates: Floats) -> Floats:
        """Scaled pinball loss summed over windows and, second, the number of windows, (2, n_series)."""
        total = np.zeros((2, len(self.scale)))
        for span in (SHORT, LONG):
            windows = self.windows(rates, span)
            spread = measure(windows) + windows.doubt
            loss = pinball(windows.actual, gamma_quantiles(windows.mean, spread))
            total[0] += np.nansum(loss, axis=0) / span / self.scale
            total[1] += (~np.isnan(loss)).sum(axis=0)
        return total

    def spread(self, rates: Floats) -> Spread:
        """Spread of the future around forecasts that have missed like these."""
        short, long = self.windows(rates, SHORT), self.windows(rates, LONG)
        housed = shared_part(long, self.house)
        return Spread(
            short=measure(short) + self.doubt[-1],
            long=measure(long) + self.doubt[-1],
            shared=np.maximum(shared_part(long, self.family), housed),
            housed=housed,
        )


def gamma_quantiles(mean: Floats, spread: Floats) -> Floats:
    """Quantiles LEVELS of sums, approximately, with a new last axis.

    Notes
    -----
    Wilson and Hilferty's (1931) cube-root approximation of the gamma distribution with the negative
    binomial's mean and variance: near enough, and quick enough, for judging models.
    """
    shape = np.maximum(mean / (1 + spread * mean), TINY)[..., None]
    cube = np.maximum(1 - 1 / (9 * shape) + NORMAL_SCORES / (3 * np.sqrt(shape)), 0.0) ** 3
    quantiles: Floats = mean[..., None] * cube
    return quantiles


def pinball(actual: Floats, quantiles: Floats) -> Floats:
    """Mean pinball loss over LEVELS; NaN where `actual` is."""
    gap = actual[..., None] - quantiles
    loss: Floats = np.maximum(LEVELS * gap, (LEVELS - 1) * gap).mean(axis=-1)
    return loss
