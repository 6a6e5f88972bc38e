from itertools import product
from math import exp, log

import numpy as np
import pytest
from scipy import stats
from scipy.linalg import solve_triangular

from stockroom.counting.lessons import Intervals, Span, Spreads
from stockroom.counting.linear_model import (
    Prior,
    model,
    noise_covariance,
    posterior,
    prior_covariance,
    solve_lower,
)
from stockroom.counting.losses import kinds
from stockroom.counting.use_ratios import STEPS, STEPS_SD, Blend, blend, last_error, last_not_negative, spans


def test_cutting_off_matches_the_truncated_normal() -> None:
    mean, covariance = last_not_negative(np.array([1.0, -0.5]), np.array([[1.0, 0.6], [0.6, 4.0]]))
    wanted = stats.truncnorm(0.25, np.inf, loc=-0.5, scale=2.0)
    assert mean[1] == pytest.approx(wanted.mean())
    assert covariance[1, 1] == pytest.approx(wanted.var())
    assert mean[0] == pytest.approx(1.0 + 0.15 * (wanted.mean() + 0.5))


def test_cutting_off_agrees_with_drawing() -> None:
    rng = np.random.default_rng(8)
    wide = np.array([[1.0, -0.7], [-0.7, 1.0]])
    drawn = rng.multivariate_normal([2.0, -1.0], wide, 400_000)
    kept = drawn[drawn[:, 1] >= 0]
    mean, covariance = last_not_negative(np.array([2.0, -1.0]), wide)
    assert mean == pytest.approx(kept.mean(axis=0), abs=0.01)  # standard error of 63,000 draws: 0.004
    assert covariance == pytest.approx(np.cov(kept.T), abs=0.02)


def test_a_mean_far_below_zero_does_not_overflow() -> None:
    mean, covariance = last_not_negative(np.array([0.0, -40.0]), np.eye(2))
    assert mean[1] == pytest.approx(1 / 40, rel=0.01)
    assert 0 < covariance[1, 1] < 0.001


def test_many_are_cut_off_as_each_alone() -> None:
    means = np.array([[[0.0, -80.0], [1.0, 2.0]], [[2.0, -1.0], [0.5, 0.0]]])  # one beyond where the series takes over
    wide = np.array([[1.0, -0.7], [-0.7, 1.0]]) * np.array([0.5, 2.0])[:, None, None, None]
    moved, cut = last_not_negative(means, np.broadcast_to(wide, (2, 2, 2, 2)))
    for at in np.ndindex(2, 2):
        alone = last_not_negative(means[at], wide[at[0], 0])
        assert moved[at] == pytest.approx(alone[0], rel=1e-12)
        assert cut[at] == pytest.approx(alone[1], rel=1e-12)


def one(of: Blend) -> Span:
    [[found]] = spans([of])
    return found


def test_points_of_one_normal() -> None:
    found = one(Blend(weights=np.ones(1), means=np.array([[5.0]]), covariances=np.array([[[0.25]]])))
    assert (found.low, found.estimate, found.high) == pytest.approx(tuple(stats.norm(5, 0.5).ppf([0.05, 0.5, 0.95])))


def test_points_near_zero_start_at_zero() -> None:
    found = one(Blend(weights=np.ones(1), means=np.array([[-1.0]]), covariances=np.array([[[1.0]]])))
    assert found.low == 0
    assert found.high == pytest.approx(stats.truncnorm(1, np.inf, loc=-1).ppf(0.9))


def test_points_of_a_blend() -> None:
    both = Blend(
        weights=np.array([0.3, 0.7]), means=np.array([[2.0], [4.0]]), covariances=np.array([[[0.01]], [[0.04]]])
    )
    found = one(both)
    for point, share in ((found.low, 0.05), (found.high, 0.95)):
        mass = 0.3 * stats.norm(2, 0.1).cdf(point) + 0.7 * stats.norm(4, 0.2).cdf(point)
        assert mass == pytest.approx(share)
    assert both.mean[0] == pytest.approx(3.4)
    assert both.covariance[0, 0] == pytest.approx(0.3 * 0.01 + 0.7 * 0.04 + 0.21 * 4)


