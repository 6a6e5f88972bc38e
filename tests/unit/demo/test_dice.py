import numpy as np
import pytest

from stockroom.demo.dice import Dice


def _dice(seed: int = 5) -> Dice:
    return Dice(np.random.default_rng(seed))


def test_the_same_seed_gives_the_same_draws() -> None:
    one, other = _dice(), _dice()
    assert [one.normal() for _ in range(20)] == [other.normal() for _ in range(20)]


@pytest.mark.parametrize("mean", [0.02, 0.7, 4.0, 15.0])
def test_poisson_keeps_its_mean_and_its_variance(mean: float) -> None:
    dice = _dice()
    drawn = np.array([dice.poisson(mean) for _ in range(20_000)])
    assert drawn.mean() == pytest.approx(mean, abs=5 * (mean / 20_000) ** 0.5)  # five standard errors
    assert drawn.var() == pytest.approx(mean, rel=0.15)


def test_draws_around_one_average_one() -> None:
    dice = _dice()
    drawn = np.array([dice.around_one(0.2) for _ in range(20_000)])
    assert drawn.mean() == pytest.approx(1, abs=0.01)
    assert drawn.std() == pytest.approx(0.2, abs=0.01)


def test_whole_numbers_reach_both_ends() -> None:
    dice = _dice()
    assert {dice.whole(2, 5) for _ in range(300)} == {2, 3, 4, 5}


def test_weighted_draws_follow_the_weights() -> None:
    dice = _dice()
    drawn = [dice.weighted({"a": 3.0, "b": 1.0, "never": 0.0}) for _ in range(8_000)]
    assert "never" not in drawn
    assert drawn.count("a") / len(drawn) == pytest.approx(0.75, abs=0.03)


def test_weighted_gives_the_last_when_rounding_leaves_nothing() -> None:
    dice = _dice()
    assert dice.weighted({"only": 0.0}) == "only"


def test_random_rounding_keeps_the_mean() -> None:
    dice = _dice()
    drawn = [dice.rounded(2.25) for _ in range(8_000)]
    assert set(drawn) == {2, 3}
    assert sum(drawn) / len(drawn) == pytest.approx(2.25, abs=0.03)
