from dataclasses import replace

import numpy as np
import pytest

from stockroom.counting.lessons import (
    Intervals,
    LessonAdvice,
    Lessons,
    LineLesson,
    MaterialLesson,
    Outlier,
    OutlierKind,
    Span,
    Spreads,
)
from stockroom.counting.shelf_posterior import (
    Losses,
    ShelfPosterior,
    SinceCount,
    after_work,
    learn_losses,
    samples,
)

LINE = LineLesson(
    line="resole", recipe=30.0, use=Span(estimate=33, low=30, high=36), uses=40, verdict=LessonAdvice.KEEP
)
LESSON = MaterialLesson(
    material="CORK",
    lines=(LINE, replace(LINE, line="heel")),
    waste=Span(estimate=2, low=1, high=3),
    outliers=(),
    job_spread=0.2,
    ratio_mean=np.array([1.1, 0.9, 2.0]),
    ratio_covariance=np.diag([0.01, 0.04, 0.25]),
)
WORK = SinceCount(expected=np.array([300.0, 100.0]), times=np.array([10.0, 5.0]), received=500.0, weeks=4.0)


def test_work_moves_the_mean_by_learnt_use_and_widens() -> None:
    found = after_work(ShelfPosterior(mean=1000, variance=25), WORK, LESSON)
    assert found.mean == pytest.approx(1000 + 500 - 330 - 90 - 8)
    ratios = 300**2 * 0.01 + 100**2 * 0.04 + 4**2 * 0.25
    jobs = 0.2**2 * (300 * 30 + 100 * 20)
    assert found.variance == pytest.approx(25 + ratios + jobs)


def test_no_work_and_no_time_change_nothing() -> None:
    idle = SinceCount(expected=np.zeros(2), times=np.zeros(2), received=0.0, weeks=0.0)
    assert after_work(ShelfPosterior(mean=10, variance=4), idle, LESSON) == ShelfPosterior(mean=10, variance=4)


def test_time_alone_makes_losses_likelier() -> None:
    idle = SinceCount(expected=np.zeros(2), times=np.zeros(2), received=0.0, weeks=10.0)
    calm = after_work(ShelfPosterior(mean=100, variance=4), idle, LESSON)
    risky = after_work(ShelfPosterior(mean=100, variance=4), idle, LESSON, Losses(shape=2.0, weeks=100.0, size=50.0))
    assert calm.mean - risky.mean == pytest.approx(50 * 0.2)
    assert risky.variance - calm.variance == pytest.approx(50**2 * (0.2 + 0.2 * 10 / 100))


def test_drawn_shelves_are_never_below_zero_and_repeat() -> None:
    posterior = ShelfPosterior(mean=1.0, variance=4.0)
    first, second = (samples(posterior, np.random.default_rng(2), 1000) for _ in range(2))
    assert first.min() == 0
    assert (first == second).all()


def test_losses_are_learnt_from_all_materials() -> None:
    once = Intervals(
        material="CORK", lines=("resole",), recipe=np.array([30.0]), expected=np.full((5, 1), 60.0),
        times=np.full((5, 1), 2.0), observed=np.full(5, 60.0), weeks=np.full(5, 2.0), count_variance=np.zeros(6),
    )  # fmt: skip
    lost = replace(
        LESSON,
        outliers=(
            Outlier(kind=OutlierKind.SUDDEN, index=1, amount=300, chance=0.9),
            Outlier(kind=OutlierKind.SUDDEN, index=2, amount=-40, chance=0.9),
            Outlier(kind=OutlierKind.MISCOUNT, index=3, amount=500, chance=0.9),
        ),
    )
    lessons = Lessons(materials=(lost, LESSON), spreads=Spreads())
    found = learn_losses([once, once], lessons, Losses(shape=1, weeks=80, size=4))
    assert (found.shape, found.weeks, found.rate) == (2, 100, 0.02)
    assert found.size == (4 + 10) / 2  # ten weeks' use at 30 a week, and what was usual
    assert found.sized(30).size == 210


def test_nonsense_is_a_fault() -> None:
    with pytest.raises(ValueError, match="variance of at least zero"):
        ShelfPosterior(mean=1, variance=-1)
    with pytest.raises(ValueError, match="finite"):
        ShelfPosterior(mean=float("nan"), variance=1)
    with pytest.raises(ValueError, match="same recipe lines"):
        after_work(ShelfPosterior(mean=1, variance=1), replace(WORK, expected=np.zeros(1)), LESSON)


def test_pieces_lie_there_whole() -> None:
    """Two, believed nearly for certain, were too few for a job that takes two in half of all futures."""
    belief = ShelfPosterior(mean=2.0, variance=0.1**2)
    assert set(samples(belief, np.random.default_rng(1), 500, pieces=True)) == {2.0}
    assert (samples(belief, np.random.default_rng(1), 500) < 2).mean() > 0.4
