"""The back-test at the pages: started by hand, kept against the book's state, shown in figures, words and a picture."""

from datetime import date, datetime
from typing import Any

import pytest
from flask import Flask

from stockroom.buying.scenario import Outcome
from stockroom.errors import RefusedError
from stockroom.flows.backtest import run
from stockroom.flows.backtest.run import Backtest, PolicyResult, Real
from stockroom.flows.book.opening import change_settings
from stockroom.phrases import phrase
from stockroom.web.background import Beside
from stockroom.web.site import Site
from tests.unit.web.conftest import Visitor, refused, visitor

WEEKS = (date(2025, 12, 8), date(2025, 12, 15), date(2025, 12, 22), date(2025, 12, 29))


@pytest.fixture
def worker() -> Beside:
    return Beside(threaded=False)


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Replays are made up here; gives the weeks each was asked for."""
    made: list[int] = []

    def replay(_book: object, _moment: datetime, *, weeks: int, **_how: Any) -> Backtest:
        made.append(weeks)
        return PLAYED

    monkeypatch.setattr(run, "backtest_weeks", replay)
    return made


def way(name: str, carriage: float, *held: int, ours: bool = False) -> PolicyResult:
    outcome = Outcome(
        days=28, tickets=40, held_up=sum(held), held_days=2.0, held_cost=0.0, lost_margin=0.0, stock_value=700.0,
        carriage=carriage, orders=3, expired=0.0, holding_rate=0.2,
    )  # fmt: skip
    return PolicyResult(name=name, outcome=outcome, held_up=held, stock_value=(700.0,) * 4, ours=ours)


PLAYED = Backtest(
    weeks=WEEKS,
    ways=(
        way(phrase("Stockroom"), 28.0, 0, 0, 1, 0, ours=True),
        way(phrase("A fortnight's cover"), 56.0, 1, 1, 1, 1),
        way(phrase("Order-up-to rule"), 84.0, 0, 2, 0, 0),
    ),
    real=Real(late=(1, 0, 0, 2), stock_value=(650.0,) * 4, mean_value=650.0, carriage=45.0, deliveries=4),
)


def test_opening_the_page_starts_nothing(owner: Visitor, asked: list[int]) -> None:
    page = owner.reads("/back-test")
    assert 'min="4" max="52" step="1" value="12"' in page
    assert asked == []
    assert owner.get("/back-test/state").json == {"running": False}


def test_a_back_test_is_shown_in_words_figures_and_a_picture(owner: Visitor, asked: list[int]) -> None:
    page = owner.does("/back-test", weeks="4")
    assert asked == [4]
    assert "from the book as it stands" in page
    assert "4 weeks back-tested, ordering with only what was known then." in page
    # By hand: a year is 365 / 28 times these days, so carriage of 28 is 365 a year, holding 0.2 x 700 = 140.
    assert 'data-value="505.0">€505</td><td class="num" data-value="1">1</td>' in page
    assert "3 late tickets" in page
    assert "4 deliveries" in page
    assert "<figcaption>4 weeks back-tested. Stockroom: 1 job delayed" in page
    assert page.count('<polyline class="way way-0"') == 2


@pytest.mark.usefixtures("asked")
def test_a_back_test_is_told_to_each_reader_in_his_language(owner: Visitor) -> None:
    owner.does("/back-test", weeks="4")
    owner.does("/language", language="de", then="/")
    page = owner.reads("/back-test?weeks=4").replace("&#39;", "'")
    assert (
        "4 Wochen nachgerechnet, bestellt nur mit dem, was damals bekannt war. Stockroom: 1 von 40 Reparaturen" in page
    )
    assert "als die bessere der einfachen Regeln (Vorrat für zwei Wochen)" in page or "etwa so viel gekostet" in page
    assert "Tatsächlicher Verlauf: 3 Aufträge nach dem zugesagten Tag fertig" in page
    assert ">Auffüllen auf Sollbestand</th>" in page
    assert "4 Wochen nachgerechnet. Stockroom: 1 Reparatur verzögert" in page
    owner.does("/language", language="en", then="/")
    assert "Stockroom: 1 job delayed" in owner.reads("/back-test?weeks=4")


def test_the_same_back_test_is_kept_until_the_book_moves_on(owner: Visitor, site: Site, asked: list[int]) -> None:
    owner.does("/back-test", weeks="4")
    owner.does("/back-test", weeks="4")
    assert asked == [4]
    change_settings(site.book, {"holding_rate": "25"})
    assert "1 document has been entered since." in owner.reads("/back-test")  # the newest kept, said to be old
    assert asked == [4]
    assert "from the book as it stands" in owner.does("/back-test", weeks="4")
    assert asked == [4, 4]


def test_a_book_without_a_past_says_so(owner: Visitor) -> None:
    page = owner.does("/back-test", weeks="4")
    assert "This could not be worked out" in page
    assert "window it was started in" not in page


def test_what_fails_says_how_to_mend_it(owner: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_all: object, **_how: object) -> None:
        raise RefusedError("No work.", fix="Load past jobs.")

    monkeypatch.setattr(run, "backtest_weeks", fails)
    assert "No work. Load past jobs." in owner.does("/back-test", weeks="4")


@pytest.mark.parametrize("weeks", ["3", "53", "", "many", "-4"])
def test_weeks_out_of_reach_are_refused(owner: Visitor, asked: list[int], weeks: str) -> None:
    owner.get("/back-test")
    assert owner.post("/back-test", weeks=weeks).status_code == 400
    assert asked == []


def test_the_bench_is_refused_and_the_accountant_is_not(guarded: Flask, site: Site, asked: list[int]) -> None:
    bench, accountant = visitor(guarded, "bench"), visitor(guarded, "accountant")
    pages = ("/back-test", "/back-test/state")
    assert [bench.get(page).status_code for page in pages] == [403, 403]
    assert bench.post("/back-test", weeks="4").status_code == 403
    assert asked == []
    assert refused(site)[0] == "not for the role bench"
    assert "Result" in accountant.does("/back-test", weeks="4")


def test_a_form_without_its_token_starts_nothing(owner: Visitor, asked: list[int]) -> None:
    assert owner.client.post("/back-test", data={"weeks": "4", "key": "k"}).status_code == 403
    assert asked == []


def test_a_back_test_under_way_says_how_far_it_is(owner: Visitor, site: Site, asked: list[int]) -> None:
    site.beside.threaded = True  # it waits a moment before it begins
    site.beside.start("back-test 9", lambda told: told("replaying weeks", 3, 13))
    page = owner.reads("/back-test")
    assert "9 weeks are being back-tested." in page
    assert 'data-wait="/back-test/state?weeks=9"' in page
    assert (owner.get("/back-test/state?weeks=9").json or {})["running"]
    assert asked == []
