import numpy as np
import pytest

from stockroom.demand.intermittent import at_origins, classify, croston_levels, tsb_levels

USE = np.array([[0.0, 4, 0, 0, 2, 0]])
KNOWN = np.ones((1, 6), dtype=bool)


def test_croston_waits_for_the_first_demand_then_updates_on_demand_only() -> None:
    held = croston_levels(USE, KNOWN, alpha=0.5)
    np.testing.assert_allclose(held[0], [0, 0, 2, 2, 2, 3 / 2.5, 3 / 2.5])


def test_tsb_falls_in_every_idle_week() -> None:
    held = tsb_levels(USE, KNOWN, alpha=0.5, beta=0.5)[0]
    np.testing.assert_allclose(held, [0, 0, 2, 1, 0.5, 0.5625 * 3, 0.28125 * 3])


def test_unknown_weeks_change_nothing() -> None:
    gap = np.insert(USE, 3, 0, axis=1)
    known = np.ones((1, 7), dtype=bool)
    known[0, 3] = False
    assert croston_levels(gap, known, alpha=0.3)[0, -1] == pytest.approx(croston_levels(USE, KNOWN, alpha=0.3)[0, -1])
    assert tsb_levels(gap, known, alpha=0.3, beta=0.2)[0, -1] == pytest.approx(
        tsb_levels(USE, KNOWN, alpha=0.3, beta=0.2)[0, -1]
    )


def test_at_origins_reads_what_was_held_then() -> None:
    held = np.arange(7.0)[None]
    np.testing.assert_array_equal(at_origins(held, np.array([2, 6]), horizon=3)[:, 0], [[2, 2, 2], [6, 6, 6]])


def test_classify_ignores_weeks_unknown() -> None:
    use = np.array([[np.nan, np.nan, 0, 3, 0, 5]])
    interval, variation = classify(use)
    assert interval[0] == pytest.approx(2)
    assert variation[0] == pytest.approx(2 / 16)


def test_a_series_never_used_is_called_intermittent() -> None:
    interval, variation = classify(np.zeros((1, 5)))
    assert np.isinf(interval[0])
    assert variation[0] == 0
