"""The book's history into possible futures of use, job by job and material by material."""

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import date, time, timedelta

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.chance import Chance, chance_from
from stockroom.demand.history import (
    DAYS_IN_WEEK,
    Borrowing,
    Dates,
    Facts,
    Floats,
    History,
    censor,
    open_share,
    week_index,
    weekly_use,
    weeks_until,
)
from stockroom.demand.lags import Ints, weeks_moved, worked
from stockroom.demand.likeness import Traits, borrowing
from stockroom.demand.models import named_models
from stockroom.demand.paths import Paths, around_one, explode, explode_chances, sample_paths
from stockroom.demand.streams import Streams, streams
from stockroom.errors import StockroomError
from stockroom.flows.book.snapshot import BookSnapshot
from stockroom.flows.learning.lessons import NOTHING_LEARNT, Learnt
from stockroom.flows.outlook.bench_pace import bench_pace
from stockroom.flows.outlook.events_ahead import (
    EventSize,
    as_sales,
    event_sizes,
    families_of,
    occasions,
    taken_out,
    usual_shares,
    with_events,
    with_more,
)
from stockroom.flows.outlook.replaced import carried_over, learnt_of_old, replacements
from stockroom.flows.outlook.said_weeks import with_said_weeks
from stockroom.flows.outlook.stockouts import Spells, short_weeks
from stockroom.stock.busy_months import STEADY, Months, busy_months, trade_months
from stockroom.stock.calendar import Event, OpenDays
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.quantities import NANO
from stockroom.stock.recipes import Job
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
    beyond : (n_paths, n_materials) float
        Each future's use by recipes over what counts teach: 1 but for their doubt.
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
    beyond: Floats
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
    says how wrong these ratios may still be, for booked and future tickets alike. What no recipe parts is used in whole
    pieces all the same.
    """
    learnt = learnt_of_old(learnt, replacements(known.materials))
    known = carried_over(known)
    codes = tuple(m.code for m in known.materials)
    box = box or RecipeBox(known.recipes, known.shelf)
    seen = with_said_weeks(known, box)
    made = as_learnt(streams(seen.tickets, box, known.day, codes, untried_jobs(seen)), codes, learnt)
    past = _weeks(seen)
    chance = chance_from(rng)
    paths = _tickets_to_come(known, made, (past, weeks), chance.of("tickets"), n_paths)
    sales = _sales(seen, (past, weeks), chance.of("sales"), n_paths, dry or {})
    lost = _lost(known, (past, weeks), chance, n_paths)
    lost += _leaked(known, learnt, (past, weeks), chance, n_paths)
    booked = _booked(known, box, codes, learnt)
    pace = bench_pace(known.tickets, known.open_days, first_day_ahead(known), weeks)
    kinds = np.array([pace.kind(job) for job in made.jobs], dtype=np.intp)
    work = worked(paths, weeks_moved(pace.waits, pace.week_of, weeks), kinds, chance)
    total = _exploded(work, made, codes, chance)
    for ticket, need, _ in booked:
        _draw(total, need, pace.weeks(ticket, chance.of("ticket", str(ticket.number)), n_paths))
    beyond = np.ones((n_paths, len(codes)))
    if learnt.doubt:
        unsure = np.array([learnt.doubt.get(code, 0.0) for code in codes])
        beyond = around_one(unsure, chance.each("doubt", codes), n_paths)
    amounts: Floats = total.counts * beyond[:, :, None]
    whole = known.whole_pieces
    pieces = np.flatnonzero([code in whole for code in codes])
    _by_the_piece(amounts, pieces, chance.each("pieces", [codes[n] for n in pieces]))
    amounts += sales
    amounts += lost
    return DemandFutures(
        codes=codes,
        jobs=paths,
        work=work,
        streams=made,
        sales=sales,
        lost=lost,
        use=amounts,
        beyond=beyond,
        booked=booked,
    )


def _tickets_to_come(
    known: BookSnapshot, made: Streams, span: tuple[Dates, int], rng: np.random.Generator, n_paths: int
) -> Paths:
    past, weeks = span
    sizes = sizes_of_events(known, past)
    use = weekly_use(made.facts, past, n_series=len(made.names), began=made.began)
    use = taken_out(use, sizes, made.jobs, past, known.open_days)
    traits = [job_traits(known, code) for code in made.jobs]
    history = _history(
        known,
        span,
        use,
        (made.names, made.jobs),
        usual_year=_usual_year(known, made.jobs),
        borrowing=borrowing(traits, _weeks_known(use)),
    )
    paths = _paths(known, history, weeks, rng, n_paths)
    own = rng.spawn(1)[0]  # so that an event more, or less, leaves the futures of all else as they were
    return with_events(paths, made, sizes, _coming_weeks(past, weeks), known.open_days, own)


def _weeks_known(use: Floats) -> list[int]:
    """Say for how many weeks each series has been there, closed or censored ones between included."""
    there = ~np.isnan(use)
    return list(np.where(there.any(axis=1), use.shape[1] - there.argmax(axis=1), 0))


def untried_jobs(known: BookSnapshot) -> dict[str, date]:
    """Give jobs without a ticket that may be asked for, and since when.

    Those that were added to the list within the last year, those that are said to be like another, and those that an
    event brings.
    """
    expected = {event.job for event in known.events if event.jobs is not None}
    taken = {ticket.job for ticket in known.tickets}
    found = {}
    for job in known.jobs:
        asked = job.active and known.recipes.get(job.code) and job.code not in taken
        if asked and (job.code in known.added or job.alike or job.code in expected):
            cards = min(recipe.valid_from for recipe in known.recipes[job.code])
            found[job.code] = known.added.get(job.code, cards)
    return found


def job_traits(known: BookSnapshot, code: str) -> Traits:
    """Say what a job is like: its family, name, price, and what it is made of."""
    job = next((each for each in known.jobs if each.code == code), None)
    if job is None:
        return Traits(code=code, name=code)
    versions = known.recipes.get(code, ())
    parts = frozenset(line.material for line in versions[-1].lines if line.material) if versions else frozenset()
    price = None if job.price is None else float(job.price)
    return Traits(code=code, name=job.name, family=job.family, price=price, parts=parts, like=job.alike)


def sizes_of_events(known: BookSnapshot, past: Dates) -> tuple[EventSize, ...]:
    """Say what each event of the book is taken to bring."""
    return event_sizes(known.events, first_day_ahead(known), past[0].astype(object))


def _usual_year(known: BookSnapshot, jobs: Sequence[str]) -> Floats | None:
    """Give the year expected of each job: in its words, those of the shop, or as is usual in the trade."""
    by_code = {job.code: job for job in known.jobs}
    rows = [_year_of(by_code.get(code), known.shop.season) for code in jobs]
    return np.array(rows) if any(row != STEADY for row in rows) else None


def _year_of(job: Job | None, shop: str) -> Months:
    if job is not None and job.season:
        return busy_months(job.season)
    if shop or job is None:
        return busy_months(shop)
    return trade_months(job.family, job.name)


def _weeks(known: BookSnapshot) -> Dates:
    first = min((t.taken_in.date() for t in known.tickets), default=known.day)
    first = min([first, *(date.fromisoformat(day) for _, day, _ in (*known.sales, *known.waste))])
    long = max(min((known.day - first).days // DAYS_IN_WEEK, LONGEST_HISTORY), 1)
    return weeks_until(np.datetime64(first_day_ahead(known), "D"), long)


def first_day_ahead(known: BookSnapshot) -> date:
    """Say where past and future meet: a day on which most of the work is still to come belongs to the future."""
    return known.day + timedelta(days=1) if known.moment.time() >= LATE_IN_THE_DAY else known.day


def _history(
    known: BookSnapshot,
    span: tuple[Dates, int],
    use: Floats,
    labels: tuple[Sequence[str], Sequence[str]],
    *,
    usual_year: Floats | None = None,
    borrowing: Borrowing | None = None,
) -> History:
    """Lay weekly use beside the shop's calendar; `labels` are the names of the series and of their families."""
    past, ahead = span
    before, after = _calendar(known, span)
    sizes, families = sizes_of_events(known, past), families_of(known.jobs)
    usual, coming = (
        usual_shares(sizes, labels[1], families, weeks, known.open_days) for weeks in (past, _coming_weeks(past, ahead))
    )
    return History(
        use=use,
        weeks=past,
        groups=tuple(labels[1]),
        names=tuple(labels[0]),
        open_share=before * usual,
        future_open=after * coming,
        occasions=occasions(sizes, families),
        usual_year=usual_year,
        borrowing=borrowing,
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


def _exploded(paths: Paths, made: Streams, codes: tuple[str, ...], chance: Chance) -> Paths:
    """Turn tickets into the use of materials; what one job uses moves together, chance lines fall as they may."""
    sure = made.uses.copy()
    for line in made.chances:
        sure[line.stream, line.material] -= line.amount * line.chance
    always = explode(paths, np.maximum(sure, 0.0), names=codes, dtype=np.float64)
    if made.chances:
        counts = always.counts
        counts += explode_chances(paths, made.chances, names=codes, chance=chance).counts
    return always


def _by_the_piece(amounts: Floats, pieces: Ints, own: Sequence[np.random.Generator]) -> None:
    """Let pieces be used whole: by each week's end as many as by their mean, up or down to a whole one by chance.

    Two pieces times what counts say of the recipe are 2.02, and would seem one too many for two that are there.
    """
    for piece, rng in zip(pieces.tolist(), own, strict=True):
        due = amounts[:, piece].cumsum(axis=1) + rng.random((len(amounts), 1))
        amounts[:, piece] = np.diff(np.floor(due), axis=1, prepend=0.0)


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
    sold = sorted({code for code, _, _ in known.sales} | unsold(known))
    units = np.array([float(materials[code].unit.nano) for code in sold])
    net = np.maximum(_weekly_sales(known, sold, units, span[0]), 0.0)  # more may come back in a week than is sold
    events = as_sales(sizes_of_events(known, span[0]))
    net = taken_out(net, events, sold, span[0], known.open_days)
    use = censor(net, short_weeks(dry, sold, span[0], known.open_days))
    groups = [materials[code].family for code in sold]
    traits = [_sale_traits(materials[code]) for code in sold]
    borrowed = borrowing(traits, _weeks_known(use))
    year = np.array([busy_months(known.shop.season)] * len(sold)) if known.shop.season and sold else None
    history = _history(known, span, use, (sold, groups), usual_year=year, borrowing=borrowed)
    paths = _paths(known, history, span[1], rng, n_paths)
    if events:
        calendar, own = (_coming_weeks(*span), known.open_days), rng.spawn(1)[0]
        paths = with_more(paths, (sold, np.ones(len(sold))), events, calendar, own)
    total = np.zeros((n_paths, len(known.materials), span[1]))
    column = {m.code: n for n, m in enumerate(known.materials)}
    for n, code in enumerate(sold):
        total[:, column[code]] = paths.counts[:, n] * (units[n] / NANO)
    return total


def unsold(known: BookSnapshot) -> set[str]:
    """Give materials that were never sold and may be.

    New ones on the shelf, those that are said to be like one, and those that an event sells.
    """
    sold = {code for code, _, _ in known.sales}
    expected = {event.material for event in known.events if event.material}
    return {
        m.code
        for m in known.materials
        if m.active and m.sell_price and m.purpose is not Purpose.BENCH and m.code not in sold
        if m.alike or m.code in expected or (m.code in known.added and m.code in known.stocked)
    }


def _sale_traits(material: Material) -> Traits:
    price = float(material.sell_price) if material.sell_price else None
    return Traits(code=material.code, name=material.name, family=material.family, price=price, like=material.alike)


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
    return np.array([first.get(code, "NaT") for code in codes], dtype="datetime64[D]")


def _lost(known: BookSnapshot, span: tuple[Dates, int], chance: Chance, n_paths: int) -> Floats:
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
    past = _history(known, span, use, (codes, ["lost"] * len(codes)))
    paths = _paths(known, past, span[1], chance.of("lost"), n_paths)
    column = {m.code: n for n, m in enumerate(known.materials)}
    for n, code in enumerate(codes):
        sizes = np.array([-nano / NANO for named, _, nano in gone if named == code])
        total[:, column[code]] = _drawn(paths.counts[:, n], sizes, chance.of("size", code))
    return total


def _drawn(times: NDArray[np.integer], sizes: Floats, rng: np.random.Generator) -> Floats:
    """Add up as many sizes as there are times, each drawn from those seen; the shape of `times`."""
    cell = np.repeat(np.arange(times.size), times.reshape(-1))
    drawn: Floats = np.zeros(times.size)
    np.add.at(drawn, cell, rng.choice(sizes, len(cell)))
    return drawn.reshape(times.shape)


def _leaked(known: BookSnapshot, learnt: Learnt, span: tuple[Dates, int], chance: Chance, n_paths: int) -> Floats:
    """Draw what leaves the shelf on no ticket, as counts teach: a rate of each path's own, in the weeks worked.

    Pieces go by whole ones: were a hundredth of one to go each week, every empty shelf would fall short at once.
    """
    rate = np.array([max(learnt.waste.get(m.code, 0.0), 0.0) for m in known.materials])
    unsure = np.array([learnt.waste_doubt.get(m.code, 0.0) for m in known.materials])
    codes = [m.code for m in known.materials]
    rates = rate * around_one(unsure, chance.each("leak", codes), n_paths)
    lost: Floats = rates[:, :, None] * _calendar(known, span)[1]
    for n, code in enumerate(codes):
        if code in known.whole_pieces:
            lost[:, n] = chance.of("leaked", code).poisson(lost[:, n])
    return lost


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


def jobs_expected(known: BookSnapshot, weeks: int, without: Sequence[Event] = ()) -> list[Floats]:
    """Give the tickets expected of each stream and week, (n_streams, weeks): with all events, and without each."""
    box, codes = RecipeBox(known.recipes, known.shelf), tuple(m.code for m in known.materials)
    seen = with_said_weeks(known, box)
    made = streams(seen.tickets, box, known.day, codes, untried_jobs(seen))
    books = [known, *(replace(known, events=tuple(e for e in known.events if e != left)) for left in without)]
    span = _weeks(seen), weeks
    return [_tickets_to_come(each, made, span, np.random.default_rng(0), 1).mean for each in books]


def events_to_come(known: BookSnapshot, weeks: int) -> list[EventSize]:
    """List the events of the weeks ahead, the next first, and what each is taken to bring."""
    ahead = first_day_ahead(known)
    sizes = sizes_of_events(known, _weeks(known))
    last = ahead + timedelta(weeks=weeks)
    return sorted((s for s in sizes if s.event.end >= ahead and s.event.day < last), key=lambda s: s.event.day)