def test_blends_of_many_materials_are_read_off_as_each_alone() -> None:
    rng = np.random.default_rng(2)
    blends = [
        Blend(weights=rng.dirichlet(np.ones(3)), means=rng.normal(1, 1, (3, k)), covariances=_wide(rng, k))
        for k in (1, 4, 2)
    ]
    assert spans(blends) == [spans([each])[0] for each in blends]
    assert [len(each) for each in spans(blends)] == [1, 4, 2]
    assert spans([]) == []


def _wide(rng: np.random.Generator, k: int) -> np.ndarray:
    roots = rng.normal(size=(3, k, k))
    return roots @ roots.mT + 0.1 * np.eye(k)


def test_a_blend_is_its_grid_point_by_point() -> None:
    rng = np.random.default_rng(9)
    times = rng.poisson(4.0, (7, 2)).astype(float)
    known = Intervals(
        material="CORK", lines=("resole", "heel"), recipe=np.array([30.0, 10.0]), expected=times * [30.0, 10.0],
        times=times, observed=times @ [36.0, 9.0] + 5, weeks=rng.uniform(1, 3, 7), count_variance=np.full(8, 9.0),
    )  # fmt: skip
    of, shop, extra = model(known), Spreads(waste=0.1), np.diag([0.0, 0.2, 0, 0, 0, 0, 0])
    shares = np.array([0.6, 0.1, 0.1, 0.1, 0.1])
    found = blend(of, shop, extra, shares)
    logs, means = [], []
    for line, job, (loss, chance) in product(STEPS, STEPS, zip(kinds(shop), shares, strict=True)):
        own = Spreads(shared=shop.shared * exp(line), line=shop.line * exp(line), waste=loss.size)
        prior, noise = (
            prior_covariance(of, own),
            noise_covariance(of, shop.job * exp(job), loss.size * loss.uneven) + extra,
        )
        alone = posterior(of.design, of.departure, noise=noise, prior=Prior(mean=np.zeros(3), covariance=prior))
        density = stats.multivariate_normal(np.zeros(7), of.design @ prior @ of.design.T + noise).logpdf(of.departure)
        kept = stats.norm.logcdf(alone.mean[-1] / np.sqrt(alone.covariance[-1, -1]))
        logs.append(density + kept + log(chance) - 0.5 * (line**2 + job**2) / STEPS_SD**2)
        means.append(last_not_negative(alone.mean + np.array([1, 1, 0]), alone.covariance)[0])
    weights = np.exp(np.array(logs) - max(logs))
    assert found.weights == pytest.approx(weights / weights.sum(), rel=1e-9)
    assert found.means == pytest.approx(np.array(means), rel=1e-9)


def test_the_last_counts_error_is_what_a_joint_normal_says_of_it() -> None:
    """Conditioning one large normal of error and departures, at every point of the grid: no part of it is shared.

    What is wasted is far from nothing here, so that cutting it off at zero changes nothing.
    """
    rng = np.random.default_rng(5)
    times = rng.poisson(4.0, (7, 2)).astype(float)
    known = Intervals(
        material="CORK", lines=("resole", "heel"), recipe=np.array([30.0, 10.0]), expected=times * [30.0, 10.0],
        times=times, observed=times @ [36.0, 9.0] + 80, weeks=np.ones(7), count_variance=rng.uniform(50, 400, 8),
    )  # fmt: skip
    of, shop, extra = model(known), Spreads(waste=0.5), np.diag([0.0, 0.2, 0, 0, 0, 0, 0])
    found = blend(of, shop, extra, np.array([0.96, 0.01, 0.01, 0.01, 0.01]))
    with_departure = of.last * of.steps[:, -1]
    means, variances, ties = [], [], []
    for line, job, loss in product(STEPS, STEPS, kinds(shop)):
        own = Spreads(shared=shop.shared * exp(line), line=shop.line * exp(line), waste=loss.size)
        prior = prior_covariance(of, own)
        all_noise = noise_covariance(of, shop.job * exp(job), loss.size * loss.uneven) + extra
        reach = np.linalg.inv(of.design @ prior @ of.design.T + all_noise)
        means.append(with_departure @ reach @ of.departure)
        variances.append(of.last - with_departure @ reach @ with_departure)
        ties.append(-with_departure @ reach @ of.design @ prior)
    mean = found.weights @ means
    apart = found.weights * (means - mean)
    wanted = mean, found.weights @ variances + apart @ means, found.weights @ ties + apart @ found.means
    for got, value in zip(last_error(of, found, shop, extra), wanted, strict=True):
        assert got == pytest.approx(value, rel=1e-3, abs=1e-5)


