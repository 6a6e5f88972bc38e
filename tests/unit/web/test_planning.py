"""The year ahead, and stock against delays, at the pages."""

from dataclasses import replace

import pytest

from stockroom.flows.bench.tickets import Wanted, take_in
from stockroom.flows.book.opening import settings
from stockroom.flows.ordering import plan
from stockroom.show.charts.ahead import frontier
from stockroom.show.charts.facts import CautionPicture
from stockroom.store.book import Book
from stockroom.web.background import Beside
from tests import build
from tests.unit.web.conftest import Visitor


@pytest.fixture
def worker() -> Beside:
    return Beside(threaded=False)


def test_the_year_is_shown_with_its_chart(owner: Visitor) -> None:
    page = owner.reads("/year-ahead")
    assert "Goods and carriage by the month they come in" in page
    assert "By supplier, over the whole time" in page
    assert page.count('class="bar-cell"') == page.count('class="reach"') == 13  # what is left of this month, and twelve


def test_the_dial_shows_where_the_shop_stands_and_takes_what_the_owner_knows(owner: Visitor, open_shop: Book) -> None:
    page = owner.reads("/stock-or-delays")
    assert "you are here" in page
    assert 'aria-label="Delayed jobs a year"' in page
    assert owner.post("/stock-or-delays", leave="2", worth="80").status_code == 303
    assert settings(open_shop).held_up_job_cost == 16
    assert owner.post("/stock-or-delays", times="0.5").status_code == 303
    assert settings(open_shop).held_up_job_cost == 8


def test_the_curve_has_no_point_that_another_one_beats() -> None:
    seen = CautionPicture(paid=(10.0, 30.0, 20.0, 40.0, 25.0), delayed=(900.0, 2.0, 8.0, 2.5, 8.0), own=3)
    assert frontier(seen) == [(20.0, 8.0), (30.0, 2.0)]
    assert frontier(replace(seen, own=0)) == [(10.0, 900.0), (20.0, 8.0), (30.0, 2.0)]


@pytest.mark.parametrize("times", ["0", "-1", "1e9", "nan", "x"])
def test_no_other_step_is_taken(owner: Visitor, open_shop: Book, times: str) -> None:
    before = settings(open_shop).held_up_job_cost
    assert owner.post("/stock-or-delays", times=times).status_code != 303
    assert settings(open_shop).held_up_job_cost == before


@pytest.mark.parametrize("little", [False, True])
def test_today_says_of_an_order_what_the_desk_says(
    owner: Visitor, open_shop: Book, monkeypatch: pytest.MonkeyPatch, *, little: bool
) -> None:
    """More heels than there are tips: an order, urgent or (were all of them small) one that can wait."""
    for n in range(90):
        take_in(open_shop, Wanted(job="HEELS", chosen={"hold": "glued"}), build.stamp("2026-01-06 09:00", f"heel {n}"))
    if little:
        monkeypatch.setattr(plan, "LITTLE", 1000.0)
    desk, today = owner.reads("/orders/desk"), owner.reads("/")
    assert "North findings" in desk
    assert "North findings" in today
    assert "Nothing urgent to order." not in today or little
    assert ("they can wait" in desk) is ("can wait" in today) is little
