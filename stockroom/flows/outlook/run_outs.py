"""Look ahead: what runs out, when, which tickets it holds up, and when to order at the latest."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.long_run import homes
from stockroom.buying.problem import Promise, WhatIf
from stockroom.buying.risk import Booked, HeldUp, RunOuts, WorkedDays, held_up, latest_orders, runouts
from stockroom.counting.shelf_posterior import NINE_IN_TEN, ShelfPosterior, roughly, samples
from stockroom.demand.chance import Chance
from stockroom.demand.history import DAYS_IN_WEEK
from stockroom.errors import StockroomError, UnknownError
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.learning.lessons import NOTHING_LEARNT, Teaching, keep, learnt_from, posteriors, teaching
from stockroom.flows.outlook.futures import N_PATHS, DemandFutures, first_day_ahead, futures
from stockroom.flows.outlook.one_way import leant, needed
from stockroom.flows.outlook.problem import BookProblem, question
from stockroom.flows.outlook.stockouts import Spells, find_stockouts
from stockroom.phrases import joined, phrase, plural
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.lists import RunOutRow
from stockroom.stock.materials import Family, Material
from stockroom.stock.orders import Order
from stockroom.stock.quantities import NANO
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState
from stockroom.store.book import Book
from stockroom.store.orders import OPEN

SEED = 20_260_101  # the same book on the same day gives the same outlook
ORDER_WEEKS = 26  # an order that reaches free carriage may last long: judge it over half a year at least
LIKELY = 0.1  # a material is listed when it runs out in one future of ten
QUANTILES = (0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95)  # of a week's use, for whoever draws it
AT_RISK = 0.2  # a ticket is named when it is held up in one future of five
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Promised:
    """A big job promised for a day, to try before saying yes."""

    job: str
    count: int
    day: date


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """The outlook of a book as of a moment."""

    known: BookSnapshot
    futures: DemandFutures
    question: BookProblem
    runs: RunOuts
    order_by: Floats  # (n_materials,) days from now
    tickets: tuple[HeldUp, ...]
    believed: Mapping[str, ShelfPosterior]  # how sure the book can be of each shelf


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutlookFacts:
    """What is read of a book to look ahead: its facts, actual usage by the counts, and stockouts."""

    known: BookSnapshot
    taught: Teaching
    dry: Spells


@dataclass(frozen=True, slots=True, kw_only=True)
class WeekAhead:
    """What will be used of a material in one week, in base units."""

    material: Material
    week: date  # its first day
    mean: float
    quantiles: tuple[float, ...]  # at QUANTILES


def look_ahead(
    book: Book,
    moment: datetime,
    *,
    weeks: int | None = None,
    site: str | None = None,
    n_paths: int = N_PATHS,
    models: str = "",
    alone: bool = False,
) -> Outlook:
    """Work out the outlook of a book as of a moment, by the models named or those of the shop's setting.

    It is drawn over the weeks that orders are judged over, and shown over those asked for: a run-out has one date.
    `alone`: each material by itself, whatever does its work or comes by itself, to be held against its own moves.
    """
    read = read_for_outlook(book, moment, site=site)
    if alone:
        read = replace(read, known=read.known.without_agreements())
    if models:
        read = replace(read, known=replace(read.known, shop=replace(read.known.shop, forecast_models=models)))
    shown = weeks or read.known.shop.outlook_weeks
    return within(outlook(read, weeks=max(ORDER_WEEKS, shown), n_paths=n_paths), shown)


def within(seen: Outlook, weeks: int) -> Outlook:
    """Show the first weeks of an outlook only: what lies beyond them is 'not within the outlook'."""
    ahead, runs, days = seen.futures, seen.runs, weeks * 7.0
    near = {
        name: np.where(getattr(runs, name) <= days, getattr(runs, name), np.inf) for name in ("early", "median", "late")
    }
    return replace(
        seen,
        futures=replace(
            ahead, use=ahead.use[:, :, :weeks], sales=ahead.sales[:, :, :weeks], lost=ahead.lost[:, :, :weeks]
        ),
        runs=replace(runs, chance=runs.chance[:, :weeks], **near),
    )


def read_for_outlook(book: Book, moment: datetime, *, site: str | None = None) -> OutlookFacts:
    """Read the book as of a moment, with what its counts teach."""
    with book.reading() as session:
        facts = book_snapshot(session, moment, site=site)
        taught = teaching(session, moment, site=site)
        dry = find_stockouts(session, {code for code, _, _ in facts.sales}, moment, site=site)
    if taught.mark:
        keep(book, taught)
    return OutlookFacts(known=facts, taught=taught, dry=dry)


def outlook(
    read: OutlookFacts,
    *,
    weeks: int | None = None,
    n_paths: int = N_PATHS,
    what_if: WhatIf | None = None,
    promised: Sequence[Promised] = (),
) -> Outlook:
    """Work out the outlook of what was read.

    Unless the shop's setting says otherwise, jobs use what counts say they use, before any proposal is accepted.
    What lies on the shelf is a belief in any case: the book's figure after a count is less sure by the work since.
    """
    facts, believed = read.known, posteriors(read.taught)
    rng = np.random.default_rng(SEED)
    learnt = learnt_from(read.taught) if facts.shop.use_learnt else NOTHING_LEARNT
    ahead = futures(facts, rng, weeks=weeks or facts.shop.outlook_weeks, n_paths=n_paths, learnt=learnt, dry=read.dry)
    pieces, chance = facts.whole_pieces, Chance(seed=SEED)
    shelves = {
        code: samples(believed[code], chance.of("shelf", code), n_paths, pieces=code in pieces, use=ahead.beyond[:, n])
        for n, code in enumerate(ahead.codes)
        if code in believed
    }
    tried = replace(what_if or WhatIf(), promises=tuple(_promise(facts, ahead, each) for each in promised))
    asked = question(facts, ahead, rng, on_hand=shelves, what_if=tried)
    runs = runouts(asked.problem, worked_days(facts, ahead.use.shape[2]))
    return Outlook(
        known=facts,
        futures=ahead,
        question=asked,
        runs=runs,
        order_by=latest_orders(asked.problem, runs, homes(asked.problem)[asked.pools.mains(len(ahead.codes))]),
        tickets=_held_up(asked, ahead, pieces),
        believed=believed,
    )


def worked_days(facts: BookSnapshot, weeks: int) -> WorkedDays:
    """Say on which days of the weeks ahead the shop works."""
    first = first_day_ahead(facts)
    works = [facts.open_days.is_open(first + timedelta(days=n)) for n in range(weeks * DAYS_IN_WEEK)]
    return WorkedDays(works=np.array(works).reshape(weeks, DAYS_IN_WEEK), begins=(first - facts.day).days)


def _held_up(asked: BookProblem, ahead: DemandFutures, whole: Collection[str]) -> tuple[HeldUp, ...]:
    """Say which tickets may lack a part; what does its work is as good."""
    pools, pieces = asked.pools, np.array([code in whole for code in ahead.codes], dtype=np.bool_)
    booked = [
        Booked(name=ticket.number, needs=np.where(pieces, need.round(), need), day=max(day, 0.0))
        for ticket, need, day in ahead.booked
    ]
    found = held_up(asked.problem, with_substitutes(asked, booked))
    return tuple(
        replace(each, item=pools.needed(needed(each.item, pools.together(ticket.needs), asked.leanings), need))
        for each, ticket, (_, need, _) in zip(found, booked, ahead.booked, strict=True)
    )


def with_substitutes(asked: BookProblem, booked: Sequence[Booked]) -> list[Booked]:
    """Let tickets take what does the work of what they need, where that is one with it or leant on."""
    wanted = [(asked.pools.together(each.needs), each.day) for each in booked]
    needs = leant(asked.problem, asked.leanings, wanted) if asked.leanings else [need for need, _ in wanted]
    return [replace(each, needs=need) for each, need in zip(booked, needs, strict=True)]


def _promise(facts: BookSnapshot, ahead: DemandFutures, promised: Promised) -> Promise:
    """Work out what a promised number of jobs takes off the shelves, by what such jobs usually use."""
    rows = [n for n, job in enumerate(ahead.streams.jobs) if job == promised.job]
    if not rows:
        raise UnknownError(
            phrase("No %(job)s was ever taken in, so its use can't be told.", job=promised.job),
            fix="Take it in as tickets.",
        )
    weights = np.bincount(ahead.streams.facts.series, minlength=len(ahead.streams.jobs))[rows]
    if not weights.sum():  # never taken in: by its recipe
        weights = np.ones(len(rows), dtype=np.intp)
    usual = weights @ ahead.streams.uses[rows] / weights.sum()
    days = float((promised.day - facts.day).days)
    return Promise(name=f"{promised.count} {promised.job}", needs=usual * promised.count, day=max(days, 0.0))


def run_out_rows(seen: Outlook) -> list[RunOutRow]:
    """List the materials in use, the soonest to run out first; not offcuts that only stand in for their sheet."""
    aside, formats = _set_aside(seen.known), formats_of(seen.known.shop)
    wanted = [not _stands_in(seen.known, material) for material in seen.known.materials]
    found = [_row(seen, n, aside, formats) for n, use in enumerate(wanted) if use and _use_of(seen, n).any()]
    return sorted(found, key=lambda row: (row.runs_out or date.max, -row.chance, row.material))


def weekly_forecast(seen: Outlook) -> list[WeekAhead]:
    """Say what will be used of each material in use, week by week: the mean and quantiles of its futures."""
    use, start = seen.futures.use, first_day_ahead(seen.known)
    named = [n for n in range(len(seen.futures.codes)) if use[:, n].any()]
    cuts = np.quantile(use[:, named], QUANTILES, axis=0)
    means = use[:, named].mean(axis=0)
    return [
        WeekAhead(
            material=seen.known.materials[n],
            week=start + timedelta(weeks=week),
            mean=float(means[at, week]),
            quantiles=tuple(float(cut) for cut in cuts[:, at, week]),
        )
        for at, n in enumerate(named)
        for week in range(use.shape[2])
    ]


def _use_of(seen: Outlook, n: int) -> Floats:
    """Give what is used of a material; of what does another's work one way, with that work."""
    if any(n in (each.item, each.on) for each in seen.question.leanings):
        return seen.question.problem.use[:, n]
    return seen.futures.use[:, n]


