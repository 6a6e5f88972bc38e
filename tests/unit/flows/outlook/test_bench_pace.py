"""When the bench comes to its work: work in hand is drawn once, on the day it is done."""

from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from stockroom.flows.book.opening import new_book
from stockroom.flows.loading.load import load_files
from stockroom.flows.outlook.bench_pace import bench_pace
from stockroom.flows.outlook.run_outs import look_ahead, run_out_rows
from stockroom.stock.calendar import Closure, OpenDays
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store.book import Book

MORNING = datetime(2026, 11, 28, 8)  # a Saturday
MONDAY_TO_SATURDAY = OpenDays(weekdays=frozenset(range(6)))
WAIT = 3  # days worked from taking in to finishing
FILES = {
    "shop": f"setting,value\nstart,{MORNING:%Y-%m-%d}\nopen_weekdays,Mon Tue Wed Thu Fri Sat\n",
    "materials": "code,name,family,unit\nTOP,Top piece,top pieces,pair\n",
    "jobs": "code,name,family,price\nHEELS,Heel tops,heels,12.00\n",
    "recipes": "job,valid from,line,material,amount,unit,per\nHEELS,2026-01-01,top,TOP,1,pair,pair\n",
    "opening-stock": f"day,material,amount,unit,value\n{MORNING:%Y-%m-%d},TOP,120,pair,120.00\n",
}


def _shop(folder: Path, early: int | None) -> Book:
    """A shop that took in ten pairs a day, finished three days worked later, promised for so many days after that."""
    days = [date(2026, 3, 2) + timedelta(days=n) for n in range(330)]
    days = [day for day in days if MONDAY_TO_SATURDAY.is_open(day)]
    rows = ["ticket,taken in,finished,promised,job"]
    for n, day in enumerate(day for day in days if day < MORNING.date()):
        ends, due = days[n + WAIT], "" if early is None else days[n + WAIT + early]
        done = f"{ends} 16:00" if ends < MORNING.date() else ""
        rows += [f"{10 * n + each},{day} 09:0{each},{done},{due},HEELS" for each in range(10)]
    files = FILES | {"tickets": "\n".join(rows) + "\n"}
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(text)
    book = new_book(str(folder / "shop.sqlite"))
    load_files(book, [folder / f"{name}.csv" for name in files], MORNING)
    return book


@pytest.mark.parametrize("early", [None, 0, 1])
def test_work_in_hand_is_not_counted_twice(tmp_path: Path, early: int | None) -> None:
    """Twelve days of ten pairs lie on the shelf. Thirty pairs in hand, added to what is still to come, took four off."""
    book = _shop(tmp_path, early)
    seen = look_ahead(book, MORNING)
    (row,) = run_out_rows(seen)
    assert row.runs_out == date(2026, 12, 12)
    weekly = seen.futures.use[:, 0].mean(axis=0)
    np.testing.assert_allclose(weekly[:10], 120.0, rtol=0.03, err_msg="pieces a week: sixty pairs, the first week too")
    book.close()


def _ticket(number: int, taken_in: date, **more: object) -> Ticket:
    at = datetime.combine(taken_in, datetime.min.time()) + timedelta(hours=10)
    return Ticket(number=str(number), job="HEELS", taken_in=at, **more)  # type: ignore[arg-type]


FIRST = date(2026, 6, 1)  # a Monday
DONE = [
    _ticket(n, FIRST - timedelta(days=60 - n), state=TicketState.FINISHED, finished=datetime(2026, 4, 4, 12) + timedelta(days=n))
    for n in range(50)
]  # fmt: skip


def test_an_open_ticket_is_worked_after_what_is_left_of_the_usual_wait() -> None:
    seven = OpenDays(weekdays=frozenset(range(7)))
    pace = bench_pace(DONE, seven, FIRST, 8)
    usual = (DONE[0].finished or datetime.max).date() - DONE[0].taken_in.date()
    rng = np.random.default_rng(1)
    for waited in (0, 1):
        weeks = pace.weeks(_ticket(99, FIRST - timedelta(days=waited)), rng, 50)
        assert set(weeks.tolist()) == {(usual.days - waited) // 7}


def test_an_open_ticket_past_its_day_is_for_the_next_day_worked() -> None:
    closed = Closure(first=FIRST, last=FIRST + timedelta(days=13))
    pace = bench_pace(DONE, OpenDays(weekdays=frozenset(range(6)), closures=(closed,)), FIRST, 8)
    late = _ticket(99, FIRST - timedelta(days=9), promised=FIRST - timedelta(days=2))
    assert set(pace.weeks(late, np.random.default_rng(1), 50).tolist()) == {2}, "the shop is shut for a fortnight"


def test_a_ticket_promised_for_later_is_worked_then_and_not_when_it_came_in() -> None:
    pace = bench_pace(DONE, MONDAY_TO_SATURDAY, FIRST, 8)
    far = _ticket(99, FIRST, promised=FIRST + timedelta(days=30))
    assert set(pace.weeks(far, np.random.default_rng(1), 50).tolist()) == {4}
    beyond = _ticket(99, FIRST, promised=FIRST + timedelta(days=300))
    assert pace.weeks(beyond, np.random.default_rng(1), 5).min() >= 8


def test_waiting_for_a_part_is_not_learnt_as_the_benchs_pace() -> None:
    """Else a shelf that was once empty would be filled later ever after."""
    stuck = [_ticket(n, t.taken_in.date(), state=TicketState.FINISHED, finished=t.taken_in + timedelta(days=50),
                     promised=t.taken_in.date() + timedelta(days=2)) for n, t in enumerate(DONE)]  # fmt: skip
    pace = bench_pace(stuck, OpenDays(weekdays=frozenset(range(7))), FIRST + timedelta(days=60), 8)
    assert pace.waits[pace.kind("HEELS")].argmax() == 2
