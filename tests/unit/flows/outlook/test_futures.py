"""The book's history into futures: what is censored, what is real, and what counts teach."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from stockroom.demand.history import History
from stockroom.demand.paths import Paths, sample_paths
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.learning.lessons import Learnt
from stockroom.flows.outlook import futures as module
from stockroom.flows.outlook.futures import DemandFutures, futures
from stockroom.flows.outlook.stockouts import Spell
from stockroom.stock.calendar import Closure
from stockroom.stock.quantities import NANO
from stockroom.stock.shop import Shop
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store.book import Book

MOMENT = datetime(2026, 10, 3, 18)  # a Saturday evening
FIRST = MOMENT.date() - timedelta(weeks=30) + timedelta(days=1)


@pytest.fixture
def facts(file_shop: Book) -> BookSnapshot:
    """The tiny shop after thirty weeks: two heels a week, one polish a day."""
    with file_shop.reading() as session:
        read = book_snapshot(session, MOMENT)
    days = [FIRST + timedelta(days=n) for n in range(210)]
    tickets = [_heels(n, day) for n, day in enumerate(days) if day.weekday() in (1, 4)]
    sales = [("POLISH", day.isoformat(), -NANO) for day in days if day.weekday() in (1, 2, 3, 4, 5)]
    return replace(read, tickets=tuple(tickets), sales=sales, shop=Shop())


def _heels(number: int, day: date, **more: object) -> Ticket:
    at = datetime(day.year, day.month, day.day, 10)
    facts = {"state": TicketState.FINISHED, "finished": at, "chosen": {"hold": "glued"}} | more
    return Ticket(number=str(number), job="HEELS", taken_in=at, **facts)  # type: ignore[arg-type]


def _see(
    facts: BookSnapshot,
    *,
    learnt: Learnt | None = None,
    dry: Mapping[str, Sequence[Spell]] | None = None,
    n_paths: int = 400,
) -> DemandFutures:
    rng = np.random.default_rng(7)
    return futures(facts, rng, weeks=6, n_paths=n_paths, learnt=learnt or Learnt(), dry=dry)


def _weekly(seen: DemandFutures, code: str) -> float:
    return float(seen.use[:, seen.codes.index(code)].mean())


def test_futures_are_forecast_by_the_models_the_shop_names(
    facts: BookSnapshot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whoever looks ahead does it here: run-outs, reorder and back-test."""
    asked: list[Sequence[str] | None] = []

    def noted(history: History, *rest: Any, models: Sequence[str] | None) -> Paths:
        asked.append(models)
        return sample_paths(history, *rest, models=models)

    monkeypatch.setattr(module, "sample_paths", noted)
    for named in ("", "average, tsb"):
        _see(replace(facts, shop=Shop(forecast_models=named)))
    assert set(asked) == {None, ("average", "tsb")}


def test_even_work_goes_on_as_it_was(facts: BookSnapshot) -> None:
    seen = _see(facts)
    assert _weekly(seen, "TIP") == pytest.approx(4, rel=0.1)  # pieces: two pairs
    assert _weekly(seen, "POLISH") == pytest.approx(5, rel=0.1)
    assert _weekly(seen, "CEMENT") == pytest.approx(8, rel=0.1)  # millilitres: 4 to a pair


def test_weeks_without_stock_say_nothing_of_what_was_wanted(facts: BookSnapshot) -> None:
    empty_since = MOMENT.date() - timedelta(weeks=8)
    sold = [sale for sale in facts.sales if sale[1] < empty_since.isoformat()]
    idle = _see(replace(facts, sales=sold))
    short = _see(replace(facts, sales=sold), dry={"POLISH": [(empty_since, MOMENT.date())]})
    assert _weekly(short, "POLISH") == pytest.approx(5, rel=0.15)
    assert _weekly(idle, "POLISH") < 0.7 * _weekly(short, "POLISH")  # with stock on hand eight idle weeks are real