def _row(seen: Outlook, n: int, aside: Counter[str], formats: Formats) -> RunOutRow:
    material = seen.known.materials[n]
    median = float(seen.runs.median[n])
    on_hand = seen.known.on_hand.get(material.code, 0)
    use = float(_use_of(seen, n).mean())
    coming = sum(
        line.outstanding
        for order in open_orders_of(seen.known, material.code)
        for line in order.lines
        if line.material == material.code
    )
    return RunOutRow(
        material=material.code,
        name=material.name,
        unit=material.unit,
        free=on_hand - aside[material.code],
        weekly_use=use,
        on_order=coming,
        days_left=int(median) if np.isfinite(median) else None,
        runs_out=_day(seen, median),
        earliest=_day(seen, float(seen.runs.early[n])),
        latest=_day(seen, float(seen.runs.late[n])),
        chance_by_week=tuple(float(c) for c in seen.runs.chance[n]),
        order_by=_day(seen, float(seen.order_by[n])),
        tickets_at_risk=tuple(t.name for t in seen.tickets if t.item == n and t.chance >= AT_RISK),
        why=why(seen.known, material, formats, believed=seen.believed.get(material.code), weekly_use=use),
    )


def _stands_in(known: BookSnapshot, material: Material) -> bool:
    """Say whether it is an offcut nobody sells and no recipe asks for: without it, the sheet is cut."""
    if material.family != Family.OFFCUTS or any(offer.material == material.code for offer in known.offers):
        return False
    asked = {line.material for versions in known.recipes.values() for each in versions for line in each.lines}
    return not asked & {material.code, material.group}


