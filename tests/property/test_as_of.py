"""As of a day means everything that was known then: what happens later changes nothing that is said of it."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.errors import StockroomError
from stockroom.flows.bench import counter, tickets
from stockroom.flows.bench.jobs_possible import can_do_of
from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.counts import settle
from stockroom.flows.loading.load import load_files
from stockroom.flows.ordering import place
from stockroom.flows.ordering.place import OrderedPacks
from stockroom.flows.ordering.receive import Arrived
from stockroom.flows.outlook.run_outs import look_ahead, run_out_rows
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.lists import RunOutRow
from stockroom.stock.moves import DocumentKind
from stockroom.stock.orders import OrderState
from stockroom.store.book import Book
from tests import build
from tests.conftest import Maker

FIRST = datetime(2026, 1, 6, 9)
STEP = timedelta(hours=7)


@dataclass
class Days:
    """A shop at work: every deed happens later than the one before, and is entered as it happens."""

    book: Book
    now: datetime = FIRST
    tickets: list[str] = field(default_factory=list)
    placed: list[str] = field(default_factory=list)
    done: int = 0

    def do(self, deed: str, pick: int) -> None:
        """Do something; what can't be done now is left."""
        self.now += STEP
        self.done += 1
        try:
            DEEDS[deed](self, pick)
        except (StockroomError, IndexError):
            return

    def stamp(self) -> Any:
        return build.stamp(self.now, f"deed-{self.done}")

    def take_in(self, pick: int) -> None:
        wanted = Wanted(job="HEELS", chosen={"hold": "sewn" if pick % 3 == 0 else "glued"}, promised=self.now.date())
        self.tickets.append(tickets.take_in(self.book, wanted, self.stamp()).number)

    def finish(self, pick: int) -> None:
        tickets.finish_ticket(self.book, self.tickets[-1 - pick % 3], self.stamp())

    def cancel(self, pick: int) -> None:
        tickets.cancel_ticket(self.book, self.tickets[-1 - pick % 3], self.stamp())

    def sell(self, pick: int) -> None:
        counter.sell(self.book, ("POLISH", "LACE-BLACK")[pick % 2], build.amount("1 piece"), self.stamp())

    def own_use(self, pick: int) -> None:
        kind = (DocumentKind.WASTE, DocumentKind.OWN_USE)[pick % 2]
        counter.write_off(self.book, "THREAD", build.amount("2 m"), self.stamp(), kind=kind)

    def order(self, pick: int) -> None:
        asked = [OrderedPacks(material="TIP", packs=2), OrderedPacks(material="POLISH", packs=1 + pick % 3)]
        self.placed.append(place.place_order(self.book, "NORTH", asked, self.stamp()).number)

    def receive_part(self, pick: int) -> None:
        came = [Arrived(material="TIP", packs=1)]
        place.receive_order(self.book, self.placed[-1 - pick % 2], came, self.stamp())

    def receive(self, pick: int) -> None:
        place.receive_order(self.book, self.placed[-1 - pick % 2], [], self.stamp())

    def end(self, pick: int) -> None:
        place.end_order(self.book, self.placed[-1 - pick % 2], self.stamp())

    def count(self, pick: int) -> None:
        found = CountLine(material="CEMENT", amount=build.amount(f"{2500 + pick} ml"), counted=self.now)
        settle.take_count(self.book, Count(key=f"sheet {self.done}", lines=(found,)), self.stamp())
        settle.settle_count(self.book, f"sheet {self.done}", self.stamp())


DEEDS: dict[str, Callable[[Days, int], None]] = {
    name: getattr(Days, name)
    for name in ("take_in", "finish", "cancel", "sell", "own_use", "order", "receive_part", "receive", "end", "count")
}
deeds = st.lists(st.tuples(st.sampled_from(sorted(DEEDS)), st.integers(0, 8)), min_size=3, max_size=14)


def said(book: Book, moment: datetime) -> tuple[BookSnapshot, list[Any], Any]:
    """Give everything that is said of a moment: run-outs, what can be done, the shelf."""
    with book.reading() as session:
        facts = book_snapshot(session, moment)
    seen = look_ahead(book, moment, weeks=4, n_paths=20)
    return facts, run_out_rows(seen), (can_do_of(facts), shelf_rows(book, at=moment))


