from collections.abc import Sequence
from datetime import datetime, timedelta

import numpy as np
import pytest

from stockroom.counting.observations import Counted, OtherMove, Uses, chance_variance, gather

MONDAY = datetime(2031, 3, 3, 18)
DAY = timedelta(days=1)
RECIPE = {"resole": 30.0, "heel": 10.0}


def uses(*each: tuple[datetime, str, float], times: Sequence[int] = (), variance: Sequence[float] = ()) -> Uses:
    lines = list(RECIPE)
    return Uses(
        at=np.array([at for at, _, _ in each], "datetime64[us]"),
        line=np.array([lines.index(line) for _, line, _ in each], np.intp),
        amount=np.array([amount for _, _, amount in each], float),
        times=np.array(times or [1] * len(each), float),
        variance=np.array(variance or [0] * len(each), float),
    )


def test_events_fall_between_their_counts() -> None:
    found = gather(
        "CORK",
        RECIPE,
        counts=[
            Counted(at=MONDAY + 14 * DAY, amount=700, error=3),
            Counted(at=MONDAY, amount=1000, error=2),
            Counted(at=MONDAY + 7 * DAY, amount=900, error=4),
        ],
        uses=uses(
            (MONDAY - DAY, "resole", 30),
            (MONDAY + 8 * DAY, "heel", 9),
            (MONDAY + DAY, "resole", 33),
            (MONDAY + 2 * DAY, "resole", 27),
            (MONDAY + 7 * DAY, "heel", 12),  # at the count's own moment: before it
            (MONDAY + 20 * DAY, "heel", 9),
        ),
        moves=[OtherMove(at=MONDAY + 9 * DAY, amount=500), OtherMove(at=MONDAY + 10 * DAY, amount=-50)],
    )
    assert found.lines == ("resole", "heel")
    assert found.expected.tolist() == [[60, 12], [0, 9]]
    assert found.times.tolist() == [[2, 1], [0, 1]]
    assert found.observed.tolist() == [100, 650]
    assert found.weeks.tolist() == [1, 1]
    assert found.count_variance.tolist() == [4, 16, 9]


def test_a_job_undone_leaves_nothing() -> None:
    counts = [Counted(at=MONDAY, amount=10), Counted(at=MONDAY + DAY, amount=10)]
    noon = MONDAY + DAY / 2
    done = [(noon, "heel", amount) for amount in (0.1, 0.2, -0.1, -0.2)]
    found = gather("CORK", RECIPE, counts=counts, uses=uses(*done, times=[1, 1, -1, -1]))
    assert not found.expected.any()
    assert not found.times.any()


def test_of_two_counts_at_one_moment_the_later_given_holds() -> None:
    counts = [Counted(at=MONDAY, amount=10), Counted(at=MONDAY, amount=12), Counted(at=MONDAY + DAY, amount=9)]
    assert gather("CORK", RECIPE, counts=counts).observed.tolist() == [3]


@pytest.mark.parametrize("counts", [[], [Counted(at=MONDAY, amount=10)]])
def test_fewer_than_two_counts_make_no_interval(counts: list[Counted]) -> None:
    found = gather("CORK", RECIPE, counts=counts, uses=uses((MONDAY, "heel", 1)))
    assert found.observed.shape == (0,)
    assert found.expected.shape == (0, 2)
    assert np.array_equal(found.count_variance, [0])


def test_an_unknown_line_is_a_fault() -> None:
    with pytest.raises(ValueError, match="CORK has 1 recipe lines, and a use of another"):
        gather("CORK", {"resole": 30.0}, counts=[], uses=uses((MONDAY, "heel", 1)))


def test_a_line_used_on_one_job_in_four_brings_its_own_variance() -> None:
    # A pair of shanks on a quarter of the jobs: half a piece booked each time, 1/4 x 3/4 x 2^2 in truth.
    assert chance_variance(np.array([0.5, 2.0]), np.array([0.25, 1.0])) == pytest.approx([0.75, 0])
    with pytest.raises(ValueError, match="share of jobs"):
        chance_variance(np.ones(2), np.array([1.0, 0.0]))


def test_known_variance_is_summed_by_interval_and_goes_with_a_job_undone() -> None:
    counts = [Counted(at=MONDAY + n * 7 * DAY, amount=10) for n in range(3)]
    job, undone = (MONDAY + DAY, "heel", 0.5), (MONDAY + 8 * DAY, "heel", 0.5)
    back = (MONDAY + 8 * DAY, "heel", -0.5)
    done = uses(job, undone, back, times=[1, 1, -1], variance=[0.75, 0.75, -0.75])
    lost = OtherMove(at=MONDAY + 2 * DAY, amount=-4, error=3)
    found = gather("CORK", RECIPE, counts=counts, uses=done, moves=[lost])
    assert found.known_variance is not None
    assert found.known_variance.tolist() == [0.75 + 9, 0]
    assert found.observed.tolist() == [-4, 0]


def test_uses_since_a_moment_are_summed_by_line() -> None:
    some = uses((MONDAY, "heel", 5), (MONDAY + DAY, "heel", 10), (MONDAY + 2 * DAY, "heel", 12)).since(MONDAY)
    amounts, times = some.by_line(2)
    assert amounts.tolist() == [0, 22]
    assert times.tolist() == [0, 2]
