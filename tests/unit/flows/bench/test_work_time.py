"""Work begun and paused: what it came to, what is learnt, what a promise makes of it."""

import random
from contextlib import suppress
from datetime import date
from functools import partial
from itertools import permutations

import pytest

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.accounts.margins import margins_of
from stockroom.flows.bench import tickets as bench
from stockroom.flows.bench import work_time
from stockroom.flows.bench.can_do import can_do_job
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.book.check import check
from stockroom.flows.book.opening import change_settings
from stockroom.flows.outlook.run_outs import look_ahead
from stockroom.flows.posting import undo
from stockroom.margins.income import hour_interval, mean_interval
from stockroom.margins.period import from_to
from stockroom.store.book import Book
from tests import build

HEELS = Wanted(job="HEELS", chosen={"hold": "glued"})
HOURS = "Mon-Fri 9:00-13:00 14:00-18:00, Sat 9:00-13:00"


def taken(book: Book, number: str, **facts: object) -> str:
    wanted = Wanted(job="HEELS", chosen={"hold": "glued"}, number=number, **facts)  # type: ignore[arg-type]
    return bench.take_in(book, wanted, build.stamp("2026-01-06 08:00")).number


def begin(book: Book, number: str, when: str, **facts: str) -> work_time.Timed:
    return work_time.begin(book, number, build.stamp(f"2026-01-{when}", **facts))


def pause(book: Book, number: str, when: str, minutes: int | None = None) -> work_time.Timed:
    return work_time.pause(book, number, build.stamp(f"2026-01-{when}"), minutes=minutes)


def test_minutes_run_from_begin_to_pause_and_to_the_finish(open_shop: Book) -> None:
    number = taken(open_shop, "T1")
    begin(open_shop, number, "06 09:00")
    assert pause(open_shop, "", "06 09:20").minutes == 20
    begin(open_shop, number, "06 10:00", key="B")
    assert not begin(open_shop, number, "06 10:00", key="B").fresh
    bench.finish_ticket(open_shop, number, build.stamp("2026-01-06 10:15"))
    known = work_time.bench_clock(open_shop, build.at("2026-01-06 18:00"))
    assert (known.minutes, dict(known.running), known.whole) == ({number: 35}, {}, {number: 35})
    assert work_time.bench_clock(open_shop, build.at("2026-01-06 09:10")).minutes == {number: 10}, "as it stood then"
    assert not check(open_shop).faults


def test_what_was_forgotten_is_cut_off_and_teaches_nothing(open_shop: Book) -> None:
    number = taken(open_shop, "T1")
    begin(open_shop, number, "06 09:00")
    (cut,) = work_time.bench_clock(open_shop, build.at("2026-01-07 09:00")).of(number)
    assert (cut.ended, cut.forgotten) == (build.at("2026-01-06 13:00"), True), "four hours where no closing is known"
    change_settings(open_shop, {"open_hours": HOURS}, at=build.at("2026-01-07 08:00"))
    told = begin(open_shop, number, "07 09:00")
    assert [each.ended for each in told.forgotten] == [build.at("2026-01-06 18:00")]
    bench.finish_ticket(open_shop, number, build.stamp("2026-01-07 09:30"))
    assert work_time.bench_clock(open_shop, build.at("2026-01-08")).whole == {}
    pause(open_shop, number, "06 18:00", minutes=40)
    assert work_time.bench_clock(open_shop, build.at("2026-01-08")).whole == {number: 70}


def test_slips_are_told_the_way_out(open_shop: Book) -> None:
    number, other = taken(open_shop, "T1"), taken(open_shop, "T2")
    with pytest.raises(RefusedError, match="No ticket is worked on"):
        pause(open_shop, "", "06 09:00")
    with pytest.raises(RefusedError, match="T1 is not worked on") as refused:
        pause(open_shop, number, "06 09:00")
    assert "--minutes" in refused.value.fix
    begin(open_shop, number, "06 09:00")
    with pytest.raises(RefusedError, match=r"worked on since 09:00"):
        begin(open_shop, number, "06 09:30")
    assert begin(open_shop, other, "06 09:30").others == (number,)
    with pytest.raises(UsageError, match="Several tickets are worked on: T1, T2"):
        pause(open_shop, "", "06 10:00")
    bench.cancel_ticket(open_shop, other, build.stamp("2026-01-06 10:00"))
    with pytest.raises(RefusedError, match="cancelled already"):
        begin(open_shop, other, "06 11:00")


def test_an_undone_pause_lets_the_clock_run_on(open_shop: Book) -> None:
    number = taken(open_shop, "T1")
    begin(open_shop, number, "06 09:00")
    done = pause(open_shop, number, "06 09:10")
    undo.undo(open_shop, done.document, build.stamp("2026-01-06 09:12"))
    assert work_time.bench_clock(open_shop, build.at("2026-01-06 09:30")).minutes == {number: 30}