@settings(max_examples=15)
@given(before=deeds, after=deeds, pause=st.sampled_from([timedelta(0), timedelta(hours=1), timedelta(days=40)]))
def test_what_happens_later_changes_nothing_that_was_said(
    sqlite_books: Maker, before: list[tuple[str, int]], after: list[tuple[str, int]], pause: timedelta
) -> None:
    """Between a copy of the book taken on a day and the book itself, asked later about that day, nothing differs."""
    days = Days(sqlite_books(build.opened))
    for deed, pick in before:
        days.do(deed, pick)
    days.now += pause
    moment = days.now
    then = said(days.book, moment)
    for deed, pick in after:
        days.do(deed, pick)
    facts, rows, lists = said(days.book, moment)
    assert facts == then[0]
    assert rows == then[1]
    assert lists == then[2]


@pytest.mark.parametrize("deed", sorted(DEEDS))
def test_every_deed_can_come_later(sqlite_books: Maker, deed: str) -> None:
    """Each kind of deed once by itself, after a day that had all there is to undo."""
    days = Days(sqlite_books(build.opened))
    for first in ("take_in", "take_in", "sell", "own_use", "order", "order", "receive_part", "count"):
        days.do(first, 0)
    moment, then = days.now, said(days.book, days.now)
    days.do(deed, 0)
    assert said(days.book, moment) == then
    assert said(days.book, days.now) != then


ROWS = """reference,order,supplier,ordered,received,material,supplier code,packs,amount,unit,cost
N-1,PO-7,NORTH,2026-01-12,2026-01-14 10:00,TIP,N-TIP,1,72,pair,54.00
N-2,PO-7,NORTH,2026-01-12,2026-01-26 10:00,TIP,N-TIP,2,144,pair,108.00
N-2,PO-7,NORTH,2026-01-12,2026-01-26 10:00,POLISH,N-POLISH,1,6,piece,15.00
N-3,,TAN,2026-01-20,2026-02-10 10:00,BEND,T-BEND,1,180,dm2,106.60
N-4,,NORTH,,2026-01-30 10:00,THREAD,N-THREAD,1,500,m,19.00
"""


def test_goods_that_came_by_a_loaded_delivery_were_on_their_way_before(sqlite_books: Maker, tmp_path: Path) -> None:
    """An owner looking back would see shelves run out that a parcel on the road was about to fill."""
    book = sqlite_books(build.opened)
    (tmp_path / "deliveries.csv").write_text(ROWS, encoding="utf-8")
    load_files(book, [tmp_path / "deliveries.csv"], datetime(2026, 3, 1, 18))
    coming = {
        day: {row.material: row.on_order for row in run_out_rows_of(book, datetime(2026, *day, 12)) if row.on_order}
        for day in ((1, 11), (1, 12), (1, 15), (1, 25), (1, 27), (2, 11))
    }
    tips, polish, bend = build.nano("72 pair"), build.nano("6 piece"), build.nano("180 dm2")
    assert coming == {
        (1, 11): {},
        (1, 12): {"TIP": 3 * tips, "POLISH": polish},
        (1, 15): {"TIP": 2 * tips, "POLISH": polish},  # the first parcel is here
        (1, 25): {"TIP": 2 * tips, "POLISH": polish, "BEND": bend},
        (1, 27): {"BEND": bend},
        (2, 11): {},
    }  # the thread's file does not say when it was ordered: nobody knows it was on its way
    with book.reading() as session:
        (seen,) = (o for o in book_snapshot(session, datetime(2026, 1, 15, 12)).orders if o.number == "PO-7")
    assert (seen.state, seen.placed, seen.site) == (OrderState.PART_RECEIVED, datetime(2026, 1, 12, 12), "main")


def run_out_rows_of(book: Book, moment: datetime) -> list[RunOutRow]:
    """Give the run-outs of every material, used or not: its goods on order are looked at."""
    seen = look_ahead(book, moment, weeks=4, n_paths=20)
    seen.futures.use[:] += 1.0
    return run_out_rows(seen)
