from itertools import product
from math import exp, log

import numpy as np
import pytest
from scipy import stats

from stockroom.counting.frame import frame, noise_covariance, prior_covariance
from stockroom.counting.lessons import Intervals, Span, Spreads
from stockroom.counting.ratios import STEPS, STEPS_SD, WASTES, Blend, blend, last_not_negative, spans
from stockroom.counting.regression import Prior, posterior


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
    of, shop, extra = frame(known), Spreads(waste=0.1), np.diag([0.0, 0.2, 0, 0, 0, 0, 0])
    found = blend(of, shop, extra)
    logs, means = [], []
    for line, job, (waste, chance) in product(STEPS, STEPS, WASTES):
        own = Spreads(
            shared=shop.shared * exp(line), line=shop.line * exp(line), waste=shop.waste if waste == 1 else waste
        )
        prior, noise = prior_covariance(of, own), noise_covariance(of, shop.job * exp(job)) + extra
        alone = posterior(of.design, of.departure, noise=noise, prior=Prior(mean=np.zeros(3), covariance=prior))
        density = stats.multivariate_normal(np.zeros(7), of.design @ prior @ of.design.T + noise).logpdf(of.departure)
        kept = stats.norm.logcdf(alone.mean[-1] / np.sqrt(alone.covariance[-1, -1]))
        logs.append(density + kept + log(chance) - 0.5 * (line**2 + job**2) / STEPS_SD**2)
        means.append(last_not_negative(alone.mean + np.array([1, 1, 0]), alone.covariance)[0])
    weights = np.exp(np.array(logs) - max(logs))
    assert found.weights == pytest.approx(weights / weights.sum(), rel=1e-9)
    assert found.means == pytest.approx(np.array(means), rel=1e-9)
