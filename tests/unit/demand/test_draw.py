import numpy as np
import pytest

from stockroom.demand.draw import draw_counts
from stockroom.demand.spread import Spread

N = 20_000
ONE_FAMILY = (np.zeros(2, dtype=np.intp), np.zeros(2, dtype=np.intp))


def draw(short: float, long: float, shared: float = 0.0, horizon: int = 8, level: float = 5.0) -> np.ndarray:
    spread = Spread(
        short=np.full(2, short), long=np.full(2, long), shared=np.full(2, shared), housed=np.full(2, shared / 2)
    )
    return draw_counts(np.full((2, horizon), level), spread, groups=ONE_FAMILY, rng=np.random.default_rng(7), n_paths=N)


def relative(sums: np.ndarray) -> float:
    return float((sums.var() - sums.mean()) / sums.mean() ** 2)


@pytest.mark.parametrize(("short", "long"), [(0.3, 0.1), (0.12, 0.1), (0.0, 0.0), (1.5, 0.5)])
def test_sums_over_both_spans_have_the_spread_asked_for(short: float, long: float) -> None:
    counts = draw(short, long)[:, 0]
    assert counts.sum(axis=1).mean() == pytest.approx(40, rel=0.02)
    assert relative(counts.sum(axis=1)) == pytest.approx(long, abs=0.03)
    assert relative(counts[:, :3].sum(axis=1)) == pytest.approx(max(short, long), abs=0.06)


def test_horizons_need_not_be_whole_blocks() -> None:
    assert draw(0.2, 0.1, horizon=3).shape == (N, 2, 3)
    assert draw(0.2, 0.1, horizon=11).shape == (N, 2, 11)


def test_long_futures_do_not_average_out_what_is_unsure_about_the_level() -> None:
    assert relative(draw(0.2, 0.1, horizon=24)[:, 0].sum(axis=1)) == pytest.approx(0.1, abs=0.02)


def test_a_family_moves_together_as_much_as_was_measured() -> None:
    alone, together = draw(0.2, 0.2, 0.0), draw(0.2, 0.2, 0.15)
    assert abs(np.corrcoef(*alone.sum(axis=2).T)[0, 1]) < 0.03
    assert np.corrcoef(*together.sum(axis=2).T)[0, 1] > 0.5


def test_weeks_closed_stay_empty() -> None:
    mean = np.array([[0.0, 5, 5, 0, 5, 5, 5, 5], [0.0] * 8])
    spread = Spread(short=np.full(2, 0.2), long=np.full(2, 0.1), shared=np.zeros(2), housed=np.zeros(2))
    counts = draw_counts(mean, spread, groups=ONE_FAMILY, rng=np.random.default_rng(1), n_paths=500)
    assert counts[:, 0, [0, 3]].sum() == 0
    assert counts[:, 1].sum() == 0
    assert counts[:, 0].sum(axis=1).mean() == pytest.approx(30, rel=0.05)
