"""The book's history into possible futures of use, job by job and material by material."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, time, timedelta

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.history import (
    DAYS_IN_WEEK,
    Dates,
    Facts,
    Floats,
    History,
    Occasion,
    censor,
    open_share,
    week_index,
    weekly_use,
    weeks_until,
)
from stockroom.demand.lags import Ints, weeks_moved, worked
from stockroom.demand.models import named_models
from stockroom.demand.paths import Paths, around_one, explode, explode_chances, sample_paths, scaled
from stockroom.demand.streams import Streams, streams
from stockroom.errors import StockroomError
from stockroom.flows.book.snapshot import BookSnapshot
from stockroom.flows.learning.lessons import NOTHING_LEARNT, Learnt
from stockroom.flows.outlook.bench_pace import bench_pace
from stockroom.flows.outlook.said_weeks import with_said_weeks
from stockroom.flows.outlook.stockouts import Spells, short_weeks
from stockroom.stock.calendar import OpenDays
from stockroom.stock.quantities import NANO
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState

LONGEST_HISTORY = 208  # weeks looked back at: four years
N_PATHS = 300
LATE_IN_THE_DAY = time(15)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DemandFutures:
    """Sampled futures of a book: tickets to come, counter sales, and the use of every material they make.

    Parameters
    ----------
    codes : (n_materials,) tuple of str
    jobs, work : Paths
        Tickets to come, by stream: in the week they are taken in, and in the week they are worked.
    streams : Streams
        The streams and what one ticket of each uses.
    sales, lost : (n_paths, n_materials, n_weeks) float
        Counter sales, and what is written off, taken for own use or lost on no ticket, in base units.
    use : (n_paths, n_materials, n_weeks) float
        All use in base units, in the week it is worked, open tickets included.
    booked : tuple of (Ticket, (n_materials,) float, float)
        Booked tickets, what each needs, and days from now to its promise.
    """

    codes: tuple[str, ...]
    jobs: Paths
    work: Paths
    streams: Streams
    sales: Floats
    lost: Floats
    use: Floats
    booked: tuple[tuple[Ticket, Floats, float], ...]


def futures(
    known: BookSnapshot,
    rng: np.random.Generator,
    *,
    weeks: int,
    n_paths: int = N_PATHS,
    learnt: Learnt = NOTHING_LEARNT,
    dry: Spells | None = None,
    box: RecipeBox | None = None,
) -> DemandFutures:
    """Forecast tickets and sales, explode tickets through recipes, add booked work.

    Parameters
    ----------
    known : Known
        The book as of a moment; weeks are blocks of seven days counted from it.
    rng : numpy.random.Generator
        Source of chance.
    weeks, n_paths : int
        How far and how many.
    learnt : Learnt, optional
        What counts teach of the recipes; nothing by default.
    dry : mapping of str to sequence of (date, date), optional
        Days on which the book held nothing of what is sold.
    box : RecipeBox, optional
        Its recipe cards, where kept from an earlier day so that each kind of work is worked out once.

    Notes
    -----
    Tickets count on the day they are taken in, so that work held up for want of a part is demand all the same; what
    they take leaves the shelf when they are worked, as many worked days later as such jobs usually wait. An open ticket
    is worked as many days before its promise as such jobs usually are, or after the usual wait without one. A
    counter sale that never happened leaves no trace: weeks in which the material was out of stock are censored
    unless more was sold than usual (`demand.gather.censor`). A week without use while stock was there is a real zero.

    Write-offs and own use come by the occasion: how many fall in a week is forecast like sales, how much each takes is
    drawn from the past ones. What counts find lost on no ticket comes by the week worked, its rate as unsure as counts
    leave it.

    What counts teach enters twice: each job's use is multiplied by its learnt ratio, and one draw a path and material
    says how wrong these ratios may still be, for booked and future tickets alike.
    """
    codes = tuple(m.code for m in known.materials)
    box = box or RecipeBox(known.recipes, known.shelf)
    seen = with_said_weeks(known, box)
    made = as_learnt(streams(seen.tickets, box, known.day, codes), codes, learnt)
    past = _weeks(seen)
    use = weekly_use(made.facts, past, n_series=len(made.names), began=made.began)
    paths = _paths(known, _history(known, (past, weeks), use, (made.names, made.jobs)), weeks, rng, n_paths)
    sales = _sales(seen, (past, weeks), rng, n_paths, dry or {})
    lost = _lost(known, (past, weeks), rng, n_paths)
    lost += _leaked(known, learnt, (past, weeks), rng, n_paths)
    booked = _booked(known, box, codes, learnt)
    pace = bench_pace(known.tickets, known.open_days, first_day_ahead(known), weeks)
    kinds = np.array([pace.kind(job) for job in made.jobs], dtype=np.intp)
    work = worked(paths, weeks_moved(pace.waits, pace.week_of, weeks), kinds, rng)
    total = _exploded(work, made, codes, rng)
    for ticket, need, _ in booked:
        _draw(total, need, pace.weeks(ticket, rng, n_paths))
    if learnt.doubt:
        doubt = np.array([learnt.doubt.get(code, 0.0) for code in codes])
        total = scaled(total, np.ones(len(codes)), spread=doubt, rng=rng)
    amounts: Floats = total.counts
    amounts += sales
    amounts += lost
    return DemandFutures(
        codes=codes, jobs=paths, work=work, streams=made, sales=sales, lost=lost, use=amounts, booked=booked
    )


def _weeks(known: BookSnapshot) -> Dates:
    first = min((t.taken_in.date() for t in known.tickets), default=known.day)
    first = min([first, *(date.fromisoformat(day) for _, day, _ in (*known.sales, *known.waste))])
    long = max(min((known.day - first).days // DAYS_IN_WEEK, LONGEST_HISTORY), 1)
    return weeks_until(np.datetime64(first_day_ahead(known), "D"), long)


def first_day_ahead(known: BookSnapshot) -> date:
    """Say where past and future meet: a day on which most of the work is still to come belongs to the future."""
    return known.day + timedelta(days=1) if known.moment.time() >= LATE_IN_THE_DAY else known.day


def _history(
    known: BookSnapshot, span: tuple[Dates, int], use: Floats, labels: tuple[Sequence[str], Sequence[str]]
) -> History:
    """Lay weekly use beside the shop's calendar; `labels` are the names of the series and of their families."""
    before, after = _calendar(known, span)
    return History(
        use=use,
        weeks=span[0],
        groups=tuple(labels[1]),
        names=tuple(labels[0]),
        open_share=before,
        future_open=after,
        occasions=_occasions(known),
    )


