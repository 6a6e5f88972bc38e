"""When an order starts with a supplier: a holiday puts it off by a day, and no order of yesterday stands in its way."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest

from stockroom.buying.problem import SupplierTerms
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.outlook.delivery_days import delivery_days
from stockroom.flows.outlook.futures import futures
from stockroom.flows.outlook.problem import question
from stockroom.stock.calendar import Closure
from stockroom.stock.orders import Order
from stockroom.store.book import Book

HOLIDAY = date(2026, 5, 4)  # a Monday
TUESDAY = datetime(2026, 5, 5, 9)
MONDAYS = frozenset({0})


@pytest.fixture
def facts(file_shop: Book) -> BookSnapshot:
    """The tiny shop, whose suppliers take orders on Mondays."""
    with file_shop.reading() as session:
        read = book_snapshot(session, TUESDAY)
    mondays = tuple(replace(each, order_weekdays=MONDAYS, cut_off=None) for each in read.suppliers)
    return replace(read, suppliers=mondays)


def _first(facts: BookSnapshot, moment: datetime, orders: tuple[Order, ...] = ()) -> SupplierTerms:
    then, rng = replace(facts, moment=moment, orders=orders), np.random.default_rng(1)
    return question(then, futures(then, rng, weeks=6, n_paths=20), rng).problem.suppliers[0]


def _ordered(facts: BookSnapshot, moment: datetime) -> tuple[Order, ...]:
    return (Order(number="PO-1", supplier=facts.suppliers[0].code, placed=moment, lines=()),)


@pytest.mark.parametrize("who", ["shop", "supplier"])
def test_what_a_holiday_kept_back_is_ordered_the_day_after_and_not_in_a_week(facts: BookSnapshot, who: str) -> None:
    shut = Closure(first=HOLIDAY, last=HOLIDAY, who="" if who == "shop" else facts.suppliers[0].code)
    usual, after = (_first(replace(facts, closures=each), TUESDAY) for each in ((), (shut,)))
    assert usual.order_days[:2] == (6.0, 13.0)
    assert after.order_days[:3] == (0.0, 6.0, 13.0)
    assert np.median(usual.leads - after.leads) == pytest.approx(6.0)


def test_the_day_after_no_second_order_of_the_day_is_in_the_way(facts: BookSnapshot) -> None:
    shut = (Closure(first=HOLIDAY, last=HOLIDAY, who=""),)
    there = replace(facts, closures=shut)
    placed = _ordered(there, TUESDAY)
    assert _first(there, TUESDAY + timedelta(hours=8), placed).ordered_now
    assert not _first(there, TUESDAY + timedelta(days=1), placed).ordered_now
    assert _first(there, TUESDAY + timedelta(days=1), _ordered(there, TUESDAY + timedelta(days=1))).ordered_now


@pytest.mark.parametrize("shut", [(), (date(2026, 5, 12), date(2026, 5, 14))], ids=["open", "a closure ahead"])
def test_an_order_of_a_later_day_waits_for_that_day_only(facts: BookSnapshot, shut: tuple[date, ...]) -> None:
    supplier = facts.suppliers[0]
    there = replace(facts, closures=tuple(Closure(first=shut[0], last=shut[1], who=supplier.code) for _ in shut[:1]))
    belief = delivery_days(supplier, (), (), there.closures, TUESDAY.date())
    said = _first(there, TUESDAY)
    days = np.array(said.order_days[:4])
    assert days[0] == 6.0
    placed = [TUESDAY.date() + timedelta(days=int(day)) for day in days]
    alone = [float(belief.arrivals(day, TUESDAY.date(), np.array([0.5]))[0]) for day in placed]
    comes = np.concatenate([[0.0], days[1:]]) + np.median(said.leads) + said.delay(days)
    assert comes == pytest.approx(alone, abs=1.0)