def _done_after(ticket: Ticket, wait: timedelta) -> Ticket:
    """The ticket as it stands at the moment if it takes so long."""
    finished = ticket.taken_in + wait
    if finished <= MOMENT:
        return replace(ticket, finished=finished)
    return replace(ticket, state=TicketState.BOOKED, finished=None)


@pytest.mark.parametrize("promised", [None, timedelta(days=1)])
def test_a_ticket_held_up_is_demand_all_the_same(facts: BookSnapshot, promised: timedelta | None) -> None:
    """Whether it waits at the bench or for a part, what came in is drawn once: open tickets first, then new ones."""
    held = [
        replace(_done_after(t, timedelta(weeks=3)), promised=t.taken_in.date() + promised if promised else None)
        for t in facts.tickets
    ]
    usual, seen = (_see(replace(facts, tickets=tuple(each))) for each in (facts.tickets, held))
    late = 12 if promised else 0  # six open tickets are overdue: they are drawn at once, beside the coming weeks' work
    assert _weekly(seen, "TIP") == pytest.approx(_weekly(usual, "TIP") + late / 6, rel=0.05)


def test_booked_work_falls_in_the_week_it_is_promised_for(facts: BookSnapshot) -> None:
    many = [
        _heels(9000 + n, MOMENT.date(), state=TicketState.BOOKED, finished=None, promised=date(2026, 10, 20))
        for n in range(50)
    ]
    before, after = _see(facts), _see(replace(facts, tickets=(*facts.tickets, *many)))
    tip = before.codes.index("TIP")
    more = (after.use[:, tip] - before.use[:, tip]).mean(axis=0)
    assert int(more.argmax()) == 2  # in the third week
    assert more[2] > 90  # pieces


def test_counts_scale_use_and_their_doubt_widens_it_without_moving_it(facts: BookSnapshot) -> None:
    ratios = {("HEELS", "CEMENT"): 1.5}
    sure = _see(facts, learnt=Learnt(ratios=ratios, doubt={"CEMENT": 0.0}), n_paths=2000)
    unsure = _see(facts, learnt=Learnt(ratios=ratios, doubt={"CEMENT": 0.09}), n_paths=2000)
    assert _weekly(sure, "CEMENT") == pytest.approx(1.5 * _weekly(_see(facts), "CEMENT"), rel=0.03)
    assert _weekly(unsure, "CEMENT") == pytest.approx(_weekly(sure, "CEMENT"), rel=0.04)
    sums = [seen.use[:, seen.codes.index("CEMENT")].sum(axis=1) for seen in (sure, unsure)]
    spreads = [float(each.std() / each.mean()) for each in sums]
    # Independent relative errors add as squares: 0.3 squared is the doubt's own variance.
    assert spreads[1] ** 2 - spreads[0] ** 2 == pytest.approx(0.09, rel=0.25)
    beyond = unsure.beyond[:, unsure.codes.index("CEMENT")]
    assert (beyond.mean(), beyond.var()) == (pytest.approx(1, abs=0.03), pytest.approx(0.09, rel=0.1))
    assert np.corrcoef(beyond, sums[1])[0, 1] > 0.5, "each future keeps what it was drawn by"


def test_a_morning_belongs_to_the_weeks_ahead(facts: BookSnapshot) -> None:
    evening, morning = _see(facts), _see(replace(facts, moment=MOMENT.replace(hour=9)))
    assert evening.jobs.weeks[0, 0] == np.datetime64("2026-10-04")
    assert morning.jobs.weeks[0, 0] == np.datetime64("2026-10-03")