def _calendar(known: BookSnapshot, span: tuple[Dates, int]) -> tuple[Floats, Floats]:
    """Give the open share of the past weeks and of those ahead."""
    past, ahead = span
    shut = _closed_days(known.open_days, past[0].astype(object), (ahead + len(past)) * DAYS_IN_WEEK)
    usual = sorted(known.open_days.weekdays)
    return open_share(past, shut, usual), open_share(_coming_weeks(past, ahead), shut, usual)


def _coming_weeks(past: Dates, ahead: int) -> Dates:
    weeks: Dates = past[-1] + np.timedelta64(DAYS_IN_WEEK, "D") * np.arange(1, ahead + 1)
    return weeks


def _paths(known: BookSnapshot, history: History, weeks: int, rng: np.random.Generator, n_paths: int) -> Paths:
    if history.n_series:
        return sample_paths(history, weeks, rng, n_paths, models=named_models(known.shop.forecast_models))
    nothing = np.zeros((n_paths, 0, weeks))
    none = np.zeros((0, weeks), dtype="datetime64[D]")
    return Paths(names=(), weeks=none, mean=np.zeros((0, weeks)), counts=nothing)


def _closed_days(open_days: OpenDays, first: date, days: int) -> Dates:
    every = (first + timedelta(days=n) for n in range(days))
    shut = [day for day in every if day.weekday() in open_days.weekdays and not open_days.is_open(day)]
    return np.array(shut, dtype="datetime64[D]")


def _occasions(known: BookSnapshot) -> tuple[Occasion, ...]:
    dates: dict[str, list[np.datetime64]] = {}
    for event in known.events:
        dates.setdefault(event.name, []).append(np.datetime64(event.day, "D"))
    return tuple(Occasion(name=name, dates=tuple(days)) for name, days in dates.items())


def _exploded(paths: Paths, made: Streams, codes: tuple[str, ...], rng: np.random.Generator) -> Paths:
    """Turn tickets into the use of materials; what one job uses moves together, chance lines fall as they may."""
    sure = made.uses.copy()
    for line in made.chances:
        sure[line.stream, line.material] -= line.amount * line.chance
    always = explode(paths, np.maximum(sure, 0.0), names=codes, dtype=np.float64)
    if made.chances:
        counts = always.counts
        counts += explode_chances(paths, made.chances, names=codes, rng=rng).counts
    return always


def _draw(total: Paths, need: Floats, weeks: Ints) -> None:
    """Let a ticket take what it needs in its week of each future."""
    within, parts = np.flatnonzero(weeks < total.horizon), np.flatnonzero(need)
    total.counts[within[:, None], parts, weeks[within, None]] += need[parts]


def as_learnt(made: Streams, codes: tuple[str, ...], learnt: Learnt) -> Streams:
    """Let the streams use what counts say their jobs really use."""
    if not learnt.ratios:
        return made
    uses = made.uses.copy()
    column = {code: n for n, code in enumerate(codes)}
    rows: dict[str, list[int]] = {}
    for n, job in enumerate(made.jobs):
        rows.setdefault(job, []).append(n)
    for job, code in learnt.ratios:
        if job in rows and code in column:
            uses[rows[job], column[code]] *= learnt.ratio(job, code)
    ratios = uses / np.where(made.uses > 0, made.uses, 1.0)
    chances = tuple(replace(c, amount=c.amount * float(ratios[c.stream, c.material])) for c in made.chances)
    return replace(made, uses=uses, chances=chances)