def _set_aside(known: BookSnapshot) -> Counter[str]:
    """Add up what open tickets will take by their recipes, in nano by material: the shelf list's own figure."""
    box = RecipeBox(known.recipes, known.shelf)
    total: Counter[str] = Counter()
    for ticket in known.tickets:
        if ticket.state is TicketState.BOOKED:
            with suppress(StockroomError):  # a ticket whose parts are unclear sets nothing aside
                for need in box.to_come(ticket, known.day):
                    total[need.material] += need.nano
    return total


def _day(seen: Outlook, days: float) -> date | None:
    return seen.known.day + timedelta(days=int(days)) if np.isfinite(days) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class AtRisk:
    """A open ticket, the chance that a part is missing on its day, and the part most often missing."""

    ticket: Ticket
    chance: float  # 0 to 1
    material: str = ""  # code; empty where nothing is missing in any future

    @property
    def promised(self) -> date | None:
        """The day it is promised for."""
        return self.ticket.promised


def tickets_at_risk(seen: Outlook) -> Sequence[AtRisk]:
    """List the open tickets, the likeliest to be held up first."""
    codes = seen.futures.codes
    found = [
        AtRisk(ticket=ticket, chance=held.chance, material=codes[held.item] if held.item >= 0 else "")
        for (ticket, _, _), held in zip(seen.futures.booked, seen.tickets, strict=True)
    ]
    return sorted(found, key=lambda each: (-each.chance, each.promised or date.max, each.ticket.number))


