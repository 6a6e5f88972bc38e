"""One material's counts as a normal model in its simplest coordinates."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from stockroom.counting.lessons import Intervals, Spreads

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
    last: float  # measuring variance of the last count, scaled
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
        last=float(known.count_variance[-1]) / scale**2,
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
