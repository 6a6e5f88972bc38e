"""What past outlooks said is what was said then, and what came is what the ledger holds."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from stockroom.demand.accuracy import SaidAndCame, trueness
from stockroom.flows.book.opening import new_book
from stockroom.flows.outlook.came_true import (
    EVENING,
    OUTLOOK,
    SPAN,
    ForecastReport,
    _held,
    _PastMoves,
    forecast_report,
    outside,
)
from stockroom.flows.outlook.came_true_words import report_facts, report_words, verdict, write_report
from stockroom.flows.outlook.run_outs import look_ahead, run_out_rows
from stockroom.show.formats import formats_of
from stockroom.stock.quantities import NANO
from stockroom.stock.shop import Shop
from stockroom.store.book import Book
from tests.unit.flows.outlook.test_run_outs import LOADED, demo

__all__ = ["demo"]  # a fixture
FORMATS = formats_of(Shop())


@pytest.fixture(scope="module")
def seen(demo: Book) -> ForecastReport:
    return forecast_report(demo, LOADED, most=2)


def test_days_lie_four_weeks_apart_and_their_weeks_have_come(seen: ForecastReport) -> None:
    assert seen.days == (date(2026, 8, 29), date(2026, 9, 26))
    assert seen.days[-1] + timedelta(weeks=SPAN) == LOADED.date()


def test_what_was_said_is_what_the_outlook_of_that_day_says(seen: ForecastReport, demo: Book) -> None:
    day = seen.days[0]
    then = {
        row.material: row
        for row in run_out_rows(look_ahead(demo, datetime.combine(day, EVENING), weeks=OUTLOOK, n_paths=200))
    }
    mine = {row.material.code: row.said for row in seen.rows if row.on == day}
    assert mine == then


def test_what_came_is_what_left_the_shelf(seen: ForecastReport, demo: Book) -> None:
    from stockroom.flows.outlook.came_true import LEAVES
    from stockroom.store import ledger

    row = next(r for r in seen.rows if r.material.code == "THREAD-BLK")
    with demo.reading() as session:
        sums = ledger.daily_sums(session, LEAVES, until=LOADED, materials=["THREAD-BLK"])
    last = row.on + timedelta(weeks=SPAN)
    assert row.came == pytest.approx(-sum(n for _, d, n in sums if row.on < date.fromisoformat(d) <= last) / NANO)


def test_right_forecasts_of_rare_things_do_not_seem_too_high(seen: ForecastReport) -> None:
    """Four windows of a thing used once a window: by what came alone, said would be a third over it."""
    rng = np.random.default_rng(3)
    came = rng.poisson(1.0, (400, 4))
    rows = [[replace(seen.rows[0], mean=1.0, came=float(n)) for n in each] for each in came]
    assert trueness(SaidAndCame.joined([_held(each) for each in rows])).bias == pytest.approx(0, abs=0.03)


def test_the_report_says_it_in_words_figures_and_files(seen: ForecastReport, tmp_path: Path) -> None:
    said = report_words(seen, FORMATS)
    assert " ".join(said.split()).startswith(
        "Looked back at 2 past days, 8 weeks ahead of each, with only what was known then."
    )
    assert max(map(len, said.splitlines())) <= 80
    facts = report_facts(seen, FORMATS)
    assert facts["days"] == ["2026-08-29", "2026-09-26"]
    assert len(seen.worst) == 10
    assert [path.name for path in write_report(seen, tmp_path, FORMATS)] == [
        "forecast-report.xlsx", "forecast-report.json", "forecast-report.png",
    ]  # fmt: skip


def test_an_empty_book_has_nothing_to_look_back_at(tmp_path: Path) -> None:
    book = new_book(str(tmp_path / "book.sqlite"))
    found = forecast_report(book, LOADED)
    book.close()
    assert found.whole is None
    assert verdict(found).startswith("There is nothing to look back at yet")
    assert report_words(found, FORMATS) == report_words(found, FORMATS, width=80)


def test_run_outs_farthest_outside_what_was_said_stand_with_what_came(seen: ForecastReport) -> None:
    off = [outside(row) for row in seen.run_outs.farthest]
    assert off == sorted(off, reverse=True)
    assert all(off)
    assert len({row.material.code for row in seen.run_outs.farthest}) == len(off) <= 10
    for row in seen.run_outs.farthest:
        early, late = row.said.earliest, row.said.latest
        assert not (row.ran_out and early and early <= row.ran_out and (late is None or row.ran_out <= late))


def test_work_that_waited_for_a_part_was_wanted_when_the_bench_came_to_it(demo: Book) -> None:
    past = _PastMoves.read(demo, LOADED, None)
    code, come, _, nano = next((c, *row) for c, rows in past.work.items() for row in rows if row[0] < row[1])
    assert (come, nano) in past.wanted(code, come - timedelta(days=1), 1)
    overdue = past.wanted(code, come, 1)
    assert (come + timedelta(days=1), nano) in overdue, "what waits is wanted at once"
