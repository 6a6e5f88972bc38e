"""Events in the forecast: what the owner knows of the time ahead, and what past ones alike teach."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.demand.history import Facts
from stockroom.demand.paths import Paths
from stockroom.demand.streams import Streams
from stockroom.errors import BadEntryError
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.loading.lists import LISTS, find, remove, save
from stockroom.flows.outlook.coming import brings
from stockroom.flows.outlook.events_ahead import event_sizes, families_of, taken_out, usual_shares, with_events
from stockroom.flows.outlook.futures import DemandFutures, futures
from stockroom.stock.calendar import Closure, Event, OpenDays
from stockroom.stock.quantities import NANO
from stockroom.stock.recipes import Job
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store.book import Book
from tests import build

MOMENT = datetime(2026, 10, 4, 9)  # a Sunday morning: the weeks ahead begin on it
PAST = 110  # weeks
OPEN = OpenDays(weekdays=frozenset(range(1, 6)))
WEEKS = np.datetime64("2026-10-04") + np.timedelta64(7, "D") * np.arange(8)


def _tickets() -> tuple[Ticket, ...]:
    days = [MOMENT.date() - timedelta(days=n) for n in range(1, PAST * 7)]
    return tuple(
        Ticket(
            number=str(n), job="HEELS", taken_in=datetime(day.year, day.month, day.day, 10), chosen={"hold": "glued"},
            state=TicketState.FINISHED, finished=datetime(day.year, day.month, day.day, 12),
        )
        for n, day in enumerate(days) if day.weekday() in (1, 4)
    )  # fmt: skip


@pytest.fixture
def facts(file_shop: Book) -> BookSnapshot:
    """Two heels a week for two years."""
    with file_shop.reading() as session:
        return replace(book_snapshot(session, MOMENT), tickets=_tickets())


def _seen(facts: BookSnapshot, *events: Event, weeks: int = 6) -> DemandFutures:
    known = replace(facts, events=events)
    return futures(known, np.random.default_rng(3), weeks=weeks, n_paths=200)


def _more(facts: BookSnapshot, *events: Event) -> np.ndarray:
    """Jobs more than without the events, (n_paths, n_weeks)."""
    more: np.ndarray = (_seen(facts, *events).jobs.counts - _seen(facts).jobs.counts).sum(axis=1)
    return more


def _made(jobs: tuple[str, ...]) -> Streams:
    """Make streams of one ticket each."""
    rows = np.arange(len(jobs))
    dates = np.full(len(jobs), "2026-01-01", dtype="datetime64[D]")
    return Streams(
        names=jobs, jobs=jobs, began=dates, facts=Facts(series=rows, dates=dates, quantity=np.ones(len(jobs))),
        uses=np.zeros((len(jobs), 0)), chances=(), unclear={},
    )  # fmt: skip


def _paths(n_series: int) -> Paths:
    return Paths(
        names=tuple(map(str, range(n_series))), weeks=np.broadcast_to(WEEKS, (n_series, 8)),
        mean=np.zeros((n_series, 8)), counts=np.zeros((50, n_series, 8), dtype=np.int32),
    )  # fmt: skip


@settings(max_examples=60)
@given(
    size=st.integers(1, 400), start=st.integers(0, 40), length=st.integers(0, 15), shut=st.integers(0, 50),
    streams=st.integers(1, 4),
)  # fmt: skip
def test_so_many_jobs_said_are_so_many_jobs_more(size: int, start: int, length: int, shut: int, streams: int) -> None:
    """Whatever days it lasts and however many of them are shut, on every path and in the mean alike."""
    first = date(2026, 10, 4) + timedelta(days=start)
    event = Event(name="order", day=first, last=first + timedelta(days=length), job="A", jobs=size)
    closed = Closure(first=date(2026, 10, 4) + timedelta(days=shut), last=date(2026, 10, 9) + timedelta(days=shut))
    days = replace(OPEN, closures=(closed,))
    made = _made(("A",) * streams + ("B",))
    sizes = event_sizes([event], date(2026, 10, 4), date(2025, 10, 4))
    found = with_events(_paths(streams + 1), made, sizes, WEEKS, days, np.random.default_rng(size))
    assert np.all(found.counts[:, :-1].sum(axis=(1, 2)) == size)
    assert found.mean[:-1].sum() == pytest.approx(size)
    assert not found.counts[:, -1].any()
    begun, over = start // 7, (start + length) // 7
    assert not found.counts[:, :, :begun].any()
    assert not found.counts[:, :, over + 1 :].any()


def test_an_order_for_forty_pairs_adds_just_forty_in_its_week(facts: BookSnapshot) -> None:
    more = _more(facts, Event(name="staff shoes", day=date(2026, 10, 20), job="HEELS", jobs=40))
    assert np.all(more[:, 2] == 40)
    assert not np.delete(more, 2, axis=1).any()


def test_pieces_that_an_event_sells_are_just_so_many_sold_more(facts: BookSnapshot) -> None:
    market = Event(name="market", day=date(2026, 10, 20), last=date(2026, 10, 21), material="POLISH", pieces=24)
    column = [m.code for m in facts.materials].index("POLISH")
    unit = facts.shelf.materials["POLISH"].unit.nano / NANO
    found, usual = _seen(facts, market), _seen(facts)
    more = (found.sales - usual.sales)[:, column] / unit
    assert np.allclose(more[:, 2], 24)
    assert not np.delete(more, 2, axis=1).any()
    np.testing.assert_array_equal(found.jobs.counts, usual.jobs.counts)
    past = replace(market, day=date(2026, 9, 1), last=None)
    (size,) = event_sizes([past, Event(name="market", day=date(2026, 10, 20))], MOMENT.date(), date(2025, 1, 1))[1:]
    assert (size.event.material, size.pieces, size.alike) == ("POLISH", 12.0, 1)
    assert "24 more sold" in brings(event_sizes([market], MOMENT.date(), date(2025, 1, 1))[0], facts)


@pytest.mark.parametrize("said", [
    {"pieces": "4"}, {"material": "POLISH"}, {"material": "POLISH", "pieces": "4", "jobs": "2", "job": "HEELS"},
    {"material": "GONE", "pieces": "4"},
])  # fmt: skip
def test_pieces_are_of_one_material_and_of_nothing_else(file_shop: Book, said: dict[str, str]) -> None:
    with pytest.raises(BadEntryError):
        save(file_shop, LISTS["events"], [{"name": "market", "day": "2026-12-12", **said}], MOMENT)


def test_what_one_knows_nothing_of_changes_nothing(facts: BookSnapshot) -> None:
    event = Event(name="street party", day=date(2026, 10, 14))
    assert event_sizes([event], MOMENT.date(), date(2024, 10, 1))[0].nothing
    np.testing.assert_array_equal(_seen(facts, event).use, _seen(facts).use)


def test_what_a_past_order_brought_is_no_part_of_the_usual_work(facts: BookSnapshot) -> None:
    day = MOMENT.date() - timedelta(days=24)
    many = [
        replace(facts.tickets[0], number=f"order {n}", taken_in=datetime(day.year, day.month, day.day, 11))
        for n in range(60)
    ]
    known = replace(facts, tickets=(*facts.tickets, *many))
    order = Event(name="staff shoes", day=day, job="HEELS", jobs=60)
    unsaid, said, usual = _seen(known), _seen(known, order), _seen(facts)
    assert said.jobs.mean.sum() == pytest.approx(usual.jobs.mean.sum(), rel=0.02)
    assert unsaid.jobs.mean.sum() > 1.2 * usual.jobs.mean.sum()


def test_one_without_a_size_brings_what_past_ones_of_its_name_brought_drawn_to_none(facts: BookSnapshot) -> None:
    past = [
        Event(name="Staff shoes", day=MOMENT.date() - timedelta(days=364 * n), job="HEELS", jobs=30) for n in (1, 2)
    ]
    coming = Event(name="staff shoes", day=date(2026, 10, 20))
    (size,) = event_sizes([*past, coming], MOMENT.date(), date(2024, 9, 1))[2:]
    assert (size.jobs, size.alike) == (20.0, 2)  # 60 jobs over two orders and one that brought none
    assert _more(facts, *past, coming)[:, 2].mean() == pytest.approx(20, abs=1.5)


def test_per_cent_of_the_usual_last_as_long_as_said_and_are_not_taken_for_the_usual(facts: BookSnapshot) -> None:
    usual = _seen(facts).jobs.mean.sum(axis=0)
    fair = Event(name="promotion", day=date(2026, 10, 11), last=date(2026, 10, 24), usual="150")
    np.testing.assert_allclose(_seen(facts, fair).jobs.mean.sum(axis=0) / usual, [1, 1.5, 1.5, 1, 1, 1], rtol=1e-6)
    always = Event(name="busy year", day=date(2025, 10, 12), last=date(2026, 10, 3), usual="200")
    assert _seen(facts, always).jobs.mean.sum() < 0.75 * usual.sum()  # these weeks' work was twice the usual pace


def test_per_cent_concern_a_job_a_family_or_all() -> None:
    jobs = [Job(code="A", name="A", family="boots"), Job(code="B", name="B", family="boots"), Job(code="C", name="C")]
    day = date(2026, 10, 6)
    for job, expected in (("A", (0.9, 1, 1)), ("boots", (0.9, 0.9, 1)), ("", (0.9, 0.9, 0.9))):
        rise = Event(name="rise", day=day, job=job, usual="50")  # one of five days worked
        sizes = event_sizes([rise], MOMENT.date(), date(2025, 1, 1))
        found = usual_shares(sizes, ["A", "B", "C"], families_of(jobs), WEEKS, OPEN)
        assert tuple(found[:, 0].round(9)) == expected
        assert np.all(found[:, 1:] == 1)


def test_no_more_is_taken_out_than_there_was() -> None:
    use = np.array([[1.0, 2.0, np.nan], [3.0, 0.0, 1.0]])
    weeks = WEEKS[:3]
    order = Event(name="order", day=date(2026, 10, 13), job="A", jobs=40)
    left = taken_out(use, event_sizes([order], date(2026, 11, 1), date(2026, 10, 1)), ["A", "B"], weeks, OPEN)
    np.testing.assert_array_equal(left, [[1.0, 0.0, np.nan], [3.0, 0.0, 1.0]])


def test_an_event_is_learnt_from_the_same_days_of_past_years(facts: BookSnapshot) -> None:
    """A fair that doubled the work of its two weeks twice is expected to do something of the kind again."""
    fairs = [Event(name="fair", day=day, last=day + timedelta(days=13)) for day in
             (date(2024, 10, 22), date(2025, 10, 21), date(2026, 10, 20))]  # fmt: skip
    more = [
        replace(t, number=f"{t.number}-{n}")
        for t in facts.tickets for n in range(6)
        if any(fair.day <= t.taken_in.date() <= fair.end for fair in fairs)
    ]  # fmt: skip
    known = replace(facts, tickets=(*facts.tickets, *more))
    mean = _seen(known, *fairs).jobs.mean.sum(axis=0)
    without = _seen(known, *fairs[:2]).jobs.mean.sum(axis=0)
    assert mean[2:4].sum() > 1.3 * without[2:4].sum()


def _save(book: Book, moment: str, **said: str) -> None:
    save(book, LISTS["events"], [said], build.at(moment))


def test_what_was_known_then(file_shop: Book) -> None:
    """As of a past day an event is known if it was entered by then; taken out since, it was known all the same."""
    _save(file_shop, "2026-01-06", name="fair", day="2026-06-20")  # the list begins: known from ever
    _save(file_shop, "2026-02-10", name="order", day="2026-03-10", job="HEELS", jobs="40")
    found = find(file_shop, LISTS["events"], ["order"], date(2026, 2, 20))
    remove(file_shop, LISTS["events"], found, build.at("2026-02-20"))

    def names(moment: str) -> list[str]:
        with file_shop.reading() as session:
            return [each.name for each in book_snapshot(session, build.at(moment)).events]

    assert names("2026-01-05") == ["fair"]
    assert names("2026-02-09") == ["fair"]
    assert names("2026-02-11") == ["order", "fair"]
    assert names("2026-02-21") == ["fair"]
    assert names("2026-03-20") == ["fair"]  # it never came


def test_an_event_taken_out_leaves_the_forecast_as_it_was(file_shop: Book) -> None:
    def seen() -> DemandFutures:
        with file_shop.reading() as session:
            known = replace(book_snapshot(session, MOMENT), tickets=_tickets())
        return futures(known, np.random.default_rng(3), weeks=6, n_paths=50)

    _save(file_shop, "2026-09-01", name="fair", day="2026-06-20")
    before = seen().use
    _save(file_shop, "2026-10-02", name="order", day="2026-10-06", job="HEELS", jobs="40")
    assert seen().use.sum() > before.sum()
    remove(
        file_shop, LISTS["events"], find(file_shop, LISTS["events"], ["order"], MOMENT.date()), build.at("2026-10-03")
    )
    np.testing.assert_array_equal(seen().use, before)


@pytest.mark.parametrize(
    ("said", "column"),
    [
        ({"last": "2026-10-01"}, "last day"),
        ({"last": "2028-10-01"}, "last day"),
        ({"job": "HEELS", "jobs": "4", "usual": "120"}, "% of usual"),
        ({"jobs": "4"}, "job"),
        ({"job": "HEALS"}, "job"),
        ({"usual": "5000"}, "% of usual"),
    ],
)
def test_an_event_that_can_not_be_is_refused_beside_its_column(
    file_shop: Book, said: dict[str, str], column: str
) -> None:
    with pytest.raises(BadEntryError) as refused:
        _save(file_shop, "2026-10-02", name="order", day="2026-10-06", **said)
    assert [each.column for each in refused.value.problems] == [column]


def test_an_event_of_which_nothing_is_known_is_entered_with_a_word(file_shop: Book) -> None:
    fair = {"name": "fair", "day": "2026-10-06"}
    noted = save(file_shop, LISTS["events"], [fair], build.at("2026-10-02")).notes
    assert [note for note in noted if "Nothing is known yet of what 'fair' brings" in note]
    sized = save(file_shop, LISTS["events"], [fair | {"name": "sale", "usual": "130"}], build.at("2026-10-02"))
    assert not sized.notes
