"""One material's counts as a normal model in its simplest coordinates."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import islice

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr

from stockroom.counting.lessons import Intervals, Span, Spreads
from stockroom.counting.losses import USUAL_SHARES, kinds

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class LinearModel:
    """Departures from the recipes, scaled so that a usual interval's use is 1.

    Notes
    -----
    ``departure = design @ (true ratio - 1, waste) + job noise + counting noise + shocks``.  A count that reads e
    too high makes the interval before it look e smaller and the one after it e larger, so counting noise has the
    covariance ``steps diag(v) steps'`` with `steps` the (n, n + 1) difference matrix.
    """

    scale: float  # base units in one unit of this frame
    rate: float  # recorded use a week, scaled
    design: Floats  # (n, p + 1), last column weeks
    departure: Floats  # (n,)
    job_noise: Floats  # (n,), for a job spread of 1
    known_noise: Floats  # (n,): variance that is known beforehand
    steps: Floats  # (n, n + 1)
    counting: Floats  # (n, n): covariance from measuring
    slab: float  # variance of a one-off, scaled


def model(known: Intervals) -> LinearModel:
    """Scale one material's intervals; a material never used keeps a scale of 1."""
    usual = known.expected.sum(axis=1)
    total = float(usual.sum() or np.abs(known.observed).sum())  # with no recipe at all, the counts set the scale
    scale = total / max(usual.size, 1) or 1.0
    per_use = np.divide(known.expected, known.times, out=np.zeros_like(known.expected), where=known.times > 0)
    steps = _steps(known.observed.size)
    stated = np.zeros(known.observed.size) if known.known_variance is None else known.known_variance
    return LinearModel(
        scale=scale,
        rate=total / scale / (float(known.weeks.sum()) or 1.0),
        design=np.column_stack([known.expected / scale, known.weeks]),
        departure=(known.observed - usual) / scale,
        job_noise=(known.expected * per_use).sum(axis=1) / scale**2,
        known_noise=stated / scale**2,
        steps=steps,
        counting=(steps * known.count_variance) @ steps.T / scale**2,
        slab=4.0,  # a one-off of two usual intervals' use is nothing strange
    )


def _steps(n: int) -> Floats:
    steps = np.zeros((n, n + 1))
    steps[np.arange(n), np.arange(n)] = 1.0
    steps[np.arange(n), np.arange(1, n + 1)] = -1.0
    return steps


OPEN_DAYS = 5  # a week, on each of which something may go; one day's loss varies as much as it is large
FLOOR = 1e-6  # variance no interval goes below (a thousandth of its use): keeps exact counts solvable


def prior_covariance(of: LinearModel, spreads: Spreads) -> Floats:
    """Prior covariance of (ratio - 1 per line, waste a week), shape (p + 1, p + 1)."""
    lines = of.design.shape[1] - 1
    made = np.zeros((lines + 1, lines + 1))
    made[:lines, :lines] = spreads.shared**2 + np.diag(np.full(lines, spreads.line**2))
    made[lines, lines] = (spreads.waste * of.rate) ** 2 or 1e-12
    return made


def noise_covariance(of: LinearModel, job: float, uneven: float = 0.0) -> Floats:
    """Covariance of the departures around the true use and an uneven loss, without shocks, shape (n, n)."""
    return of.counting + np.diag(job**2 * of.job_noise + uneven**2 * loss_noise(of) + of.known_noise + FLOOR)


def loss_noise(of: LinearModel) -> Floats:
    """Variance of what is lost in each interval, for a loss as large as the recorded use: days differ, shape (n,)."""
    made: Floats = of.rate**2 * of.design[:, -1] / OPEN_DAYS
    return made


@dataclass(frozen=True, slots=True, kw_only=True)
class Posterior:
    """What a normal regression believes about its coefficients."""

    mean: Floats
    covariance: Floats
    residual_sum: Floats
    rank: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """Belief about the coefficients before looking."""

    mean: Floats
    covariance: Floats


