import numpy as np
import pytest
from scipy import stats

from stockroom.counting.ratios import Blend, last_not_negative, spans


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


def test_points_of_one_normal() -> None:
    (found,) = spans(Blend(weights=np.ones(1), means=np.array([[5.0]]), covariances=np.array([[[0.25]]])))
    assert (found.low, found.estimate, found.high) == pytest.approx(tuple(stats.norm(5, 0.5).ppf([0.05, 0.5, 0.95])))


def test_points_near_zero_start_at_zero() -> None:
    (found,) = spans(Blend(weights=np.ones(1), means=np.array([[-1.0]]), covariances=np.array([[[1.0]]])))
    assert found.low == 0
    assert found.high == pytest.approx(stats.truncnorm(1, np.inf, loc=-1).ppf(0.9))


def test_points_of_a_blend() -> None:
    both = Blend(
        weights=np.array([0.3, 0.7]), means=np.array([[2.0], [4.0]]), covariances=np.array([[[0.01]], [[0.04]]])
    )
    (found,) = spans(both)
    for point, share in ((found.low, 0.05), (found.high, 0.95)):
        mass = 0.3 * stats.norm(2, 0.1).cdf(point) + 0.7 * stats.norm(4, 0.2).cdf(point)
        assert mass == pytest.approx(share)
    assert both.mean[0] == pytest.approx(3.4)
    assert both.covariance[0, 0] == pytest.approx(0.3 * 0.01 + 0.7 * 0.04 + 0.21 * 4)
