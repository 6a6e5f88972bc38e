"""Days on which nothing of a thing for sale was left."""

from datetime import date, datetime, timedelta

import numpy as np

from stockroom.flows.outlook.stockouts import find_stockouts, short_weeks, stockouts
from stockroom.flows.posting.post import post_one
from stockroom.stock.calendar import Closure, OpenDays
from stockroom.store.book import Book
from tests import build

DAY = date(2026, 3, 2)  # a Monday
OPEN = OpenDays(weekdays=frozenset(range(5)))


def _day(n: int) -> date:
    return DAY + timedelta(days=n)


def test_a_spell_lasts_from_the_last_piece_to_the_day_before_the_next_delivery() -> None:
    daily = [(_day(0), 5), (_day(3), -5), (_day(8), 12)]
    assert stockouts(daily, _day(20)) == [(_day(3), _day(7))]


def test_a_spell_still_under_way_lasts_until_today() -> None:
    assert stockouts([(_day(0), 5), (_day(3), -5)], _day(9)) == [(_day(3), _day(9))]


def test_work_entered_before_its_goods_is_one_spell_however_often_it_is_sold() -> None:
    daily = [(_day(0), 2), (_day(1), -2), (_day(2), -1), (_day(4), -1), (_day(6), 10)]
    assert stockouts(daily, _day(9)) == [(_day(1), _day(5))]


def test_what_happened_later_is_not_known() -> None:
    assert stockouts([(_day(0), 5), (_day(3), -5), (_day(8), 12)], _day(4)) == [(_day(3), _day(4))]


def test_nothing_is_known_of_the_time_before_the_first_move() -> None:
    assert stockouts([(_day(5), 5)], _day(9)) == []


def test_only_weeks_with_an_open_day_without_stock_are_short() -> None:
    weeks = np.array([DAY, _day(7), _day(14)], dtype="datetime64[D]")
    weekend_and_monday = {"LACE": [(_day(5), _day(7))]}
    assert short_weeks(weekend_and_monday, ["LACE", "WAX"], weeks, OPEN).tolist() == [[False, True, False], [False] * 3]
    shut = OpenDays(weekdays=OPEN.weekdays, closures=(Closure(first=_day(7), last=_day(7)),))
    assert not short_weeks(weekend_and_monday, ["LACE"], weeks, shut).any()


def test_a_spell_that_began_before_the_weeks_looked_at_counts_from_their_first_day() -> None:
    weeks = np.array([_day(7), _day(14)], dtype="datetime64[D]")
    assert short_weeks({"LACE": [(_day(0), _day(8))]}, ["LACE"], weeks, OPEN).tolist() == [[True, False]]


def test_spells_are_read_from_the_ledger(open_shop: Book) -> None:
    with open_shop.writing() as session:
        post_one(session, build.document(build.move("POLISH", "-18 piece", "2026-01-10"), happened="2026-01-10"))
    with open_shop.reading() as session:
        found = find_stockouts(session, {"POLISH", "TIP"}, datetime(2026, 1, 12, 18))
    assert found == {"POLISH": [(date(2026, 1, 10), date(2026, 1, 12))], "TIP": []}