def posterior(
    design: Floats, observed: Floats, *, noise: Floats | None = None, prior: Prior | None = None
) -> Posterior:
    """Posterior of the coefficients of ``observed = design @ coefficients + noise``.

    Parameters
    ----------
    design : ndarray, shape (n, p)
        Any units; columns may differ in scale by many powers of ten.
    observed : ndarray, shape (n,)
        The left-hand side.
    noise : ndarray, shape (..., n, n), optional
        Covariance of the noise; the identity when left out. Several are answered at once.
    prior : Prior, optional
        Normal prior; flat when left out, which makes this generalised least squares. Several covariances, shape
        (..., p, p), are answered at once; they broadcast with those of the noise.

    Returns
    -------
    Posterior
        Mean (..., p), covariance (..., p, p) for the given noise (not rescaled by the residuals), the whitened
        sum of squared residuals of the observations alone (...,), and the number of coefficients pinned down.

    Raises
    ------
    ValueError
        If shapes disagree, anything is not finite, or a flat prior leaves the coefficients undetermined.

    Notes
    -----
    Mixed estimation (Theil and Goldberger 1961): the prior is stacked under the whitened observations as p more
    rows, and the whole solved by QR with columns scaled to unit length, which keeps ten digits on badly conditioned
    sets.
    """
    _check(design, observed)
    whitened = _whiten(np.column_stack([design, observed]), noise)
    mean, covariance = _solve(whitened if prior is None else _on_prior(whitened, prior))
    misfit = whitened[..., -1] - (whitened[..., :-1] @ mean[..., None])[..., 0]
    return Posterior(mean=mean, covariance=covariance, residual_sum=(misfit**2).sum(axis=-1), rank=design.shape[1])


def _check(design: Floats, observed: Floats) -> None:
    if design.ndim != 2 or observed.shape != design.shape[:1]:  # noqa: PLR2004 -- two dimensions
        msg = f"design {design.shape} and observed {observed.shape} do not belong together"
        raise ValueError(msg)
    if not (np.isfinite(design).all() and np.isfinite(observed).all()):
        raise ValueError("design and observed must be finite")


def _whiten(both: Floats, noise: Floats | None) -> Floats:
    return both if noise is None else solve_lower(np.linalg.cholesky(noise), both)


def _on_prior(whitened: Floats, prior: Prior) -> Floats:
    """Stack the prior under the observations; the last column is the left-hand side."""
    size = prior.mean.size
    below = _whiten(np.column_stack([np.eye(size), prior.mean]), prior.covariance)
    several = np.broadcast_shapes(whitened.shape[:-2], below.shape[:-2])
    return np.concatenate([np.broadcast_to(part, several + part.shape[-2:]) for part in (whitened, below)], axis=-2)


def _solve(both: Floats) -> tuple[Floats, Floats]:
    rows, target = both[..., :-1], both[..., -1:]
    scale = np.sqrt((rows**2).sum(axis=-2))
    if rows.shape[-2] < rows.shape[-1] or not scale.all():
        raise ValueError("the observations do not determine every coefficient; give a prior")
    orthogonal, upper = np.linalg.qr(rows / scale[..., None, :])
    if np.abs(np.diagonal(upper, axis1=-2, axis2=-1)).min() < np.finfo(float).eps * rows.shape[-2]:
        raise ValueError("two columns of the design say the same; give a prior")
    mean = np.linalg.solve(upper, orthogonal.mT @ target)[..., 0] / scale
    inverse = np.linalg.solve(upper, np.eye(scale.shape[-1])) / scale[..., None]
    return mean, inverse @ inverse.mT


def solve_lower(lower: NDArray[np.floating], right: Floats) -> Floats:
    """Solve equations with lower triangles, shape (..., n, n), for a right-hand side (..., n, k), any number at once.

    Notes
    -----
    Turned about, a lower triangle is an upper one, and elimination leaves that as it is: what remains is the
    substitution of a triangular solver, for a whole stack of small matrices in one call.
    """
    turned = np.linalg.solve(lower[..., ::-1, ::-1], right[..., ::-1, :])
    return np.asarray(turned[..., ::-1, :], dtype=np.float64)


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