def test_sets_of_parts_seen_once_are_forecast_at_their_plain_rate(facts: BookSnapshot) -> None:
    """An owner would have bought for every odd size asked for once as if it came every month."""
    sewn = _heels(9000, MOMENT.date() - timedelta(weeks=5), chosen={"hold": "sewn"})
    seen = _see(replace(facts, tickets=(*facts.tickets, sewn)))
    rare = int(np.argmin(np.bincount(seen.streams.facts.series)))
    assert seen.jobs.mean[rare].sum() / 6 < 1.6 / 30  # once in thirty weeks, and half a ticket of belief


def test_what_lay_there_for_long_and_sold_once_is_forecast_by_all_that_time(facts: BookSnapshot) -> None:
    sold = [("POLISH", (MOMENT.date() - timedelta(weeks=5)).isoformat(), -NANO)]
    long, short = (
        _weekly(_see(replace(facts, sales=sold, stocked={"POLISH": first}), n_paths=2000), "POLISH")
        for first in (FIRST, MOMENT.date() - timedelta(weeks=5))
    )
    assert long < 0.5 * short


def test_own_use_and_write_offs_are_uncertain(facts: BookSnapshot) -> None:
    """'Runs out on the 12th', said of gloves to the day, never came true."""
    taken = [("TIP", (FIRST + timedelta(weeks=n)).isoformat(), -(1 + n % 2) * NANO) for n in range(30)]
    bare = replace(facts, tickets=(), sales=[], waste=taken)
    seen = _see(bare, n_paths=2000)
    sums = seen.use[:, seen.codes.index("TIP")].sum(axis=1)
    assert sums.mean() == pytest.approx(6 * 1.5, rel=0.1)
    low, high = np.quantile(sums, [0.1, 0.9])
    assert low < 7
    assert high > 11
    sizes = seen.lost[:, seen.codes.index("TIP"), 0]
    assert set(np.unique(sizes[sizes <= 2])) == {0, 1, 2}  # whole occasions, of sizes that were seen


def test_what_counts_find_lost_is_as_unsure_as_they_leave_it_and_not_lost_while_shut(facts: BookSnapshot) -> None:
    shut = Closure(first=date(2026, 10, 4), last=date(2026, 10, 10))
    learnt = Learnt(waste={"CEMENT": 10.0}, waste_doubt={"CEMENT": 0.25})
    seen = _see(replace(facts, tickets=(), sales=[], closures=(shut,)), learnt=learnt, n_paths=4000)
    sums = seen.lost[:, seen.codes.index("CEMENT")]
    assert not sums[:, 0].any()
    assert sums.sum(axis=1).mean() == pytest.approx(50, rel=0.05)  # five weeks worked
    assert sums.sum(axis=1).std() / sums.sum(axis=1).mean() == pytest.approx(0.5, rel=0.1)


def test_pieces_are_lost_by_whole_ones(facts: BookSnapshot) -> None:
    """A hundredth of a piece a week made every empty shelf run out at once."""
    seen = _see(replace(facts, tickets=(), sales=[]), learnt=Learnt(waste={"TIP": 0.02}), n_paths=4000)
    lost = seen.lost[:, seen.codes.index("TIP")]
    assert set(np.unique(lost)) <= {0.0, 1.0, 2.0}
    assert lost.mean() == pytest.approx(0.02, rel=0.2)


def test_what_counts_teach_of_pieces_is_used_by_whole_ones(facts: BookSnapshot) -> None:
    """Two tips times 1.01 were one too many for a shelf of two."""
    assert "TIP" in facts.whole_pieces
    assert "CEMENT" not in facts.whole_pieces
    seen = _see(facts, learnt=Learnt(ratios={("HEELS", "TIP"): 1.07}, doubt={"TIP": 0.01}))
    use = seen.use[:, seen.codes.index("TIP")]
    assert (use == use.round()).all()
    assert (use >= 0).all()
    assert use.mean() == pytest.approx(1.07 * _weekly(_see(facts), "TIP"), rel=0.02)


def test_a_shop_without_a_past_uses_nothing(facts: BookSnapshot) -> None:
    assert not _see(replace(facts, tickets=(), sales=[])).use.any()