LONG_AGO = 8  # weeks without a count that are worth a word
UNSURE = 0.25  # of what is there, or of a week's use, that the book could be out by before it is worth a word
WORTH_A_WORD = 0.05  # of a lot that would be left when it expires


def why(
    known: BookSnapshot, material: Material, formats: Formats, *, believed: ShelfPosterior | None, weekly_use: float
) -> str:
    """Say what stands behind a row of the run-outs; nothing where the figures speak for themselves."""
    said = [
        _below_zero(known, material),
        _spoiling(known, material, formats, weekly_use),
        *(_late(order, known.day) for order in open_orders_of(known, material.code)),
        _uncounted(known, material, formats, believed, weekly_use),
    ]
    return joined(said, ". ")


def _below_zero(known: BookSnapshot, material: Material) -> str:
    if known.on_hand.get(material.code, 0) >= 0:
        return ""
    return phrase("The book is below zero: enter the missing delivery, or count")


def _spoiling(known: BookSnapshot, material: Material, formats: Formats, weekly_use: float) -> str:
    """Name what has expired, or the first lot of which something is likely to be left when it does."""
    there, lots = 0, known.lots.get(material.code, ())
    for lot in lots:
        there += lot.nano
        if lot.expiry is None:
            continue
        days = max((lot.expiry - known.day).days, 0)
        lost = min(there - round(weekly_use * days / DAYS_IN_WEEK * NANO), lot.nano)
        if lost > WORTH_A_WORD * lot.nano:
            much = round(roughly(lost / NANO) * NANO)
            facts = {"amount": formats.told(much, material.unit), "day": formats.day(lot.expiry)}
            if lot.expired(known.day):
                return phrase("%(amount)s expired on %(day)s: write it off, or count", **facts)
            return phrase("%(amount)s would expire unused on %(day)s", **facts)
    return ""


def open_orders_of(known: BookSnapshot, code: str) -> list[Order]:
    """Give the orders of which some of a material is outstanding."""
    mine = [order for order in known.orders if order.state in OPEN]
    return [order for order in mine if any(line.material == code and line.outstanding for line in order.lines)]


def _late(order: Order, today: date) -> str:
    if order.expected is None:
        return phrase("Waits for order %(order)s", order=order.number)
    days = (today - order.expected).days
    if days <= 0:
        return phrase("Waits for order %(order)s", order=order.number)
    return plural(
        "Waits for order %(order)s, %(num)s day late",
        "Waits for order %(order)s, %(num)s days late",
        days,
        order=order.number,
    )


def _uncounted(
    known: BookSnapshot, material: Material, formats: Formats, believed: ShelfPosterior | None, use: float
) -> str:
    if believed is None:
        return ""
    weeks = _weeks_since(known.last_counted.get(material.code), known.moment)
    if weeks is not None and weeks < LONG_AGO:
        return ""
    out = NINE_IN_TEN * believed.spread
    if out <= UNSURE * max(known.on_hand.get(material.code, 0) / NANO, use):
        return ""
    much = formats.told(round(roughly(out) * NANO), material.unit)
    if weeks is None:
        return phrase("Never counted: could be out by %(amount)s", amount=much)
    return phrase("Not counted for %(weeks)s weeks: could be out by %(amount)s", weeks=weeks, amount=much)


def _weeks_since(counted: datetime | None, now: datetime) -> int | None:
    return None if counted is None else (now - counted).days // 7
