import numpy as np

from stockroom.buying.levels import order_up_to, packs_to


def test_packs_are_whole_and_reach_the_level() -> None:
    position, low, high = np.array([1.0, 5.0, 9.9]), np.full(3, 6.0), np.full(3, 10.0)
    assert packs_to(position, low, high, np.full(3, 4.0)).tolist() == [3.0, 2.0, 0.0]


def test_level_rises_with_service_and_protection() -> None:
    mean, spread = np.array([10.0]), np.array([3.0])
    levels = [
        order_up_to(mean, spread, np.array([weeks]), service)[0] for weeks in (1.0, 4.0) for service in (0.5, 0.95)
    ]
    assert levels == sorted(levels)
    assert levels[0] == 10.0
