import numpy as np
import pytest

from stockroom.demand.choose import forecast, origins_of
from stockroom.demand.history import History

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
