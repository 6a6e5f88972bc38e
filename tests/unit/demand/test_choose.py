import numpy as np
import pytest
from scipy import stats

from stockroom.demand.choose import (
    KINDS,
    LEVELS,
    Trial,
    _weights,
    forecast,
    gamma_quantiles,
    kinds_of,
    origins_of,
    pinball,
)
from stockroom.demand.history import History
from stockroom.demand.view import look

MONDAY = np.datetime64("2022-01-03")


def history(use: np.ndarray) -> History:
    return History(use=use, weeks=MONDAY + np.timedelta64(7, "D") * np.arange(use.shape[1]))


@pytest.mark.parametrize(
    ("weeks", "past"),
    [(156, list(range(100, 149, 4))), (45, list(range(25, 38))), (20, [10, 11, 12]), (8, []), (1, [])],
)
def test_origins_leave_their_windows_time_to_come_in(weeks: int, past: list[int]) -> None:
    assert origins_of(weeks).tolist() == [*past, weeks]


def test_the_level_that_jumped_is_left_to_the_quick() -> None:
    use = np.random.default_rng(1).poisson(np.where(np.arange(120) < 70, 2, 12), (40, 120)).astype(float)
    weights = forecast(history(use), 8).weights
    assert weights["nimble"].mean() > weights["yearly"].mean()


def test_the_level_that_never_moves_is_left_to_the_patient() -> None:
    use = np.random.default_rng(2).poisson(3, (40, 156)).astype(float)
    weights = forecast(history(use), 8).weights
    assert weights["yearly"].mean() > weights["nimble"].mean()


def test_weights_add_to_one() -> None:
    use = np.random.default_rng(3).poisson(1, (5, 100)).astype(float)
    np.testing.assert_allclose(sum(forecast(history(use), 3).weights.values()), 1)


def test_models_can_be_asked_by_name() -> None:
    use = np.random.default_rng(3).poisson(1, (5, 100)).astype(float)
    assert set(forecast(history(use), 3, models=["sba", "croston"]).weights) == {"sba", "croston"}


def test_an_unknown_model_is_refused_by_name() -> None:
    with pytest.raises(ValueError, match="called oracle; there are"):
        forecast(history(np.ones((1, 30))), 3, models=["oracle"])


def test_models_short_of_history_are_not_asked() -> None:
    assert set(forecast(history(np.ones((1, 30))), 3, models=["theta"]).weights) == {"pooled"}


def test_known_closures_of_past_windows_are_not_held_against_a_model() -> None:
    rng = np.random.default_rng(4)
    share = np.ones(156)
    share[30::52] = share[31::52] = 0
    use = rng.poisson(8 * share, (20, 156)).astype(float)
    weeks = MONDAY + np.timedelta64(7, "D") * np.arange(156)
    told = forecast(History(use=use, weeks=weeks, open_share=share), 8)
    untold = forecast(History(use=use, weeks=weeks), 8)
    assert told.spread.long.mean() <= untold.spread.long.mean()
    np.testing.assert_allclose(told.mean, 8, rtol=0.15)


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


def test_a_window_with_a_week_unknown_is_judged_by_the_weeks_before_it() -> None:
    use = np.ones((1, 30))
    use[0, 24] = np.nan
    weeks = np.datetime64("2024-01-01") + np.timedelta64(7, "D") * np.arange(30)
    history = History(use=use, weeks=weeks)
    trial = Trial.of(history, look(history, np.array([20, 30]), horizon=8))
    right = trial.losses(np.ones((2, 1, 8)))
    assert np.isnan(trial.windows(np.ones((2, 1, 8)), 8).actual).all()
    assert right.shape == (1, 1)
    assert trial.losses(np.full((2, 1, 8), 3.0))[0, 0] > right[0, 0]
    use[0, 20] = np.nan
    again = History(use=use, weeks=weeks)
    assert np.isnan(Trial.of(again, look(again, np.array([20, 30]), horizon=8)).losses(np.ones((2, 1, 8)))).all()


