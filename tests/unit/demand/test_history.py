from typing import Any

import numpy as np
import pytest

from stockroom.demand.history import History, Occasion

MONDAY = np.datetime64("2024-01-01")


def weeks(n: int) -> np.ndarray:
    return MONDAY + np.timedelta64(7, "D") * np.arange(n)


def make(**changes: Any) -> History:
    facts: dict[str, Any] = {"use": np.ones((2, 4)), "weeks": weeks(4)}
    return History(**(facts | changes))


def test_plain_history_is_one_family_of_numbered_series() -> None:
    history = make()
    assert (history.n_series, history.n_weeks) == (2, 4)
    assert history.groups == ("all", "all")
    assert history.names == ("0", "1")
    np.testing.assert_array_equal(history.family_of(), [0, 0])


def test_a_closed_week_is_unknown_not_idle() -> None:
    history = make(use=np.zeros((2, 4)), open_share=[1, 0, 0.5, 1])
    assert np.isnan(history.use[:, 1]).all()
    assert (history.use[:, [0, 2, 3]] == 0).all()


def test_rate_is_use_per_full_open_week() -> None:
    history = make(open_share=[1, 0, 0.5, 1])
    np.testing.assert_array_equal(history.rate[0], [1, np.nan, 2, 1])


def test_weeks_ahead_follow_the_last() -> None:
    assert make().weeks_ahead(2)[1].tolist() == weeks(6)[4:].tolist()


def test_open_weeks_ahead_are_full_beyond_what_is_known() -> None:
    np.testing.assert_array_equal(make(future_open=[0.0, 0.5]).open_ahead(3)[0], [0, 0.5, 1])


def test_series_of_one_group_but_other_calendars_are_different_families() -> None:
    both = np.stack([weeks(4), weeks(4) - np.timedelta64(364, "D")])
    history = make(weeks=both)
    assert len(set(history.family_of())) == 2
    assert len(set(history.house_of())) == 2


def test_dates_before_a_series_began_may_be_missing() -> None:
    dates = np.stack([weeks(4), weeks(4)])
    dates[1, :2] = np.datetime64("NaT")
    np.testing.assert_array_equal(make(weeks=dates).weeks[1], weeks(4))


def test_an_earlier_view_keeps_later_closures_but_no_later_use() -> None:
    history = make(open_share=[1, 1, 0, 1], future_open=[0.5], occasions=(Occasion(name="x", dates=(MONDAY,)),))
    earlier = history.until(2)
    assert earlier.n_weeks == 2
    assert earlier.occasions == history.occasions
    np.testing.assert_array_equal(earlier.open_ahead(4)[0], [0, 1, 0.5, 1])


def test_history_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        make().use[0, 0] = 5


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"use": np.ones(4)}, "n_series, n_weeks"),
        ({"use": np.array([[1.0, -1, 0, 0]] * 2)}, "not negative"),
        ({"use": np.array([[1.0, np.inf, 0, 0]] * 2)}, "finite"),
        ({"weeks": weeks(5)}, "do not fit"),
        ({"weeks": weeks(8)[::2]}, "seven days apart"),
        ({"weeks": np.array([MONDAY] + [np.datetime64("NaT")] * 3)}, "last week"),
        ({"open_share": [1, 1, 1]}, "open_share"),
        ({"open_share": [1, 1, 1, -1]}, "not negative"),
        ({"future_open": [np.nan]}, "future_open"),
        ({"groups": ("a",)}, "1 groups for 2 series"),
        ({"names": ("a", "b", "c")}, "3 names for 2 series"),
    ],
)
def test_ill_shaped_history_is_refused(changes: dict[str, Any], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        make(**changes)


def test_a_history_without_weeks_looks_nowhere() -> None:
    empty = History(use=np.zeros((2, 0)), weeks=weeks(0))
    with pytest.raises(ValueError, match="no coming weeks"):
        empty.weeks_ahead(1)
    assert len(empty.family_of()) == 2
