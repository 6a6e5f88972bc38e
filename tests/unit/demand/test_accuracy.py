import numpy as np
import pytest

from stockroom.demand.accuracy import SaidAndCame, plain_quantiles, trueness, why_missed
from stockroom.demand.choose import LEVELS


def held(came: np.ndarray, said: float, *, average: float) -> SaidAndCame:
    def flat(value: float) -> np.ndarray:
        return np.full((len(came), len(LEVELS)), value)

    return SaidAndCame(
        mean=np.full(len(came), said), came=came, quantiles=flat(said), average=flat(average), moving=flat(said)
    )


def test_figures_of_a_case_worked_by_hand() -> None:
    seen = trueness(held(np.array([1.0, 3.0]), 3.0, average=2.0))
    assert seen.forecasts == 2
    assert seen.bias == pytest.approx(6 / 4 - 1)
    assert seen.error == pytest.approx(2 / 4)
    assert seen.coverage == (1.0,) * len(LEVELS)
    # said 3: above 1 by 2, which costs 1 - level each, and right once; said 2: above 1 by 1, below 3 by 1
    assert seen.loss == pytest.approx(float(((1 - LEVELS) * 2).mean()) / 2)
    assert seen.average == pytest.approx(float((1 - LEVELS).mean() + LEVELS.mean()) / 2)


@pytest.mark.parametrize(("rare", "better"), [(0, True), (2, False)])
def test_a_plain_average_is_better_only_beyond_chance(rare: int, better: bool) -> None:
    """It was right twelve times by little, and wrong by much as often as `rare`: on average better, but not surely."""
    came = np.r_[np.full(12, 10.0), np.full(rare, 20.0)]
    seen = trueness(held(came, 20.0, average=10.0))
    assert seen.average < 0.95 * seen.loss
    assert seen.plain_better == better
    assert not trueness(held(came, 10.0, average=20.0)).plain_better


def test_a_plain_average_spreads_as_common_practice_has_it() -> None:
    """Common practice, no source: span times the mean, and the root of the span times the weeks' deviation."""
    said = plain_quantiles(np.array([2.0, 4.0, 6.0]), span=4)
    assert said[0] == pytest.approx(16)
    assert said[3] == pytest.approx(16 + 1.64485 * 2 * 2)


RNG = np.random.default_rng(2)


@pytest.mark.parametrize(
    ("weekly", "kind"),
    [
        (RNG.poisson(np.r_[np.full(60, 4.0), np.full(44, 12.0)]), "step"),
        (np.r_[RNG.poisson(5.0, 70), np.zeros(34)], "stopped"),
        (np.r_[np.tile([0, 1, 0, 1], 25), [0, 60, 0, 1]], "lumps"),
        (np.ones(8), "young"),
        (np.random.default_rng(7).poisson(6.0, 104), "chance"),
    ],
)
def test_the_cause_of_a_miss_is_named(weekly: np.ndarray, kind: str) -> None:
    assert why_missed(np.asarray(weekly, dtype=float), np.zeros(13)).kind == kind


def test_a_step_is_placed_and_measured() -> None:
    counts = np.asarray(np.random.default_rng(3).poisson(np.r_[np.full(60, 4.0), np.full(44, 12.0)]), dtype=float)
    cause = why_missed(counts, np.zeros(13))
    assert abs(cause.week - 60) <= 3
    assert cause.before == pytest.approx(4, rel=0.25)
    assert cause.after == pytest.approx(12, rel=0.25)


def test_steady_use_is_seldom_said_to_have_changed() -> None:
    """The test's own chance of error is one in a hundred."""
    rng = np.random.default_rng(4)
    kinds = [why_missed(rng.poisson(6.0, 104).astype(float), np.zeros(13)).kind for _ in range(200)]
    assert sum(kind in ("step", "stopped") for kind in kinds) <= 6


def test_misses_that_hang_together_are_told() -> None:
    misses = np.r_[np.full(7, 3.0), np.full(6, -3.0)]
    assert why_missed(np.random.default_rng(7).poisson(6.0, 104).astype(float), misses).kind == "together"
