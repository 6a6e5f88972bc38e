"""What a replay is given: when the bench came to a ticket, what suppliers took, and nothing of later days."""

from datetime import date, datetime

import numpy as np
import pytest

from stockroom.buying.scripts import Placed, Sight
from stockroom.flows.books import open_book
from stockroom.flows.replay_stage import Stage, bench_day, set_stage
from stockroom.flows.replay_ways import known_on
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
    assert stage.script.tickets.sum() == 80  # two a day, five days a week
    bend = stage.codes.index("BEND")
    assert stage.script.opening[bend] == pytest.approx(stage.balances[0, bend], abs=7)
    assert stage.balances[-1, bend] == pytest.approx(50)  # as counted on the last evening
    hide = [supplier.code for supplier in stage.asked.suppliers].index("HIDE")
    assert set(stage.script.lead_days[hide]) == {7.0}  # never delivered: as stated


def test_a_morning_of_the_replay_knows_nothing_of_later_days(stage: Stage) -> None:
    sight = Sight(
        day=21,
        on_hand=stage.script.opening,
        counted_on=np.full(len(stage.codes), -1),
        waiting=np.zeros(len(stage.made.names), dtype=np.int64),
        placed=(Placed(offer=0, packs=2, day=14, received=None), Placed(offer=1, packs=1, day=7, received=12)),
        true_on_hand=stage.script.opening,
    )
    seen = known_on(stage, sight)
    assert all(ticket.taken_in <= seen.moment for ticket in seen.tickets)
    assert all(each[1] < seen.day.isoformat() for each in seen.sales)
    assert [order.placed.date() for order in seen.orders] == [stage.morning(14).date()]
    assert seen.orders[0].lines[0].packs == 2
    assert {t.state for t in seen.tickets} <= {TicketState.FINISHED, TicketState.BOOKED}