def test_flat_prior_is_least_squares() -> None:
    rng = np.random.default_rng(3)
    design, observed = rng.normal(size=(30, 4)), rng.normal(size=30)
    found = posterior(design, observed)
    wanted, rest, *_ = np.linalg.lstsq(design, observed, rcond=None)
    assert found.mean == pytest.approx(wanted, rel=1e-10)
    assert found.residual_sum == pytest.approx(float(rest[0]), rel=1e-10)


def test_correlated_noise_and_prior_agree_with_the_textbook_form() -> None:
    rng = np.random.default_rng(4)
    design, observed = rng.normal(size=(12, 3)), rng.normal(size=12)
    noise = 0.5 * np.eye(12) + 0.3 * np.eye(12, k=1) * -1 - 0.3 * np.eye(12, k=-1) + 0.4 * np.eye(12)
    prior = Prior(mean=np.array([1.0, 2.0, -1.0]), covariance=np.diag([0.1, 1.0, 4.0]))
    found = posterior(design, observed, noise=noise, prior=prior)
    precision = design.T @ np.linalg.solve(noise, design) + np.linalg.inv(prior.covariance)
    side = design.T @ np.linalg.solve(noise, observed) + np.linalg.solve(prior.covariance, prior.mean)
    assert found.mean == pytest.approx(np.linalg.solve(precision, side), rel=1e-10)
    assert found.covariance == pytest.approx(np.linalg.inv(precision), rel=1e-9)


def test_many_at_once_are_solved_as_each_alone() -> None:
    rng = np.random.default_rng(6)
    design, observed = rng.normal(size=(9, 3)) * [1.0, 1e4, 1e-3], rng.normal(size=9)
    roots = rng.normal(size=(4, 1, 9, 9))
    noise, posteriors = roots @ roots.mT + np.eye(9), np.diag([0.1, 1.0, 4.0]) * np.array([1.0, 2.5])[:, None, None]
    centre = np.array([1.0, 2.0, -1.0])
    found = posterior(design, observed, noise=noise, prior=Prior(mean=centre, covariance=posteriors))
    assert found.mean.shape == (4, 2, 3)
    for at in np.ndindex(4, 2):
        alone = posterior(
            design, observed, noise=noise[at[0], 0], prior=Prior(mean=centre, covariance=posteriors[at[1]])
        )
        assert found.mean[at] == pytest.approx(alone.mean, rel=1e-12)
        assert found.covariance[at] == pytest.approx(alone.covariance, rel=1e-12)
        assert found.residual_sum[at] == pytest.approx(alone.residual_sum, rel=1e-12)


def test_lower_triangles_are_solved_by_substitution() -> None:
    rng = np.random.default_rng(7)
    lower = np.tril(rng.normal(size=(5, 6, 6)))  # small pivots under large ones: no rows may change places
    right = rng.normal(size=(5, 6, 2))
    wanted = [solve_triangular(one, side, lower=True) for one, side in zip(lower, right, strict=True)]
    assert solve_lower(lower, right) == pytest.approx(np.array(wanted), rel=1e-12)


def test_no_observations_leave_the_prior() -> None:
    prior = Prior(mean=np.array([1.0, 2.0]), covariance=np.array([[2.0, 0.5], [0.5, 1.0]]))
    found = posterior(np.zeros((0, 2)), np.zeros(0), prior=prior)
    assert found.mean == pytest.approx(prior.mean)
    assert found.covariance == pytest.approx(prior.covariance)


@pytest.mark.parametrize(
    ("design", "observed", "says"),
    [
        (np.ones((3, 2)), np.ones(4), "do not belong together"),
        (np.ones(3), np.ones(3), "do not belong together"),
        (np.array([[1.0], [np.nan]]), np.ones(2), "finite"),
        (np.ones((1, 2)), np.ones(1), "do not determine"),
        (np.zeros((4, 1)), np.ones(4), "do not determine"),
        (np.ones((4, 2)), np.ones(4), "say the same"),
    ],
)
def test_what_cannot_be_solved_is_a_fault(design: np.ndarray, observed: np.ndarray, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        posterior(design, observed)
