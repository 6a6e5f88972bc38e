import numpy as np
import pytest

from stockroom.demand.spread import (
    FAMILY_WINDOWS,
    USUAL_SPREAD,
    Drawer,
    SpanSums,
    Spread,
    draw_counts,
    measure,
    shared_part,
)

N = 20_000


def drawer(n: int, seed: int) -> Drawer:
    """All of one family."""
    return Drawer(seed=seed, names=[str(each) for each in range(n)], families=["f"] * n, houses=["h"] * n)


def draw(short: float, long: float, shared: float = 0.0, horizon: int = 8, level: float = 5.0) -> np.ndarray:
    spread = Spread(
        short=np.full(2, short), long=np.full(2, long), shared=np.full(2, shared), housed=np.full(2, shared / 2)
    )
    return draw_counts(np.full((2, horizon), level), spread, by=drawer(2, 7), n_paths=N)


def relative(sums: np.ndarray) -> float:
    return float((sums.var() - sums.mean()) / sums.mean() ** 2)


@pytest.mark.parametrize(("short", "long"), [(0.3, 0.1), (0.12, 0.1), (0.0, 0.0), (1.5, 0.5)])
def test_sums_over_both_spans_have_the_spread_asked_for(short: float, long: float) -> None:
    counts = draw(short, long)[:, 0]
    assert counts.sum(axis=1).mean() == pytest.approx(40, rel=0.02)
    assert relative(counts.sum(axis=1)) == pytest.approx(long, abs=0.03)
    assert relative(counts[:, :3].sum(axis=1)) == pytest.approx(max(short, long), abs=0.06)


def test_horizons_need_not_be_whole_blocks() -> None:
    assert draw(0.2, 0.1, horizon=3).shape == (N, 2, 3)
    assert draw(0.2, 0.1, horizon=11).shape == (N, 2, 11)


def test_long_futures_do_not_average_out_what_is_unsure_about_the_level() -> None:
    assert relative(draw(0.2, 0.1, horizon=24)[:, 0].sum(axis=1)) == pytest.approx(0.1, abs=0.02)


def test_a_family_moves_together_as_much_as_was_measured() -> None:
    alone, together = draw(0.2, 0.2, 0.0), draw(0.2, 0.2, 0.15)
    assert abs(np.corrcoef(*alone.sum(axis=2).T)[0, 1]) < 0.03
    assert np.corrcoef(*together.sum(axis=2).T)[0, 1] > 0.5


def test_weeks_closed_stay_empty() -> None:
    mean = np.array([[0.0, 5, 5, 0, 5, 5, 5, 5], [0.0] * 8])
    spread = Spread(short=np.full(2, 0.2), long=np.full(2, 0.1), shared=np.zeros(2), housed=np.zeros(2))
    counts = draw_counts(mean, spread, by=drawer(2, 1), n_paths=500)
    assert counts[:, 0, [0, 3]].sum() == 0
    assert counts[:, 1].sum() == 0
    assert counts[:, 0].sum(axis=1).mean() == pytest.approx(30, rel=0.05)


FAMILY = np.zeros(40, dtype=np.intp)


def windows(actual: np.ndarray, mean: float, overlap: float = 1.0) -> SpanSums:
    return SpanSums(
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
    less = SpanSums(
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
        SpanSums(
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
