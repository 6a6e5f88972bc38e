"""The belief about one material's true ratios and waste, once one-offs are set aside."""

import math
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray
from scipy.linalg import solve_triangular
from scipy.special import log_ndtr

from stockroom.counting.frame import Frame, noise_covariance, prior_covariance
from stockroom.counting.lessons import Span, Spreads
from stockroom.counting.regression import Prior, posterior

Floats = NDArray[np.float64]

STEPS = np.array([-0.8, 0.0, 0.8])  # log of one material's own spread against the shop's
STEPS_SD = 0.5  # materials differ: brushed on by eye, or cut to a pattern
WASTES = ((1.0, 0.9), (0.3, 0.1))  # waste as usual in the shop; or, one material in ten, a volatile one's: of use
GRID = tuple(product(STEPS.tolist(), STEPS.tolist(), WASTES))
POINTS = (0.05, 0.5, 0.90, 0.95)
HALVINGS = 36  # to a billionth of the bracket
FAR = 50.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Blend:
    """A weighted set of normals over (true ratio per line, waste a week), cut off below zero."""

    weights: Floats  # (g,)
    means: Floats  # (g, p + 1)
    covariances: Floats  # (g, p + 1, p + 1)

    @property
    def mean(self) -> Floats:
        """Mean of the blend, shape (p + 1,)."""
        made: Floats = self.weights @ self.means
        return made

    @property
    def covariance(self) -> Floats:
        """Covariance within and between the parts, shape (p + 1, p + 1)."""
        apart = self.means - self.mean
        made: Floats = np.tensordot(self.weights, self.covariances, axes=1) + (apart.T * self.weights) @ apart
        return made


def blend(of: Frame, spreads: Spreads, extra: Floats) -> Blend:
    """Posterior of the ratios under several spreads, weighed by how well each explains the counts.

    Parameters
    ----------
    of : Frame
        One material.
    spreads : Spreads
        What is usual in the shop.
    extra : ndarray, shape (n, n)
        Covariance set aside for one-offs.

    Returns
    -------
    Blend
        In the frame's scale; waste >= 0.

    Notes
    -----
    Normal linear model for given spreads (Lindley and Smith 1972), integrated over a material's own on a grid, which
    gives the intervals the heavier tails of an unknown variance.
    """
    size = of.design.shape[1]
    recipe = np.append(np.ones(size - 1), 0.0)
    logs, parts = [], []
    for line, job, (waste, chance) in GRID:
        own = _own(spreads, line, waste)
        prior = Prior(mean=np.zeros(size), covariance=prior_covariance(of, own))
        noise = noise_covariance(of, spreads.job * math.exp(job)) + extra
        found = posterior(of.design, of.departure, noise=noise, prior=prior)
        parts.append(last_not_negative(found.mean + recipe, found.covariance))
        reach = of.design @ prior.covariance @ of.design.T + noise
        kept = log_ndtr(found.mean[-1] / math.sqrt(found.covariance[-1, -1]))  # the share of waste not below zero
        before = math.log(chance) - 0.5 * (line**2 + job**2) / STEPS_SD**2
        logs.append(_log_density(of.departure, reach) + float(kept) + before)
    weights = np.exp(np.array(logs) - max(logs))
    means, covariances = (np.array(each) for each in zip(*parts, strict=True))
    return Blend(weights=weights / weights.sum(), means=means, covariances=covariances)


def _own(spreads: Spreads, step: float, waste: float) -> Spreads:
    own = spreads.waste if waste == 1 else max(waste, spreads.waste)
    return replace(spreads, line=spreads.line * math.exp(step), shared=spreads.shared * math.exp(step), waste=own)


def _log_density(values: Floats, covariance: Floats) -> float:
    root = np.linalg.cholesky(covariance)
    apart = solve_triangular(root, values, lower=True)
    return float(-0.5 * apart @ apart - np.log(np.diag(root)).sum())


def last_not_negative(mean: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    """Mean and covariance of a normal whose last coordinate is cut off below zero.

    Parameters
    ----------
    mean : ndarray, shape (k,)
        Before cutting.
    covariance : ndarray, shape (k, k)
        Before cutting, positive definite.

    Returns
    -------
    tuple of ndarray
        Exact first two moments after cutting; the other coordinates follow by regression on the last.

    Notes
    -----
    Truncated normal moments (Johnson, Kotz and Balakrishnan 1994, sec. 13.10.1) with the hazard in logs, so that a
    mean far below zero doesn't overflow.
    """
    spread = float(np.sqrt(covariance[-1, -1]))
    hazard, left = _cut(-float(mean[-1]) / spread)
    slope = covariance[:, -1] / spread
    cut = covariance - np.outer(slope, slope) * (1 - left)
    cut[-1, :] = cut[:, -1] = slope * spread * left  # without the rounding of a difference
    moved = mean + slope * hazard
    moved[-1] = max(moved[-1], 0.0)
    return moved, cut


def _cut(alpha: float) -> tuple[float, float]:
    """Give the hazard of a unit normal at alpha and the share of its variance left beyond."""
    if alpha > FAR:  # asymptotic series; the exact form would subtract equals
        return alpha + 1 / alpha, 1 / alpha**2
    hazard = math.exp(-0.5 * alpha**2 - float(log_ndtr(-alpha))) / math.sqrt(2 * math.pi)
    return hazard, 1 - hazard * (hazard - alpha)


def spans(of: Blend) -> list[Span]:
    """Median and 90 % interval of each coordinate: equal tails, or from zero where that is shorter."""
    sds = np.sqrt(np.diagonal(of.covariances, axis1=1, axis2=2))
    points = np.array([_point(share, of.weights, of.means, sds) for share in POINTS])
    return [_span(*each) for each in points.T.tolist()]


def _span(low: float, middle: float, nine_tenths: float, high: float) -> Span:
    if nine_tenths < high - low:
        return Span(estimate=middle, low=0.0, high=nine_tenths)
    return Span(estimate=middle, low=low, high=high)


def _point(share: float, weights: Floats, means: Floats, sds: Floats) -> Floats:
    """Where the blend's distribution function reaches a share, by bisection."""
    reach = 12 * sds.max(axis=0) + np.ptp(means, axis=0)
    low, high = np.zeros(means.shape[1]), np.maximum(weights @ means, 0) + reach
    above_zero = log_ndtr(means / sds)  # in logs: all but nothing may lie above zero
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        mass = weights @ -np.expm1(log_ndtr((means - middle) / sds) - above_zero)
        low, high = np.where(mass < share, middle, low), np.where(mass < share, high, middle)
    made: Floats = (low + high) / 2
    return made
