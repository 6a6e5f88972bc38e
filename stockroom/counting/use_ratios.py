"""What jobs truly use over what recipes say: a blend of normal posteriors, cut off where waste would be below zero."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from stockroom.counting.lessons import Span, Spreads
from stockroom.counting.linear_model import (
    LinearModel,
    Prior,
    noise_covariance,
    posterior,
    prior_covariance,
    solve_lower,
)
from stockroom.counting.losses import USUAL_SHARES, kinds

Floats = NDArray[np.float64]


STEPS = np.array([-0.8, 0.0, 0.8])  # log of one material's own spread against the shop's
STEPS_SD = 0.5  # materials differ: brushed on by eye, or cut to a pattern
POINTS = np.array([0.05, 0.5, 0.90, 0.95])
HALVINGS = 36  # to a billionth of the bracket
FAR = 50.0
# Log of the belief, before looking, in each own spread of lines and own spread of jobs: (3, 3, 1).
BEFORE = -0.5 * (STEPS[:, None, None] ** 2 + STEPS[:, None] ** 2) / STEPS_SD**2


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


def blend(of: LinearModel, spreads: Spreads, extra: Floats, shares: Floats = USUAL_SHARES) -> Blend:
    """Posterior of the ratios under several spreads, weighed by how well each explains the counts.

    Parameters
    ----------
    of : Frame
        One material.
    spreads : Spreads
        What is usual in the shop.
    extra : ndarray, shape (n, n)
        Covariance set aside for one-offs.
    shares : ndarray, shape (k,)
        How common each kind of steady loss is in the shop, adding up to 1.

    Returns
    -------
    Blend
        In the frame's scale; waste >= 0.

    Notes
    -----
    Normal linear model for given spreads (Lindley and Smith 1972), integrated over a material's own on a grid, which
    gives the intervals the heavier tails of an unknown variance. The whole grid is solved as one stack of matrices.
    """
    size = of.design.shape[1]
    prior = Prior(mean=np.zeros(size), covariance=_priors(of, spreads))
    noise = _noises(of, spreads) + extra
    found = posterior(of.design, of.departure, noise=noise, prior=prior)
    means, covariances = last_not_negative(found.mean + np.append(np.ones(size - 1), 0.0), found.covariance)
    reach = of.design @ prior.covariance @ of.design.T + noise
    kept = log_ndtr(found.mean[..., -1] / np.sqrt(found.covariance[..., -1, -1]))  # the share of waste not below zero
    logs = _log_density(of.departure, reach) + kept + BEFORE + np.log(shares)
    weights = np.exp(logs - logs.max())
    return Blend(
        weights=(weights / weights.sum()).reshape(-1),
        means=means.reshape(-1, size),
        covariances=covariances.reshape(-1, size, size),
    )


def last_error(of: LinearModel, found: Blend, spreads: Spreads, extra: Floats) -> tuple[float, float, Floats]:
    """Say what is believed of the last count's own error: mean, variance, and covariance with ratios and waste.

    Parameters
    ----------
    of : Frame
        One material with at least one interval.
    found : Blend
        What `blend` makes of the same.
    spreads, extra
        As there.

    Notes
    -----
    Given the ratios, the error e of variance v and the departures z are jointly normal with covariance ``v s``, s the
    last column of the steps: e is ``v s' N^-1 (z - D ratios)`` with variance ``v - v^2 s' N^-1 s``, N the noise. The
    rest is the law of total variance over each normal of the blend, and over the blend.
    """
    noise, steps = _noises(of, spreads) + extra, of.steps[:, -1]
    pulls = of.last * np.linalg.solve(noise, np.broadcast_to(steps[:, None], (*noise.shape[:-1], 1)))[..., 0]
    pulls = np.broadcast_to(pulls, (len(STEPS), *pulls.shape)).reshape(len(found.weights), -1)
    usual = np.append(np.ones(of.design.shape[1] - 1), 0.0)
    means = ((of.departure - (found.means - usual) @ of.design.T) * pulls).sum(axis=1)
    turned = pulls @ of.design
    within = -(found.covariances @ turned[:, :, None])[..., 0]
    variances = of.last * (1 - pulls @ steps) - (within * turned).sum(axis=1)
    mean = float(found.weights @ means)
    apart = found.weights * (means - mean)
    return (
        mean,
        max(float(found.weights @ variances + apart @ means), 0.0),
        found.weights @ within + apart @ found.means,
    )


def _priors(of: LinearModel, spreads: Spreads) -> Floats:
    """Prior covariance by own spread and steady loss, shape (3, 1, k, p + 1, p + 1)."""
    return np.array([[[prior_covariance(of, _own(spreads, step, x.size)) for x in kinds(spreads)]] for step in STEPS])


def _noises(of: LinearModel, spreads: Spreads) -> Floats:
    """Noise covariance by own job spread and steady loss, shape (3, k, n, n)."""
    uneven = [loss.size * loss.uneven for loss in kinds(spreads)]
    return np.array([[noise_covariance(of, spreads.job * np.exp(step), each) for each in uneven] for step in STEPS])


def _own(spreads: Spreads, step: float, loss: float) -> Spreads:
    return replace(spreads, line=spreads.line * np.exp(step), shared=spreads.shared * np.exp(step), waste=loss)


def _log_density(values: Floats, covariance: Floats) -> Floats:
    root = np.linalg.cholesky(covariance)
    apart = solve_lower(root, values[:, None])[..., 0]
    made: Floats = -0.5 * (apart**2).sum(axis=-1) - np.log(np.diagonal(root, axis1=-2, axis2=-1)).sum(axis=-1)
    return made


def last_not_negative(mean: Floats, covariance: Floats) -> tuple[Floats, Floats]:
    """Mean and covariance of a normal whose last coordinate is cut off below zero.

    Parameters
    ----------
    mean : ndarray, shape (..., k)
        Before cutting.
    covariance : ndarray, shape (..., k, k)
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
    spread = np.sqrt(covariance[..., -1, -1])
    hazard, left = _cut(-mean[..., -1] / spread)
    slope = covariance[..., -1] / spread[..., None]
    cut = covariance - slope[..., :, None] * slope[..., None, :] * (1 - left)[..., None, None]
    cut[..., -1, :] = cut[..., -1] = slope * (spread * left)[..., None]  # without the rounding of a difference
    moved = mean + slope * hazard[..., None]
    moved[..., -1] = np.maximum(moved[..., -1], 0.0)
    return moved, cut


