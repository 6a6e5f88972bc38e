"""The outlook's lists: days on which something can happen, and one rule for when to order."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from stockroom.buying.long_run import homes
from stockroom.counting.lessons import LessonAdvice, Lessons, LineLesson, MaterialLesson, Span, Spreads
from stockroom.counting.observations import Counted, Uses
from stockroom.counting.shelf_posterior import ShelfPosterior
from stockroom.flows.book.opening import new_book
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.learning.lessons import Diary, LineKey
from stockroom.flows.loading.load import load_files
from stockroom.flows.ordering.plan import plan_order
from stockroom.flows.outlook.run_outs import look_ahead, outlook, read_for_outlook, run_out_rows, why
from stockroom.show.formats import formats_of
from stockroom.stock.orders import Order, OrderLine
from stockroom.store.book import Book
from tests import build

DATA = Path(__file__).parents[4] / "data"
LOADED = datetime(2026, 11, 21, 18, 30)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    """The invented shop's book."""
    book = new_book(str(tmp_path_factory.mktemp("demo") / "shop.sqlite"))
    load_files(book, [DATA], LOADED)
    yield book
    book.close()


@pytest.mark.parametrize("moment", [LOADED, datetime(2026, 7, 28, 9), datetime(2025, 12, 13, 12)])
def test_shelves_run_out_on_days_the_shop_works(demo: Book, moment: datetime) -> None:
    """A Sunday, or a day within the summer closure, was said of every third shelf."""
    seen = look_ahead(demo, moment)
    said = [day for row in run_out_rows(seen) for day in (row.runs_out, row.earliest, row.latest) if day]
    assert len(said) > 80
    assert [day for day in said if not seen.known.open_days.is_open(day)] == []
    assert min(said) >= moment.date()
    assert moment.hour < 15 or min(said) > moment.date()  # the day's work is done


def test_lists_and_order_desk_say_the_same_day_to_order_by(demo: Book) -> None:
    plan = plan_order(demo, LOADED)
    seen = plan.outlook
    first = {
        s.code: int(a.order_days[0]) for s, a in zip(seen.known.suppliers, seen.question.problem.suppliers, strict=True)
    }
    desk = {each.supplier: each.order_by for each in plan.lists}
    assert {code: (day - LOADED.date()).days for code, day in desk.items() if day} == {c: first[c] for c in desk}
    ordered = {line.material: desk[line.supplier] for each in plan.lists for line in each.lines}
    home = {item: n for n, item in zip(homes(seen.question.problem), seen.question.codes, strict=True)}
    rows = [row for row in run_out_rows(seen) if row.order_by]
    for row in rows:
        supplier = seen.known.suppliers[home[row.material]].code
        assert row.order_by is not None
        assert (row.order_by - LOADED.date()).days >= first[supplier], "no list asks for it before he takes orders"
    assert any(row.order_by == ordered.get(row.material) for row in rows)


NOW = datetime(2026, 10, 3, 18)


@pytest.fixture
def facts(file_shop: Book) -> BookSnapshot:
    with file_shop.reading() as session:
        return book_snapshot(session, NOW)


def test_a_future_whose_jobs_use_more_has_less_on_the_shelf_already(file_shop: Book) -> None:
    """Counted a thousand, three hundred used since, give or take a fifth: the same fifth by which use to come is unsure."""
    read = read_for_outlook(file_shop, NOW)
    key = LineKey(job="HEELS", line="cement")
    line = LineLesson(
        line=str(key), recipe=30.0, use=Span(estimate=30, low=20, high=40), uses=10, verdict=LessonAdvice.LATER
    )
    lesson = MaterialLesson(
        material="CEMENT", lines=(line,), waste=Span(estimate=0, low=0, high=0), outliers=(), job_spread=0.0,
        ratio_mean=np.array([1.0, 0.0]), ratio_covariance=np.diag([0.04, 0.0]),
    )  # fmt: skip
    used = Uses(
        at=np.array([NOW - timedelta(weeks=1)], "datetime64[s]"), line=np.zeros(1, np.intp), amount=np.array([300.0]),
        times=np.array([10.0]), variance=np.zeros(1),
    )  # fmt: skip
    counted = [Counted(at=NOW - timedelta(weeks=4), amount=1000.0, error=5.0)]
    diary = Diary(material=read.known.shelf.materials["CEMENT"], counts=counted, uses=used, keys={str(key): key})
    taught = replace(
        read.taught,
        diaries={**read.taught.diaries, "CEMENT": diary},
        lessons=Lessons(materials=(lesson,), spreads=Spreads()),
    )
    seen = outlook(replace(read, taught=taught))
    place = seen.futures.codes.index("CEMENT")
    shelf, beyond = seen.question.problem.items[place].on_hand, seen.futures.beyond[:, place]
    assert beyond.std() == pytest.approx(0.2, rel=0.15)
    assert shelf - (1000 - 300 * beyond) == pytest.approx(0, abs=25), "what is left is the count's own error"


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
