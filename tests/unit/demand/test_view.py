import numpy as np
import pytest

from stockroom.demand.view import calm, doubt, fading, levels, shared_levels, weighted
from tests.unit.demand.views import flat_view


def test_fading_kernel_over_constant_exposure_is_simple_smoothing() -> None:
    use = np.random.default_rng(1).poisson(4, (3, 30)).astype(float)
    view = flat_view(use, origins=(10, 30))
    count, exposure = weighted(view, fading(view, 0.9))
    for row, end in enumerate((10, 30)):
        level = 0.0
        total = 0.0
        for week in use[0, :end]:
            level, total = 0.9 * level + week, 0.9 * total + 1
        assert count[row, 0] / exposure[row, 0] == pytest.approx(level / total)


def test_weeks_after_the_origin_are_not_seen() -> None:
    use = np.ones((1, 20))
    later = use.copy()
    later[:, 10:] = 99
    one, two = (weighted(flat_view(u, origins=(10,)), np.ones(20)) for u in (use, later))
    np.testing.assert_array_equal(one[0], two[0])


def test_a_new_series_stands_at_its_family_level() -> None:
    use = np.vstack([np.full((3, 40), 6.0), np.full((1, 40), np.nan)])
    view = flat_view(use)
    assert levels(view, fading(view, 0.97))[0, 3] == pytest.approx(6, rel=0.1)


def test_a_busy_series_hardly_minds_its_family() -> None:
    use = np.vstack([np.full((3, 40), 6.0), np.full((1, 40), 60.0)])
    view = flat_view(use)
    np.testing.assert_allclose(levels(view, fading(view, 0.97))[0], [6, 6, 6, 60], rtol=0.02)


def test_an_idle_series_keeps_a_floor() -> None:
    use = np.vstack([np.full((3, 80), 2.0), np.zeros((1, 80))])
    view = flat_view(use)
    assert 0 < levels(view, fading(view, 0.97))[0, 3] < 0.05


@pytest.mark.parametrize("keep", [0.9, 0.97, 0.99])
def test_many_rare_series_are_not_lifted_towards_a_few_busy_ones(keep: float) -> None:
    rare = np.zeros((40, 150))
    rare[np.arange(40), np.arange(40) * 3 + 20] = 1  # each was asked for once in three years
    view = flat_view(np.vstack([np.full((2, 150), 10.0), rare]))
    level = levels(view, fading(view, keep))[0, 2:].sum()
    assert level == pytest.approx(40 / 150, rel=1 / 3)  # the plain rate of all; each may be drawn up by half a ticket


def test_a_family_rising_together_lifts_its_slow_members() -> None:
    use = np.full((10, 60), 5.0)
    use[:, 50:] = 10.0
    view = flat_view(use)
    slow = levels(view, fading(view, 0.99))
    assert shared_levels(view, slow, kernel=fading(view, 0.8))[0, 0] > 1.3 * slow[0, 0]


def test_a_family_of_few_tickets_stays_near_its_slow_level() -> None:
    use = np.full((1, 60), 0.05)
    use[0, 50:] = 0.1
    view = flat_view(use)
    slow = levels(view, fading(view, 0.99))
    assert shared_levels(view, slow, kernel=fading(view, 0.8))[0, 0] == pytest.approx(slow[0, 0], rel=0.05)


def test_doubt_falls_with_what_was_seen() -> None:
    unsure = doubt(flat_view(np.vstack([np.zeros(30), np.full(30, 0.2), np.full(30, 20.0)])))[0]
    assert unsure[0] == pytest.approx(2)
    assert unsure[0] > unsure[1] > unsure[2]


def test_calm_fills_gaps_with_the_mean() -> None:
    use = np.array([[2.0, np.nan, 4.0, 9.0]])
    np.testing.assert_allclose(calm(flat_view(use, origins=(3, 4)), 0), [[2, 3, 4]])
