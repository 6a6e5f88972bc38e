import numpy as np
import pytest
from scipy.linalg import solve_triangular

from stockroom.counting.regression import Prior, posterior, solve_lower


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
    noise, beliefs = roots @ roots.mT + np.eye(9), np.diag([0.1, 1.0, 4.0]) * np.array([1.0, 2.5])[:, None, None]
    centre = np.array([1.0, 2.0, -1.0])
    found = posterior(design, observed, noise=noise, prior=Prior(mean=centre, covariance=beliefs))
    assert found.mean.shape == (4, 2, 3)
    for at in np.ndindex(4, 2):
        alone = posterior(design, observed, noise=noise[at[0], 0], prior=Prior(mean=centre, covariance=beliefs[at[1]]))
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