def test_in_whatever_order_it_is_typed(books: object, open_shop: Book) -> None:
    """Entered late and in any order, the same stretches come to the same minutes."""
    facts = [("A", "06 09:00", "06 09:40"), ("B", "06 09:20", "06 10:00"), ("A", "06 11:00", "06 11:05")]
    for number in ("A", "B"):
        taken(open_shop, number)
    found = set()
    for order in random.Random(1).sample(list(permutations(facts)), 3):
        made = []
        for number, begins, ends in order:
            made += [begin(open_shop, number, begins).document, pause(open_shop, number, ends).document]
        known = work_time.bench_clock(open_shop, build.at("2026-01-07"))
        found.add(tuple(sorted(known.minutes.items())))
        for document in reversed(made):
            undo.undo(open_shop, document, build.stamp("2026-01-08"))
    assert found == {(("A", 35), ("B", 30))}


def test_earnings_an_hour_go_by_measured_minutes(open_shop: Book) -> None:
    number = taken(open_shop, "T1")
    pause(open_shop, number, "06 09:00", minutes=20)
    bench.finish_ticket(open_shop, number, build.stamp("2026-01-06 10:00"))
    bench.finish_at_once(open_shop, HEELS, build.stamp("2026-01-06 11:00"))
    (group,) = margins_of(open_shop, from_to(date(2026, 1, 1), date(2026, 1, 31)), "job").groups
    assert (group.minutes, group.measured) == (20 + 10, 1)
    assert group.per_hour == round(group.margin * 60 / 30)
    assert group.hour_least is not None
    assert group.hour_most is not None
    assert group.hour_least < group.per_hour < group.hour_most


def test_where_all_take_the_same_time_the_hour_lies_where_the_mean_does() -> None:
    margins = [12_000, 15_500, 9_000, 13_000]
    least, most = mean_interval(margins)
    assert least is not None
    assert most is not None
    low, high = hour_interval([(each, 30) for each in margins])
    assert low == pytest.approx(2 * least, abs=2)
    assert high == pytest.approx(2 * most, abs=2)


def test_a_promise_minds_the_bench(open_shop: Book) -> None:
    now = build.at("2026-01-06 09:00")
    wanted, stamp = HEELS, build.stamp(now)

    def promised() -> tuple[date | None, date | None]:
        found = can_do_job(open_shop, look_ahead(open_shop, now, n_paths=200), wanted, stamp)
        return found.day, found.by_materials

    free, alone = promised()
    assert free == alone, "where the hours are not known they are not looked at"
    change_settings(open_shop, {"open_hours": "Mon-Sat 9:00-10:00", "open_weekdays": "Mon Tue Wed Thu Fri Sat"}, at=now)
    short = promised()[0]
    assert short == date(2026, 1, 6)
    for n in range(6):  # of 10 minutes each, by the price list
        taken(open_shop, f"Q{n}", promised=date(2026, 1, 6))
    assert promised() == (date(2026, 1, 7), date(2026, 1, 6)), "the hour of today is promised"
    change_settings(open_shop, {"bench_heads": "2"}, at=now)
    assert promised()[0] == date(2026, 1, 6)


@pytest.mark.parametrize("seed", range(3))
def test_the_clock_of_some_tickets_is_the_clock_of_all_so_far_as_they_go(open_shop: Book, seed: int) -> None:
    """What a page reads of the days of one ticket, and of the newest days, is what all years together say of it."""
    dice = random.Random(seed)
    numbers = [taken(open_shop, f"T{n}") for n in range(8)]
    for day in range(6, 12):
        for minute in sorted(dice.sample(range(9 * 60, 17 * 60), 14)):
            number, when = dice.choice(numbers), f"{day:02d} {minute // 60:02d}:{minute % 60:02d}"
            with suppress(RefusedError):
                dice.choice((begin, begin, partial(pause, minutes=dice.choice((None, None, 15)))))(
                    open_shop, number, when
                )
            if dice.random() < 0.05:
                with suppress(RefusedError):
                    bench.finish_ticket(open_shop, number, build.stamp(f"2026-01-{when}"))
    for now in ("2026-01-08 12:00", "2026-01-12 08:00"):
        every = work_time.bench_clock(open_shop, build.at(now))
        for some in ([], numbers[:1], numbers[2:5], numbers):
            assert work_time.bench_clock(open_shop, build.at(now), some) == every.only(some)
        with open_shop.reading() as session:
            newest = work_time.clock(session, build.at(now), numbers[:1], since=build.at("2026-01-09 00:00"))
        assert newest == every.only({each.ticket for each in newest.stretches} | set(newest.minutes) | newest.done)
        assert {each.ticket for each in every.stretches if each.began >= build.at("2026-01-09 00:00")} - {
            each.ticket for each in every.stretches if each.began < build.at("2026-01-09 00:00")
        } <= {each.ticket for each in newest.stretches}


def test_what_jobs_take_is_learnt_from_the_newest_work(open_shop: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work_time, "NEWEST", 2)
    for day, long in ((6, 50), (7, 20), (8, 22)):
        number = taken(open_shop, f"T{day}")
        begin(open_shop, number, f"{day:02d} 09:00")
        bench.finish_ticket(open_shop, number, build.stamp(f"2026-01-{day:02d} 09:{long}"))
    learnt = work_time.bench_state(open_shop, build.at("2026-01-09 09:00")).jobs["HEELS"]
    assert (learnt.tickets, learnt.mean) == (2, 21.0)