def _cut(alpha: Floats) -> tuple[Floats, Floats]:
    """Give the hazard of a unit normal at alpha and the share of its variance left beyond."""
    near = np.minimum(alpha, FAR)
    hazard = np.exp(-0.5 * near**2 - log_ndtr(-near)) / np.sqrt(2 * np.pi)
    far = alpha > FAR  # asymptotic series; the exact form would subtract equals
    away = np.maximum(alpha, FAR)
    return np.where(far, away + 1 / away, hazard), np.where(far, 1 / away**2, 1 - hazard * (hazard - near))


def spans(blends: Sequence[Blend]) -> list[list[Span]]:
    """Median and 90 % interval of each coordinate of each blend: equal tails, or from zero where that is shorter."""
    if not blends:
        return []
    sizes = [of.means.shape[1] for of in blends]
    points = _points(
        np.hstack([np.repeat(of.weights[:, None], size, axis=1) for of, size in zip(blends, sizes, strict=True)]),
        np.hstack([of.means for of in blends]),
        np.hstack([np.sqrt(np.diagonal(of.covariances, axis1=1, axis2=2)) for of in blends]),
    )
    made = iter([_span(*each) for each in points.T.tolist()])
    return [list(islice(made, size)) for size in sizes]


def _span(low: float, middle: float, nine_tenths: float, high: float) -> Span:
    if nine_tenths < high - low:
        return Span(estimate=middle, low=0.0, high=nine_tenths)
    return Span(estimate=middle, low=low, high=high)


def _points(weights: Floats, means: Floats, sds: Floats) -> Floats:
    """Where distribution functions of blends, one a column, reach each share, by bisection of all of them at once."""
    wanted = POINTS[:, None]
    reach = 12 * sds.max(axis=0) + np.ptp(means, axis=0)
    high = np.tile(np.maximum((weights * means).sum(axis=0), 0) + reach, (POINTS.size, 1))
    low = np.zeros_like(high)
    above_zero = log_ndtr(means / sds)  # in logs: all but nothing may lie above zero
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        mass = (weights * -np.expm1(log_ndtr((means - middle[:, None]) / sds) - above_zero)).sum(axis=1)
        low, high = np.where(mass < wanted, middle, low), np.where(mass < wanted, high, middle)
    made: Floats = (low + high) / 2
    return made
