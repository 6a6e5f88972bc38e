import numpy as np
import pytest

from stockroom.demand.gather import Facts, censor, open_share, week_index, weekly_use, weeks_until

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
