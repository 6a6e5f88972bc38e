"""Can I do this job: what is missing, when it would be there, and the earliest day that can honestly be promised."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np

from stockroom.buying.long_run import single_prices
from stockroom.buying.problem import BoolArray, IntArray, OnTheWay, OrderProblem
from stockroom.buying.risk import Booked, HeldUp, held_up
from stockroom.demand.bench_queue import ahead_of, minutes_in_futures
from stockroom.flows.bench.in_place import InPlace, in_place
from stockroom.flows.bench.shelf import set_aside
from stockroom.flows.bench.tickets import Wanted, find_job, would_take
from stockroom.flows.bench.work_time import BenchState, bench_state
from stockroom.flows.outlook.problem import BookProblem
from stockroom.flows.outlook.run_outs import Floats, Outlook, with_substitutes
from stockroom.stock.agreements import who_does_it
from stockroom.stock.materials import Material
from stockroom.stock.postings import Stamp
from stockroom.stock.quantities import NANO
from stockroom.stock.recipes import Need, recipe_catalogue
from stockroom.store import agreements, catalogue, ledger
from stockroom.store.book import Book

SURE = 0.9  # a day is promised where nine futures of ten keep it
FARTHEST = 90  # days looked at
_NEW = "the job asked for"


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """A material of which less is free than the job takes."""

    material: str
    nano: int  # how much is missing
    there: date | None  # median day on which it would be there; None: no supplier has it
    ordered: bool  # whether that is on order already, or would have to be ordered now
    supplier: str = ""  # of whom it would be ordered


@dataclass(frozen=True, slots=True, kw_only=True)
class CanDoJob:
    """The answer: what the job takes, what is missing, and the days."""

    takes: tuple[Need, ...]
    lacking: tuple[Lacking, ...]
    today: float  # chance that all of it is free today
    day: date | None  # the earliest open day kept in so many futures; None within the time looked at
    chance: float  # of keeping that day
    by_day: tuple[tuple[date, float], ...]  # the chance of every open day up to it, and some beyond
    bench: "BenchPart"
    by_materials: date | None  # the earliest day were the bench free
    scarce: str = ""  # where no day is sure for its materials: the one that is lacking most often
    in_place: tuple[InPlace, ...] = ()  # of what is missing, what something else that is free does


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchPart:
    """What the bench says to a job."""

    minutes: float | None = None  # it takes; None: nobody knows
    hours_known: bool = False  # whether the shop has said when the bench works
    ahead: float = 0.0  # minutes of tickets that go first, by the day to promise
    room: float = 0.0  # minutes open from now until the end of that day
    unknown: tuple[str, ...] = ()  # tickets that go unreckoned: nobody knows how long they take

    @property
    def reckoned(self) -> bool:
        """Say whether the day minds the hours at the bench."""
        return self.hours_known and self.minutes is not None


def can_do_job(book: Book, seen: Outlook, wanted: Wanted, stamp: Stamp, *, sure: float = SURE) -> CanDoJob:
    """Say whether a job can be done, and from when.

    Parameters
    ----------
    book : Book
        The book.
    seen : Outlook
        Its outlook.
    wanted : Wanted
        The job, with size and choices.
    stamp : Stamp
        Now.
    sure : float
        The share of futures in which the day must be kept.

    Notes
    -----
    The materials are looked at together, in each future: a day is kept where all of them are there. Open tickets go
    first, those promised until that day; what counts as on its way is what is ordered, and, of what is missing, what
    whoever comes first would bring if it were ordered on his next order day. The bench is looked at in the same
    futures: the minutes of all that goes first and of the job itself must fit into the hours open until then, and the
    job's own into those left once its materials are there. More work waiting never gives an earlier day, more hours
    never a later one.
    """
    takes = would_take(book, wanted, stamp)
    needs = _amounts(takes, seen.futures.codes)
    instead, short = _in_place(seen, takes)
    problem, lacking = _if_ordered_now(seen, needs, short)
    question = replace(seen.question, problem=problem)
    ahead = [seen.known.day + timedelta(days=n) for n in range(FARTHEST)]
    tickets = [Booked(name=t.number, needs=need, day=max(day, 0.0)) for t, need, day in seen.futures.booked]
    days = [day for day in ahead if seen.known.open_days.is_open(day)]
    held = [_held(question, tickets, needs, (day - seen.known.day).days) for day in days]
    there = [~each.short for each in held]
    bench = bench_state(book, seen.known.moment)
    minutes = bench.minutes_of(find_job(book, wanted.job), wanted.shoes)
    worked = _worked(bench, minutes, days, there)
    kept = [(day, float(ready.mean())) for day, ready in zip(days, worked, strict=True)]
    first = next(((day, chance) for day, chance in kept if chance >= sure), None)
    alone = next((day for day, ready in zip(days, there, strict=True) if ready.mean() >= sure), None)
    shown = kept if first is None else [each for each in kept if each[0] <= first[0] + timedelta(days=7)]
    return CanDoJob(
        takes=takes,
        lacking=tuple(lacking),
        today=float((~_held(question, tickets, needs, 0).short).mean()),
        day=first[0] if first else None,
        chance=first[1] if first else max((chance for _, chance in kept), default=0.0),
        by_day=tuple(shown),
        bench=_part(bench, minutes, first[0] if first else None),
        by_materials=alone,
        scarce="" if alone or not held else _scarcest(seen, min(held, key=lambda each: each.chance)),
        in_place=instead,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class FreeNow:
    """What a job would take, and what no open ticket has a claim on."""

    takes: tuple[Need, ...]
    free: Mapping[str, int]  # nano
    materials: Mapping[str, Material]
    in_place: tuple[InPlace, ...]  # what may be used in place of what is lacking


def free_now(book: Book, wanted: Wanted, stamp: Stamp) -> FreeNow:
    """Say what a job would take and what is free of it now, without looking ahead."""
    takes = would_take(book, wanted, stamp)
    with book.reading() as session:
        materials = catalogue.read_materials(session)
        aside = set_aside(session, recipe_catalogue(materials)).by_material
        on_hand = ledger.balances(session)
        substitutes = agreements.read_substitutes(session)
    known = {m.code: m for m in materials}
    free = {code: on_hand.get(code, 0) - aside.get(code, 0) for code in known}
    instead, _ = in_place(takes, free, who_does_it(substitutes, known))
    return FreeNow(takes=takes, free=free, materials=known, in_place=instead)


def _amounts(takes: Sequence[Need], codes: Sequence[str]) -> Floats:
    column = {code: n for n, code in enumerate(codes)}
    needs = np.zeros(len(codes))
    for need in takes:
        needs[column[need.material]] += need.nano / NANO
    return needs


def _worked(
    bench: BenchState, minutes: float | None, days: Sequence[date], there: Sequence[BoolArray]
) -> Sequence[BoolArray]:
    """Say in which futures a job is worked by each day, given those in which its materials are there."""
    if bench.hours is None or minutes is None or not days:
        return there
    found, n_paths = [], len(there[0])
    since = np.zeros(n_paths)  # minutes open before the day from which the materials have been there
    before = 0.0
    for day, ready in zip(days, there, strict=True):
        since = np.where(ready, since, np.inf)
        since = np.where(ready & np.isinf(since), before, since)
        room = float(bench.hours.until(bench.now, day))
        takes = minutes_in_futures(ahead_of(bench.queue, day) + minutes, bench.scale, n_paths)
        found.append(ready & (takes <= room) & (minutes <= room - since))
        before = room
    return found


def _part(bench: BenchState, minutes: float | None, day: date | None) -> BenchPart:
    reckoned = bench.hours is not None and day is not None
    return BenchPart(
        minutes=minutes,
        hours_known=bench.hours is not None,
        ahead=ahead_of(bench.queue, day) if day is not None else 0.0,
        room=float(bench.hours.until(bench.now, day)) if reckoned and bench.hours and day else 0.0,
        unknown=bench.unknown,
    )


def _scarcest(seen: Outlook, held: HeldUp) -> str:
    return seen.futures.codes[held.item] if held.item >= 0 else ""


def _held(asked: BookProblem, tickets: Sequence[Booked], needs: Floats, day: int) -> HeldUp:
    """Say in which futures something is missing on a day, once the tickets promised until then have theirs."""
    before = [ticket for ticket in tickets if ticket.day <= day]
    mine = Booked(name=_NEW, needs=needs, day=day + 0.5)  # in the course of the day: goods come in the morning
    return held_up(asked.problem, with_substitutes(asked, [*before, mine]))[-1]


def _in_place(seen: Outlook, takes: Sequence[Need]) -> tuple[tuple[InPlace, ...], dict[str, int]]:
    """Say what is free in place of what is missing, and what is missing still, by material."""
    codes, known = seen.futures.codes, seen.known
    reserved = sum((need for _, need, _ in seen.futures.booked), np.zeros(len(codes)))
    free = {code: max(known.on_hand.get(code, 0), 0) - round(float(reserved[n]) * NANO) for n, code in enumerate(codes)}
    return in_place(takes, free, who_does_it(known.substitutes, known.shelf.materials))


def _if_ordered_now(seen: Outlook, needs: Floats, short: Mapping[str, int]) -> tuple[OrderProblem, list[Lacking]]:
    """Put what is missing on its way from whoever brings it first, whatever does the same work with it."""
    asked, codes = seen.question, seen.futures.codes
    problem, first = asked.problem, _first_to_come(asked.problem)[asked.pools.mains(len(codes))]
    items, lacking = list(problem.items), []
    for n, code in enumerate(codes):
        lack = short.get(code, 0) / NANO
        if lack <= 0:
            continue
        coming = sum(each.quantity for each in items[n].coming)
        if coming >= lack - 1e-9:
            day = float(np.median(np.concatenate([np.atleast_1d(each.arrives) for each in items[n].coming])))
            lacking.append(_missing(seen, code, lack, day, ordered=True))
            continue
        if first[n] < 0:
            lacking.append(_missing(seen, code, lack, None, ordered=False))
            continue
        supplier = problem.suppliers[first[n]]
        arrives = np.broadcast_to(supplier.leads, (problem.n_paths,))
        brought = np.zeros(len(codes))
        brought[n] = lack + needs[n]
        brought = asked.pools.together(brought)
        for each in np.flatnonzero(brought):
            way = OnTheWay(quantity=float(brought[each]), arrives=arrives)
            items[each] = replace(items[each], coming=(*items[each].coming, way))
        lacking.append(_missing(seen, code, lack, float(np.median(arrives)), ordered=False, supplier=supplier.name))
    return replace(problem, items=tuple(items)), lacking


def _first_to_come(problem: OrderProblem) -> IntArray:
    """Find who brings each item first, of those equally soon the cheapest; -1 if nobody does; shape (n_items,)."""
    leads = [float(np.median(each.leads)) for each in problem.suppliers]
    offers = zip(problem.offers, single_prices(problem).tolist(), strict=True)
    first = np.full(len(problem.items), -1)
    for offer, _ in sorted(offers, key=lambda each: (leads[each[0].supplier], each[1]), reverse=True):
        first[offer.item] = offer.supplier
    return first


def _missing(seen: Outlook, code: str, lack: float, day: float | None, *, ordered: bool, supplier: str = "") -> Lacking:
    there = None if day is None else seen.known.day + timedelta(days=int(np.ceil(day)))
    return Lacking(material=code, nano=round(lack * NANO), there=there, ordered=ordered, supplier=supplier)
