from datetime import datetime, timedelta

import numpy as np
import pytest

from stockroom.counting.gather import Counted, Moved, Used, chance_variance, gather

MONDAY = datetime(2031, 3, 3, 18)
DAY = timedelta(days=1)
RECIPE = {"resole": 30.0, "heel": 10.0}


def test_events_fall_between_their_counts() -> None:
    found = gather(
        "CORK",
        RECIPE,
        counts=[
            Counted(at=MONDAY + 14 * DAY, amount=700, error=3),
            Counted(at=MONDAY, amount=1000, error=2),
            Counted(at=MONDAY + 7 * DAY, amount=900, error=4),
        ],
        uses=[
            Used(at=MONDAY - DAY, line="resole", amount=30),
            Used(at=MONDAY + DAY, line="resole", amount=33),
            Used(at=MONDAY + 2 * DAY, line="resole", amount=27),
            Used(at=MONDAY + 7 * DAY, line="heel", amount=12),  # at the count's own moment: before it
            Used(at=MONDAY + 8 * DAY, line="heel", amount=9),
            Used(at=MONDAY + 20 * DAY, line="heel", amount=9),
        ],
        moves=[Moved(at=MONDAY + 9 * DAY, amount=500), Moved(at=MONDAY + 10 * DAY, amount=-50)],
    )
    assert found.lines == ("resole", "heel")
    assert found.expected.tolist() == [[60, 12], [0, 9]]
    assert found.times.tolist() == [[2, 1], [0, 1]]
    assert found.observed.tolist() == [100, 650]
    assert found.weeks.tolist() == [1, 1]
    assert found.count_variance.tolist() == [4, 16, 9]


def test_a_job_undone_leaves_nothing() -> None:
    counts = [Counted(at=MONDAY, amount=10), Counted(at=MONDAY + DAY, amount=10)]
    uses = [
        Used(at=MONDAY + DAY / 2, line="heel", amount=0.1),
        Used(at=MONDAY + DAY / 2, line="heel", amount=0.2),
        Used(at=MONDAY + DAY / 2, line="heel", amount=-0.1, times=-1),
        Used(at=MONDAY + DAY / 2, line="heel", amount=-0.2, times=-1),
    ]
    found = gather("CORK", RECIPE, counts=counts, uses=uses)
    assert not found.expected.any()
    assert not found.times.any()


def test_of_two_counts_at_one_moment_the_later_given_holds() -> None:
    counts = [Counted(at=MONDAY, amount=10), Counted(at=MONDAY, amount=12), Counted(at=MONDAY + DAY, amount=9)]
    assert gather("CORK", RECIPE, counts=counts).observed.tolist() == [3]


@pytest.mark.parametrize("counts", [[], [Counted(at=MONDAY, amount=10)]])
def test_fewer_than_two_counts_make_no_interval(counts: list[Counted]) -> None:
    found = gather("CORK", RECIPE, counts=counts, uses=[Used(at=MONDAY, line="heel", amount=1)])
    assert found.observed.shape == (0,)
    assert found.expected.shape == (0, 2)
    assert np.array_equal(found.count_variance, [0])


def test_an_unknown_line_is_a_fault() -> None:
    with pytest.raises(ValueError, match="CORK has no recipe line 'welt'"):
        gather("CORK", RECIPE, counts=[], uses=[Used(at=MONDAY, line="welt", amount=1)])


def test_a_line_used_on_one_job_in_four_brings_its_own_variance() -> None:
    # A pair of shanks on a quarter of the jobs: half a piece booked each time, 1/4 x 3/4 x 2^2 in truth.
    assert chance_variance(0.5, 0.25) == pytest.approx(0.75)
    assert chance_variance(2.0, 1.0) == 0
    with pytest.raises(ValueError, match="share of jobs"):
        chance_variance(1.0, 0.0)


def test_known_variance_is_summed_by_interval_and_goes_with_a_job_undone() -> None:
    counts = [Counted(at=MONDAY + n * 7 * DAY, amount=10) for n in range(3)]
    job = Used(at=MONDAY + DAY, line="heel", amount=0.5, variance=0.75)
    undone = Used(at=MONDAY + 8 * DAY, line="heel", amount=0.5, variance=0.75)
    back = Used(at=MONDAY + 8 * DAY, line="heel", amount=-0.5, times=-1, variance=-0.75)
    lost = Moved(at=MONDAY + 2 * DAY, amount=-4, error=3)
    found = gather("CORK", RECIPE, counts=counts, uses=[job, undone, back], moves=[lost])
    assert found.known_variance is not None
    assert found.known_variance.tolist() == [0.75 + 9, 0]
    assert found.observed.tolist() == [-4, 0]
