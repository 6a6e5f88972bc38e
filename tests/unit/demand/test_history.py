from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.demand.history import (
    Facts,
    History,
    Occasion,
    censor,
    group_sums,
    open_share,
    week_index,
    weekly_use,
    weeks_until,
    without_pauses,
)

D = np.datetime64
WEEKS = weeks_until(D("2024-01-22"), 3)  # Mondays 1, 8, 15 January


def facts(*rows: tuple[int, str, float]) -> Facts:
    series, dates, quantity = zip(*rows, strict=True) if rows else ((), (), ())
    return Facts(
        series=np.array(series, dtype=np.intp),
        dates=np.array(dates, dtype="datetime64[D]"),
        quantity=np.array(quantity, dtype=np.float64),
    )


def test_weeks_end_the_day_before_as_of() -> None:
    assert WEEKS.astype(str).tolist() == ["2024-01-01", "2024-01-08", "2024-01-15"]


def test_week_index_counts_from_the_first_week() -> None:
    assert week_index(["2023-12-31", "2024-01-01", "2024-01-07", "2024-01-22"], WEEKS).tolist() == [-1, 0, 0, 3]


def test_uses_are_summed_by_week_and_series() -> None:
    found = weekly_use(
        facts(
            (0, "2024-01-01", 2), (0, "2024-01-07", 3), (1, "2024-01-01", 1), (1, "2024-01-16", 4), (0, "2024-03-01", 9)
        ),
        WEEKS,
        n_series=2,
    )
    np.testing.assert_array_equal(found, [[5, 0, 0], [1, 0, 4]])


def test_a_stream_begins_with_its_first_use() -> None:
    found = weekly_use(facts((0, "2024-01-09", 2)), WEEKS, n_series=2)
    np.testing.assert_array_equal(found, [[np.nan, 2, 0], [np.nan] * 3])


def test_a_stream_whose_first_use_is_older_than_the_weeks_is_idle_not_unknown() -> None:
    found = weekly_use(facts((0, "2023-06-01", 2)), WEEKS, n_series=1)
    np.testing.assert_array_equal(found, [[0, 0, 0]])


def test_a_stream_may_begin_on_a_stated_day() -> None:
    began = np.array(["2024-01-08", "NaT"], dtype="datetime64[D]")
    found = weekly_use(facts(), WEEKS, n_series=2, began=began)
    np.testing.assert_array_equal(found, [[np.nan, 0, 0], [np.nan] * 3])


def test_reversals_take_back_but_never_below_nothing() -> None:
    found = weekly_use(facts((0, "2024-01-01", 2), (0, "2024-01-02", -2), (0, "2024-01-09", -1)), WEEKS, n_series=1)
    np.testing.assert_array_equal(found, [[0, 0, 0]])


def test_facts_of_no_series_are_refused() -> None:
    with pytest.raises(ValueError, match="does not exist"):
        weekly_use(facts((2, "2024-01-01", 1)), WEEKS, n_series=2)


def test_facts_must_be_parallel() -> None:
    with pytest.raises(ValueError, match="equally long"):
        Facts(series=np.array([0]), dates=np.array([], dtype="datetime64[D]"), quantity=np.array([1.0]))


def test_open_share_counts_usual_open_days_only() -> None:
    closed = [
        "2024-01-02",
        "2024-01-06",
        "2024-01-07",
        "2024-01-08",
        "2024-01-09",
        "2024-01-10",
        "2024-01-11",
        "2024-01-12",
    ]
    np.testing.assert_allclose(open_share(WEEKS, closed, weekdays=(0, 1, 2, 3, 4)), [0.8, 0, 1])


def test_a_day_closed_twice_is_closed_once() -> None:
    np.testing.assert_allclose(open_share(WEEKS, ["2024-01-02"] * 2, weekdays=(0, 1)), [0.5, 1, 1])


def test_a_shop_that_never_opens_is_refused() -> None:
    with pytest.raises(ValueError, match="never opens"):
        open_share(WEEKS, [], weekdays=())


def test_short_weeks_are_unknown_unless_they_beat_the_usual() -> None:
    use = np.array([[4.0, 0, 4, 9]])
    short = np.array([[False, True, False, True]])
    np.testing.assert_array_equal(censor(use, short), [[4, np.nan, 4, 9]])


def test_sums_follow_the_labels_not_the_order() -> None:
    found = group_sums(np.array([[1.0, 2, 4, 8], [1, 1, 1, 1]]), np.array([1, 0, 1, 2]))
    np.testing.assert_array_equal(found, [[2, 5, 8], [1, 2, 1]])


