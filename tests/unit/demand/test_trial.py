import numpy as np
import pytest
from scipy import stats

from stockroom.demand.history import History
from stockroom.demand.trial import LEVELS, Trial, gamma_quantiles, pinball
from stockroom.demand.view import look


def test_pinball_of_a_known_case() -> None:
    quantiles = np.array([[1.0, 2, 3, 4, 5]])
    expected = (0.5 * 2 + 0.8 * 1 + 0 + 0.05 * 1 + 0.02 * 2) / 5
    assert pinball(np.array([3.0]), quantiles)[0] == pytest.approx(expected)
    assert np.isnan(pinball(np.array([np.nan]), quantiles)[0])


@pytest.mark.parametrize(("mean", "spread"), [(40.0, 0.1), (8.0, 0.3), (200.0, 0.02)])
def test_quick_quantiles_are_near_the_gamma_ones(mean: float, spread: float) -> None:
    shape = mean / (1 + spread * mean)
    exact = stats.gamma.ppf(LEVELS, shape, scale=mean / shape)
    np.testing.assert_allclose(gamma_quantiles(np.array(mean), np.array(spread)), exact, rtol=0.02)


def test_windows_hold_what_came_and_what_was_promised_of_open_weeks() -> None:
    share = np.ones(30)
    share[21] = 0.0
    share[22] = 0.5
    weeks = np.datetime64("2024-01-01") + np.timedelta64(7, "D") * np.arange(30)
    history = History(use=np.arange(30.0)[None], weeks=weeks, open_share=share)
    trial = Trial.of(history, look(history, np.array([20, 30]), horizon=8))
    windows = trial.windows(np.full((2, 1, 8), 10.0), 3)
    assert windows.actual.tolist() == [[20 + 0 + 22]]
    assert windows.mean.tolist() == [[10 + 0 + 5]]


def test_a_window_with_a_week_unknown_is_not_judged() -> None:
    use = np.ones((1, 30))
    use[0, 24] = np.nan
    weeks = np.datetime64("2024-01-01") + np.timedelta64(7, "D") * np.arange(30)
    history = History(use=use, weeks=weeks)
    trial = Trial.of(history, look(history, np.array([20, 30]), horizon=8))
    assert trial.losses(np.ones((2, 1, 8)))[1].tolist() == [1]  # three weeks are known, eight are not