@pytest.mark.parametrize(("chance", "believed"), [(0.02, True), (2.0, False)])
def test_what_one_series_says_is_believed_as_far_as_it_is_not_chance(chance: float, believed: bool) -> None:
    """Half of a class goes better by the first model, half by the second; its windows say so clearly, or hardly."""
    rng = np.random.default_rng(5)
    losses = 1 + rng.normal(0, chance, (2, 13, 60))
    losses[0, :, :30] -= 0.1
    losses[1, :, 30:] -= 0.1
    weights = _weights(losses, np.zeros((14, 60), dtype=np.intp), overlap=1.0)
    np.testing.assert_allclose(weights.sum(axis=0), 1)
    lean = weights[0, -1, :30].mean() - weights[0, -1, 30:].mean()
    assert (lean > 0.8) if believed else (abs(lean) < 0.5)


def test_what_has_just_stopped_is_its_own_class() -> None:
    use = np.random.default_rng(6).poisson(2, (3, 120)).astype(float)
    use[0, 100:] = 0
    use[1, 112:] = 0
    past = history(use)
    kinds = kinds_of(past, look(past, np.array([100, 113, 120]), horizon=8))
    assert (kinds[:, 0] == KINDS - 1).tolist() == [False, True, True]
    assert not (kinds[:, 1:] == KINDS - 1).any()


def test_a_yearly_wave_is_followed_in_months_too() -> None:
    rng = np.random.default_rng(8)
    months = np.arange("2016-01", "2022-01", dtype="datetime64[M]").astype("datetime64[D]")
    wave = 40 * np.exp(0.5 * np.cos(2 * np.pi * np.arange(84) / 12))
    use = rng.poisson(wave[:72], (12, 72)).astype(float)
    said = forecast(History(use=use, weeks=months), 12).mean.mean(axis=0)
    np.testing.assert_allclose(said, wave[72:], rtol=0.12)


def test_a_drift_seen_once_is_not_taken_for_a_season() -> None:
    """Fourteen months of families that only fell: next year's same weeks are not said to rise again."""
    rng = np.random.default_rng(9)
    level = 30 * np.exp(-np.arange(62) / 40)
    use = rng.poisson(level, (20, 62)).astype(float)
    said = forecast(history(use), 8).mean.sum(axis=1).mean()
    assert said < 8 * use[:, -8:].mean() * 1.15


def test_a_family_served_better_by_a_plain_average_gets_it() -> None:
    """A class is left to the quick for its many series that wander; one family of it only turns to and fro."""
    rng = np.random.default_rng(10)
    wander = 9 * np.exp(np.cumsum(rng.normal(0, 0.25, (40, 156)), axis=1)).clip(0.2, 9)
    turns = np.where((np.arange(156) // 8) % 2, 14.0, 6.0)
    use = rng.poisson(np.concatenate([wander, np.tile(turns, (5, 1))])).astype(float)
    groups = ("wander",) * 40 + ("turn",) * 5
    past = History(use=use, weeks=history(use).weeks, groups=groups)
    found = forecast(past, 8, models=["own-35-flat", "average"])
    assert found.by_average.tolist() == [False] * 40 + [True] * 5
    np.testing.assert_allclose(found.mean[40:], 10, rtol=0.2)
    assert (found.weights["average"][40:] == 1).all()


def test_weeks_before_a_series_began_say_nothing_of_how_forecasts_of_it_miss() -> None:
    """Forecast from nothing at the one past day, it came far otherwise; today it has eight weeks to go by."""
    use = np.random.default_rng(4).poisson([[0.2], [0.2], [0.2], [9.0]], (4, 104)).astype(float)
    use[-1, :-8] = np.nan
    weeks = np.datetime64("2024-01-01") + np.timedelta64(7, "D") * np.arange(104)
    found = forecast(History(use=use, weeks=weeks, groups=("a", "b", "c", "d")), 8)
    assert found.mean[-1].sum() == pytest.approx(72, rel=0.25)
    assert found.spread.long[-1] < 1