def test_no_series_no_groups() -> None:
    assert group_sums(np.zeros((3, 0)), np.zeros(0, dtype=np.intp)).shape == (3, 0)


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


def test_months_are_columns_as_weeks_are() -> None:
    months = np.arange("2022-03", "2024-03", dtype="datetime64[M]").astype("datetime64[D]")
    past = History(use=np.ones((2, 24)), weeks=months)
    assert past.monthly
    assert past.season == 12
    ahead = past.weeks_ahead(3).astype("datetime64[M]").astype(str)
    assert ahead.tolist() == [["2024-03", "2024-04", "2024-05"]] * 2
    assert past.until(12).weeks_ahead(1).astype(str).tolist() == [["2023-03-01"]] * 2


def test_a_month_may_begin_late_and_days_of_a_month_are_its_first() -> None:
    months = np.array(["NaT", "2023-01-31", "2023-02-28", "2023-03-31"], dtype="datetime64[D]")
    past = History(use=np.array([[np.nan, 1, 2, 3]]), weeks=months)
    assert past.weeks[0].astype(str).tolist() == ["2022-12-01", "2023-01-01", "2023-02-01", "2023-03-01"]


def test_weeks_and_months_are_not_mixed() -> None:
    days = np.array(["2023-01-01", "2023-02-01", "2023-02-08"], dtype="datetime64[D]")
    with pytest.raises(ValueError, match="seven days apart, or all a month"):
        History(use=np.ones((1, 3)), weeks=days)


def busy(weeks: int = 130, series: int = 3) -> np.ndarray:
    drawn: np.ndarray = np.random.default_rng(3).poisson(6.0, (series, weeks)) + 1.0
    return drawn


def left_out(use: np.ndarray, **more: Any) -> np.ndarray:
    weeks = weeks_until(D("2024-01-22"), use.shape[1])
    out: np.ndarray = np.isnan(without_pauses(History(use=use, weeks=weeks, **more)).use) & ~np.isnan(use)
    return out


def test_idle_weeks_that_chance_rules_out_are_a_pause_once_they_are_over() -> None:
    use = busy()
    use[1, 60:85] = 0
    out = left_out(use)
    assert out[1, 60:85].all()
    assert out.sum() == 25
    assert not left_out(use[:, :84]).any(), "what has not begun again may never"


def test_what_is_often_idle_does_not_pause() -> None:
    use = np.where(np.arange(130) % 4 == 0, busy(), 0.0)
    use[:, 60:75] = 0
    assert not left_out(use).any()


def test_what_was_rare_before_it_grew_did_not_pause() -> None:
    use = busy()
    use[:, :60] = 0
    use[:, [3, 30]] = 1
    assert not left_out(use).any()


def test_what_is_slack_every_year_is_a_season() -> None:
    use = busy(156)
    for year in (20, 72, 124):
        use[0, year : year + 10] = 0
        use[1, year : year + 10] = 1
    use[1, 72:82] = 0
    use[2, 72:82] = 0
    out = left_out(use)
    assert not out[:2].any()
    assert out[2, 72:82].all()


def test_a_shop_that_stood_still_was_shut_for_its_rare_jobs_too() -> None:
    use = np.random.default_rng(4).poisson(0.3, (60, 130)).astype(float)
    use[:, 50:54] = 0
    out = left_out(use)
    assert out[:, 50:54].all()
    assert not out[:, :50].any()
    assert not out[:, 54:].any()


@given(seed=st.integers(0, 1000), weeks=st.integers(1, 60), gaps=st.integers(0, 3))
def test_a_pause_is_idle_weeks_between_others(seed: int, weeks: int, gaps: int) -> None:
    rng = np.random.default_rng(seed)
    use = rng.poisson(rng.gamma(1, 5, (4, 1)), (4, weeks)).astype(float)
    use[rng.random(use.shape) < 0.05] = np.nan
    for _ in range(gaps):
        start = int(rng.integers(0, weeks))
        use[rng.integers(0, 4), start : start + 12] = 0
    history = History(use=use, weeks=weeks_until(D("2024-01-22"), weeks))
    once = without_pauses(history)
    out = np.isnan(once.use) & ~np.isnan(use)
    assert (use[out] == 0).all()
    for row, column in zip(*np.nonzero(out), strict=True):
        assert np.nansum(use[:, :column]) > 0
        assert np.nansum(use[:, column:]) > 0
        assert not np.isnan(use[row, column])
