import numpy as np
import pytest

from stockroom.demand.spread import FAMILY_WINDOWS, USUAL_SPREAD, Windows, measure, shared_part

FAMILY = np.zeros(40, dtype=np.intp)


def windows(actual: np.ndarray, mean: float, overlap: float = 1.0) -> Windows:
    return Windows(
        actual=actual,
        mean=np.full(actual.shape, mean),
        doubt=np.zeros(actual.shape),
        family=np.zeros(actual.shape[1], dtype=np.intp),
        overlap=overlap,
    )


def test_poisson_sums_show_no_spread() -> None:
    actual = np.random.default_rng(1).poisson(30, (40, 40)).astype(float)
    assert np.median(measure(windows(actual, 30.0))) < 0.01


def test_the_spread_of_negative_binomial_sums_is_found() -> None:
    actual = np.random.default_rng(2).negative_binomial(4, 4 / 34, (200, 40)).astype(float)
    np.testing.assert_allclose(measure(windows(actual, 30.0)).mean(), 0.25, rtol=0.1)


def test_the_doubt_of_the_level_is_not_counted_twice() -> None:
    actual = np.random.default_rng(2).negative_binomial(4, 4 / 34, (200, 40)).astype(float)
    known = windows(actual, 30.0)
    less = Windows(
        actual=known.actual, mean=known.mean, doubt=np.full(actual.shape, 0.1), family=known.family, overlap=1.0
    )
    np.testing.assert_allclose(measure(known).mean() - measure(less).mean(), 0.1, atol=0.01)


def test_without_any_window_the_usual_spread_is_believed() -> None:
    found = measure(windows(np.full((0, 3), np.nan), 1.0))
    np.testing.assert_allclose(found, USUAL_SPREAD * (1 + 1 / FAMILY_WINDOWS))


def test_few_windows_of_ones_own_lean_on_the_family() -> None:
    actual = np.random.default_rng(3).poisson(20, (30, 40)).astype(float)
    actual[:29, 0] = np.nan
    actual[29, 0] = 60  # one wild window
    assert measure(windows(actual, 20.0))[0] < 2.0


def test_sparse_streams_that_come_in_batches_are_wider_relative_to_their_mean() -> None:
    rng = np.random.default_rng(4)
    mean = np.concatenate([np.full(20, 1.0), np.full(20, 20.0)])
    actual = (5 * rng.poisson(mean / 5, (60, 40))).astype(np.float64)
    found = measure(
        Windows(
            actual=actual,
            mean=np.broadcast_to(mean, actual.shape),
            doubt=np.zeros(actual.shape),
            family=FAMILY,
            overlap=1.0,
        )
    )
    assert found[:20].mean() == pytest.approx(4, rel=0.3)
    assert found[20:].mean() == pytest.approx(0.2, rel=0.4)


def test_what_moves_a_family_together_is_found() -> None:
    rng = np.random.default_rng(5)
    tide = rng.gamma(10, 0.1, (300, 1))
    actual = rng.poisson(20 * tide, (300, 40)).astype(float)
    np.testing.assert_allclose(shared_part(windows(actual, 20.0), FAMILY), 0.1, rtol=0.2)


def test_a_family_of_one_shares_nothing() -> None:
    actual = np.random.default_rng(5).poisson(9, (20, 3)).astype(float)
    np.testing.assert_array_equal(shared_part(windows(actual, 9.0), np.arange(3)), 0)
