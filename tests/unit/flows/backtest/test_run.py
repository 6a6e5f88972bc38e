"""What a replay is given: when the bench came to a ticket, what suppliers took, and nothing of later days."""

from datetime import date, datetime

import numpy as np
import pytest

from stockroom.buying.scenario import KnownThen, PlacedLine
from stockroom.flows.backtest.policies import known_on
from stockroom.flows.backtest.stage import Stage, set_stage
from stockroom.flows.book.opening import open_book
from stockroom.flows.outlook.bench_pace import bench_day
from stockroom.stock.tickets import Ticket, TicketState
from tests.end_to_end.shop import EVENING, Indoors, small_shop


@pytest.fixture(scope="module")
def stage(tmp_path_factory: pytest.TempPathFactory) -> Stage:
    """The small shop's last eight weeks, two of them a lead-in."""
    place = tmp_path_factory.mktemp("stage")
    desk = Indoors(place / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(small_shop(place / "files")))
    book = open_book(str(desk.book))
    made = set_stage(book, datetime.fromisoformat(EVENING), weeks=6, lead_in=2)
    book.close()
    return made


def test_the_bench_comes_to_a_ticket_when_it_was_finished_or_should_have_been() -> None:
    ticket = Ticket(number="1", job="FULL", taken_in=datetime(2026, 3, 2, 10), promised=date(2026, 3, 6))
    assert bench_day(ticket) == date(2026, 3, 6)
    early = Ticket(number="2", job="FULL", taken_in=datetime(2026, 3, 2, 10), finished=datetime(2026, 3, 4, 9))
    assert bench_day(early) == date(2026, 3, 4)


def test_the_stage_holds_the_weeks_own_work_and_stock(stage: Stage) -> None:
    assert (stage.days, stage.counts_from) == (56, 14)
    assert stage.scenario.tickets.sum() == 80  # two a day, five days a week
    bend = stage.codes.index("BEND")
    assert stage.scenario.opening[bend] == pytest.approx(stage.balances[0, bend], abs=7)
    assert stage.balances[-1, bend] == pytest.approx(50)  # as counted on the last evening
    hide = [supplier.code for supplier in stage.asked.suppliers].index("HIDE")
    assert set(stage.scenario.lead_days[hide]) == {7.0}  # never delivered: as stated


def test_a_morning_of_the_replay_knows_nothing_of_later_days(stage: Stage) -> None:
    known_then = KnownThen(
        day=21,
        on_hand=stage.scenario.opening,
        counted_on=np.full(len(stage.codes), -1),
        waiting=np.zeros(len(stage.made.names), dtype=np.int64),
        placed=(PlacedLine(offer=0, packs=2, day=14, received=None), PlacedLine(offer=1, packs=1, day=7, received=12)),
        true_on_hand=stage.scenario.opening,
    )
    seen = known_on(stage, known_then)
    assert all(ticket.taken_in <= seen.moment for ticket in seen.tickets)
    assert all(each[1] < seen.day.isoformat() for each in seen.sales)
    assert [order.placed.date() for order in seen.orders] == [stage.morning(14).date()]
    assert seen.orders[0].lines[0].packs == 2
    assert {t.state for t in seen.tickets} <= {TicketState.FINISHED, TicketState.BOOKED}
