"""What stands behind a row of the run-outs, in words."""

from dataclasses import replace
from datetime import date, datetime

import pytest

from stockroom.counting.shelf_posterior import ShelfPosterior
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.outlook.run_outs import why
from stockroom.show.formats import formats_of
from stockroom.stock.orders import Order, OrderLine
from stockroom.store.book import Book
from tests import build

NOW = datetime(2026, 10, 3, 18)


@pytest.fixture
def facts(file_shop: Book) -> BookSnapshot:
    with file_shop.reading() as session:
        return book_snapshot(session, NOW)


def _why(facts: BookSnapshot, spread: float = 0.0, weekly_use: float = 10.0) -> str:
    bend = facts.shelf.materials["BEND"]
    believed = ShelfPosterior(mean=180.0, variance=spread**2)
    return why(facts, bend, formats_of(facts.shop), believed=believed, weekly_use=weekly_use)


def test_figures_that_speak_for_themselves_need_no_words(facts: BookSnapshot) -> None:
    assert _why(replace(facts, last_counted={"BEND": datetime(2026, 9, 20, 18)}), spread=100.0) == ""
    assert _why(facts, spread=5.0) == ""


def test_a_shelf_long_uncounted_says_by_how_much_it_could_be_out(facts: BookSnapshot) -> None:
    long_ago = replace(facts, last_counted={"BEND": datetime(2025, 12, 20, 18)})
    assert _why(long_ago, spread=50.0) == "Not counted for 41 weeks: could be out by 82 dm2"
    assert _why(facts, spread=50.0) == "Never counted: could be out by 82 dm2"


def test_a_shelf_below_zero_and_an_order_overdue_are_named_first(facts: BookSnapshot) -> None:
    line = OrderLine(material="BEND", supplier_code="T-BEND", packs=1, pack=build.amount("190 dm2"), cost=9000)
    order = Order(
        number="PO-7", supplier="TAN", placed=datetime(2026, 9, 1, 9), lines=(line,), expected=date(2026, 10, 1)
    )
    late = replace(facts, orders=(order,), on_hand={"BEND": build.nano("-2 dm2")})
    said = "The book is below zero: enter the missing delivery, or count. Waits for order PO-7, 2 days late"
    assert _why(late) == said
    due = replace(facts, orders=(replace(order, expected=date(2026, 10, 5)),))
    assert _why(due) == "Waits for order PO-7"