def _sales(known: BookSnapshot, span: tuple[Dates, int], rng: np.random.Generator, n_paths: int, dry: Spells) -> Floats:
    """Forecast counter sales in the units they are sold in, then turn them into base units."""
    materials = {m.code: m for m in known.materials}
    sold = sorted({code for code, _, _ in known.sales})
    units = np.array([float(materials[code].unit.nano) for code in sold])
    net = np.maximum(_weekly_sales(known, sold, units, span[0]), 0.0)  # more may come back in a week than is sold
    use = censor(net, short_weeks(dry, sold, span[0], known.open_days))
    groups = [materials[code].family for code in sold]
    paths = _paths(known, _history(known, span, use, (sold, groups)), span[1], rng, n_paths)
    total = np.zeros((n_paths, len(known.materials), span[1]))
    column = {m.code: n for n, m in enumerate(known.materials)}
    for n, code in enumerate(sold):
        total[:, column[code]] = paths.counts[:, n] * (units[n] / NANO)
    return total


def _weekly_sales(known: BookSnapshot, sold: Sequence[str], units: Floats, past: Dates) -> Floats:
    """Add up sales by week; a week counts from the day on which the goods were first there to be sold."""
    place = {code: n for n, code in enumerate(sold)}
    facts = Facts(
        series=np.array([place[code] for code, _, _ in known.sales], dtype=np.intp),
        dates=np.array([day for _, day, _ in known.sales], dtype="datetime64[D]"),
        quantity=np.array([-nano / units[place[code]] for code, _, nano in known.sales]),
    )
    return weekly_use(facts, past, n_series=len(sold), began=_began(known, sold, known.sales))


def _began(known: BookSnapshot, codes: Sequence[str], facts: Sequence[tuple[str, str, int]]) -> Dates:
    """Say since when each material could leave the shelf: the first time it did, or was there to."""
    first = {code: day.isoformat() for code, day in known.stocked.items()}
    for code, day, _ in facts:
        first[code] = min(first.get(code, day), day)
    return np.array([first[code] for code in codes], dtype="datetime64[D]")


def _lost(known: BookSnapshot, span: tuple[Dates, int], rng: np.random.Generator, n_paths: int) -> Floats:
    """Forecast occasions on which something is written off or taken for own use, and draw what each takes."""
    total = np.zeros((n_paths, len(known.materials), span[1]))
    gone = [each for each in known.waste if each[2] < 0 and week_index(np.array([each[1]]), span[0])[0] >= 0]
    codes = sorted({code for code, _, _ in gone})
    place = {code: n for n, code in enumerate(codes)}
    facts = Facts(
        series=np.array([place[code] for code, _, _ in gone], dtype=np.intp),
        dates=np.array([day for _, day, _ in gone], dtype="datetime64[D]"),
        quantity=np.ones(len(gone)),
    )
    use = weekly_use(facts, span[0], n_series=len(codes), began=_began(known, codes, gone))
    paths = _paths(known, _history(known, span, use, (codes, ["lost"] * len(codes))), span[1], rng, n_paths)
    column = {m.code: n for n, m in enumerate(known.materials)}
    for n, code in enumerate(codes):
        sizes = np.array([-nano / NANO for named, _, nano in gone if named == code])
        total[:, column[code]] = _drawn(paths.counts[:, n], sizes, rng)
    return total


def _drawn(times: NDArray[np.integer], sizes: Floats, rng: np.random.Generator) -> Floats:
    """Add up as many sizes as there are times, each drawn from those seen; the shape of `times`."""
    cell = np.repeat(np.arange(times.size), times.reshape(-1))
    drawn: Floats = np.zeros(times.size)
    np.add.at(drawn, cell, rng.choice(sizes, len(cell)))
    return drawn.reshape(times.shape)


def _leaked(
    known: BookSnapshot, learnt: Learnt, span: tuple[Dates, int], rng: np.random.Generator, n_paths: int
) -> Floats:
    """Draw what leaves the shelf on no ticket, as counts teach: a rate of each path's own, in the weeks worked."""
    rate = np.array([max(learnt.waste.get(m.code, 0.0), 0.0) for m in known.materials])
    unsure = np.array([learnt.waste_doubt.get(m.code, 0.0) for m in known.materials])
    return rate[:, None] * around_one(unsure, rng, n_paths)[:, :, None] * _calendar(known, span)[1]


def _booked(
    known: BookSnapshot, box: RecipeBox, codes: tuple[str, ...], learnt: Learnt
) -> tuple[tuple[Ticket, Floats, float], ...]:
    column = {code: n for n, code in enumerate(codes)}
    found = []
    for ticket in known.tickets:
        if ticket.state is not TicketState.BOOKED:
            continue
        need = np.zeros(len(codes))
        with suppress(StockroomError):  # a ticket whose parts are unclear is listed among `streams.unclear`
            for each in box.to_come(ticket, known.day):
                ratio = learnt.ratio(ticket.job, each.material)
                need[column[each.material]] += each.nano / NANO * ratio
        day = ticket.promised or known.day
        found.append((ticket, need, float((day - known.day).days)))
    return tuple(found)
