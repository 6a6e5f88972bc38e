"""Each thing that is drawn has its own source of chance."""

import numpy as np

from stockroom.demand.chance import Chance, chance_from
from stockroom.demand.lags import weeks_moved, worked
from stockroom.demand.paths import ChanceLine, Paths, around_one, explode_chances

WEEKS = 6


def tickets(*names: str, many: int = 3) -> Paths:
    counts = np.full((200, len(names), WEEKS), many, dtype=np.int32)
    none = np.zeros((len(names), WEEKS), dtype="datetime64[D]")
    return Paths(names=names, weeks=none, mean=counts.mean(axis=0), counts=counts)


def moved() -> np.ndarray:
    week_of = np.array([day // 5 for day in range(5 * WEEKS)], dtype=np.intp)
    return weeks_moved(np.array([[0.2, 0.2, 0.2, 0.2, 0.1, 0.1]]), week_of, WEEKS)


def test_a_stream_more_leaves_what_the_others_draw() -> None:
    few, more = tickets("heel", "sole"), tickets("bag", "heel", "sole")
    chance = Chance(seed=4)
    one, other = (worked(each, moved(), np.zeros(len(each.names), dtype=np.intp), chance) for each in (few, more))
    np.testing.assert_array_equal(one.counts, other.counts[:, 1:])
    lines = [ChanceLine(stream=n, material=n, amount=1.0, chance=0.4) for n in (0, 1)]
    after = [ChanceLine(stream=n, material=n, amount=1.0, chance=0.4) for n in (2, 0, 1)]
    used = explode_chances(few, lines, names=("tops", "bend"), chance=chance)
    also = explode_chances(more, after, names=("strap", "tops", "bend"), chance=chance)
    np.testing.assert_array_equal(used.counts, also.counts[:, 1:])
    first, second = (
        around_one(np.full(len(n), 0.2), chance.each("doubt", n), 50) for n in (["a", "b"], ["b", "c", "a"])
    )
    np.testing.assert_array_equal(first, second[:, [2, 0]])


def test_of_one_name_each_draws_for_itself() -> None:
    one, other = Chance(seed=4).each("doubt", ["tops", "tops"])
    assert not np.array_equal(one.random(20), other.random(20))
    assert np.array_equal(
        Chance(seed=4).of("doubt", "tops").random(20), Chance(seed=4).each("doubt", ["tops"])[0].random(20)
    )


def test_another_start_gives_other_chances() -> None:
    first, second = (chance_from(np.random.default_rng(seed)).of("sales").random(20) for seed in (1, 2))
    assert not np.array_equal(first, second)
