import numpy as np
import pytest

from stockroom.buying.levels import economic_lot, order_up_to, packs_to
from stockroom.buying.schedules import wagner_whitin


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


def test_senseless_figures_are_refused() -> None:
    with pytest.raises(ValueError, match="positive"):
        economic_lot(0.0, 1.0, 1.0)
    with pytest.raises(ValueError, match="fee per period"):
        wagner_whitin([1, 2], [3], 1)
