"""What is known to expire is looked ahead at: run-outs, jobs possible, the order problem and the day at a glance."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

import pytest

from stockroom.flows.bench.jobs_possible import can_do
from stockroom.flows.bench.shelf import expiring
from stockroom.flows.book.opening import new_book
from stockroom.flows.loading.load import load_files
from stockroom.flows.outlook.run_outs import look_ahead, run_out_rows
from stockroom.stock.quantities import NANO
from stockroom.store.book import Book

NOW = datetime(2026, 11, 2, 8)  # a Monday; the shop works every day
EXPIRY = date(2026, 11, 7)
FILES = {
    "shop": f"setting,value\nstart,{NOW:%Y-%m-%d}\nopen_weekdays,Mon Tue Wed Thu Fri Sat Sun\n",
    "materials": "code,name,family,unit,shelf life days\nCEMENT,Cement,cement,ml,365\nTHREAD,Thread,thread,m,\n",
    "jobs": "code,name,family,price\nSOLES,Soles,soles,40.00\n",
    "suppliers": "code,name,lead days\nNORTH,North Row (invented),7\n",
    "offers": "supplier,material,supplier code,pack,unit,price,valid from\nNORTH,CEMENT,C1,1,l,12.00,2026-01-01\n",
    "recipes": "job,valid from,line,material,amount,unit,per\nSOLES,2026-01-01,glue,CEMENT,10,ml,pair\n",
    "opening-stock": (
        "day,material,amount,unit,value,expiry date\n"
        f"{NOW:%Y-%m-%d},CEMENT,530,ml,6.00,{EXPIRY}\n{NOW:%Y-%m-%d},THREAD,900,m,9.00,\n"
    ),
}  # fmt: skip


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """A shop that resoles one pair a week with ten millilitres of a cement that expires on Saturday."""
    first = NOW.date() - timedelta(weeks=30)
    days = [first + timedelta(weeks=n) for n in range(30)]
    rows = [f"{n},{day} 10:00,{day} 12:00,SOLES" for n, day in enumerate(days)]
    files = FILES | {"tickets": "\n".join(["ticket,taken in,finished,job", *rows]) + "\n"}
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text)
    made = new_book(str(tmp_path / "shop.sqlite"))
    load_files(made, [tmp_path / f"{name}.csv" for name in files], NOW)
    yield made
    made.close()


def test_a_lot_that_expires_soon_is_not_said_to_last_a_year(book: Book) -> None:
    (row,) = run_out_rows(look_ahead(book, NOW))
    assert row.runs_out is not None
    assert EXPIRY <= row.runs_out <= EXPIRY + timedelta(weeks=1), "the first pair after the lot has gone finds none"
    assert row.earliest == EXPIRY
    assert row.order_by == NOW.date(), "a week for the next tin to come, and five days of cement"
    assert row.why.startswith("520 ml would expire unused on ")


def test_the_order_problem_knows_what_will_be_thrown_away(book: Book) -> None:
    seen = look_ahead(book, NOW)
    (item,) = (each for each in seen.question.problem.items if each.name == "CEMENT")
    assert [(lot.quantity, lot.until) for lot in item.lots] == [(530.0, 5.0)]
    (thread,) = (each for each in seen.question.problem.items if each.name == "THREAD")
    assert thread.lots == ()


def test_what_has_expired_serves_no_job_and_is_named(book: Book) -> None:
    after = datetime.combine(EXPIRY, NOW.time())
    assert [each.most for each in can_do(book, NOW)] == [53]
    assert [each.most for each in can_do(book, after)] == [0]
    (row,) = run_out_rows(look_ahead(book, after))
    assert row.runs_out is not None
    assert row.why.startswith("530 ml expired on ")


def test_today_names_the_lots_to_use_first(book: Book) -> None:
    known = look_ahead(book, NOW).known
    (lot,) = expiring(known, NOW.date())
    assert (lot.material.code, lot.lot.nano, lot.day, lot.gone) == ("CEMENT", 530 * NANO, EXPIRY, False)
    (gone,) = expiring(known, EXPIRY)
    assert gone.gone
    assert expiring(known, NOW.date() - timedelta(days=30)) == []
