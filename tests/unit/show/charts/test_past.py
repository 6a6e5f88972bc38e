"""Pictures of what has been."""

from dataclasses import replace
from datetime import date, timedelta
from io import BytesIO

import pytest
from matplotlib.image import imread

from stockroom.show.charts.facts import BacktestPicture, CountAccuracy, PolicyYear
from stockroom.show.charts.past import accuracy_chart, accuracy_words, backtest_chart, backtest_words
from stockroom.show.formats import Formats

IRISH = Formats()
DAY = date(2026, 1, 7)
COUNTS = [CountAccuracy(day=DAY + timedelta(weeks=n), bins=8, within=4 + n) for n in range(4)]
WEEKS = tuple(DAY + timedelta(weeks=n) for n in range(3))
OURS = PolicyYear(name="stockroom", stock_value=(900.0, 1000.0, 1101.0), held_up=(0, 1, 0), ours=True)
PLAIN = PolicyYear(name="a fortnight's cover", stock_value=(500.0, 600.0, 700.0), held_up=(2, 0, 1))
YEAR = BacktestPicture(weeks=WEEKS, policies=(OURS, PLAIN))


def opens(content: bytes) -> bool:
    return bool(imread(BytesIO(content), format="png").shape[0] > 300)


def test_accuracy_compares_the_last_count_with_the_first_half() -> None:
    assert accuracy_words(COUNTS, IRISH) == (
        "On 28 Jan 2026, 7 of 8 items were within tolerance. In the first half of the counts it was 56%."
    )
    assert opens(accuracy_chart(COUNTS, IRISH))


def test_accuracy_of_one_count_and_of_none() -> None:
    assert accuracy_words(COUNTS[:1], IRISH) == "On 7 Jan 2026, 4 of 8 items were within tolerance."
    assert accuracy_words([], IRISH) == "Nothing has been counted yet."
    assert opens(accuracy_chart(COUNTS[:1], IRISH))
    assert opens(accuracy_chart([], IRISH))


def test_count_of_no_bins_is_not_a_division_by_zero() -> None:
    assert replace(COUNTS[0], bins=0, within=0).share == 0.0


def test_back_test_gives_each_way_its_verdict() -> None:
    assert backtest_words(YEAR, IRISH) == (
        "3 weeks back-tested. stockroom: 1 job delayed, €1,000 of stock on average. "
        "a fortnight's cover: 3 jobs delayed, €600 of stock on average."
    )
    assert opens(backtest_chart(YEAR, IRISH))


def test_every_way_must_cover_the_weeks() -> None:
    with pytest.raises(ValueError, match="stockroom: one stock value and one count of delayed jobs for each week"):
        BacktestPicture(weeks=WEEKS[1:], policies=(OURS,))


def test_back_test_of_many_ways_still_draws() -> None:
    many = tuple(replace(PLAIN, name=f"way {n}") for n in range(6))
    assert opens(backtest_chart(BacktestPicture(weeks=WEEKS, policies=many), IRISH))
