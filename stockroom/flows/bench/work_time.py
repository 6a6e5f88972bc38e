"""Time at the bench: work begun and paused, what jobs take, the load of the coming days."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time

from stockroom.demand.bench_queue import BenchHours, DayLoad, QueuedTicket, day_loads
from stockroom.demand.bench_time import Clock, JobMinutes, Stretch, clock_of, learn_minutes, scale_of
from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench.changes import refuse_unless_open
from stockroom.flows.book.snapshot import read_standing, tickets_then
from stockroom.flows.posting.post import entered_before, post_one
from stockroom.phrases import phrase
from stockroom.stock.bounds import check_number
from stockroom.stock.calendar import OpenDays, closures_of
from stockroom.stock.moves import Document, DocumentKind
from stockroom.stock.postings import Stamp
from stockroom.stock.recipes import OTHER, PAIR
from stockroom.stock.shop import Shop, open_hours, weekdays
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book, Session

LEAST_LEFT = 0.1  # of a job's minutes: so much is still to come, however long an open ticket was worked on
NEWEST = 500  # times work was begun: what jobs take is learnt from so much, and a page need not read years of it
_TIMED = (DocumentKind.BEGUN, DocumentKind.PAUSED)


@dataclass(frozen=True, slots=True, kw_only=True)
class Timed:
    """What beginning or pausing did."""

    ticket: Ticket
    document: int
    fresh: bool
    minutes: int  # worked on the ticket so far
    others: tuple[str, ...] = ()  # tickets that run beside it
    forgotten: tuple[Stretch, ...] = ()  # stretches of it that nobody ended on their day


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchState:
    """All that a promise asks of the bench."""

    hours: BenchHours | None  # None: the shop hasn't said when the bench works
    queue: tuple[QueuedTicket, ...]
    unknown: tuple[str, ...]  # open tickets of jobs of which no minutes are known
    jobs: Mapping[str, JobMinutes]
    names: Mapping[str, str]
    scale: float
    now: datetime
    running: Mapping[str, datetime] = field(default_factory=dict)  # tickets worked on, since when

    def minutes_of(self, job: str, shoes: int) -> float | None:
        """Say how long a job takes for so many shoes; None where nobody knows."""
        believed = self.jobs[job].believed if job in self.jobs else None
        return None if believed is None else believed * shoes / PAIR


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchLoad:
    """The load of the coming days."""

    state: BenchState
    days: tuple[DayLoad, ...]
    running: tuple[tuple[Ticket, datetime], ...] = field(default=())


def begin(book: Book, number: str, stamp: Stamp) -> Timed:
    """Say that work on an open ticket begins.

    Raises
    ------
    RefusedError
        If it is not open, or is worked on already.
    """
    stamp = stamp.asking("begin", ticket=number)
    with book.writing() as session:
        ticket = tickets.the_ticket(session, number)
        done = entered_before(session, stamp, DocumentKind.BEGUN, subject=number)
        if done is None:
            refuse_unless_open(ticket)
            since = clock(session, stamp.happened, [number]).running.get(number)
            if since is not None and since.date() == stamp.happened.date():
                raise RefusedError(
                    phrase("Ticket %(number)s is worked on since %(time)s.", number=number, time=f"{since:%H:%M}"),
                    fix=phrase("To end that: stockroom pause %(number)s", number=number),
                )
        return _entered(session, ticket, done, stamp.document(DocumentKind.BEGUN, number, job=ticket.job))


def pause(book: Book, number: str, stamp: Stamp, *, minutes: int | None = None) -> Timed:
    """Say that work on a ticket rests; finishing or cancelling it ends it as well.

    Parameters
    ----------
    book : Book
        The book.
    number : str
        The ticket; empty for the only one that runs.
    stamp : Stamp
        When.
    minutes : int, optional
        How many were worked, where the clock is wrong or was never begun.

    Raises
    ------
    RefusedError
        If the ticket is not worked on.
    """
    stamp = stamp.asking("pause", ticket=number, minutes=minutes)
    with book.writing() as session:
        done = entered_before(session, stamp, DocumentKind.PAUSED, subject=number or None)
        running = _clock_of_open(session, stamp.happened, number).running
        if not number and done is None:
            number = _the_only(running)
        ticket = tickets.the_ticket(session, number) if number else _of(session, done)
        if done is None:
            if minutes is None and ticket.number not in running:
                raise RefusedError(
                    phrase("Ticket %(number)s is not worked on.", number=ticket.number),
                    fix="If it was, give the time: --minutes 25.",
                )
            if minutes is not None:
                _check_minutes(minutes)
        document = stamp.document(DocumentKind.PAUSED, ticket.number, job=ticket.job, minutes=minutes)
        return _entered(session, ticket, done, document)


def _check_minutes(minutes: int) -> None:
    if minutes < 1:
        raise UsageError("The minutes worked must be above zero.", fix="Leave them out to go by the clock.")
    check_number(minutes, lambda: phrase("The minutes worked"), most=24 * 60)


def _of(session: Session, document: int | None) -> Ticket:
    found = [d for d in read_standing(session, DocumentKind.PAUSED) if d.id == document]
    return tickets.the_ticket(session, found[0].subject if found else "")


def _the_only(running: Mapping[str, datetime]) -> str:
    if len(running) == 1:
        return next(iter(running))
    if not running:
        raise RefusedError("No ticket is worked on.", fix="Begin one: stockroom begin TICKET")
    raise UsageError(
        phrase("Several tickets are worked on: %(numbers)s.", numbers=", ".join(sorted(running))), fix="Name one."
    )


def _entered(session: Session, ticket: Ticket, done: int | None, document: Document) -> Timed:
    number = done if done is not None else post_one(session, document, new=True).number
    known = _clock_of_open(session, document.happened, ticket.number)
    return Timed(
        ticket=ticket,
        document=number,
        fresh=done is None,
        minutes=known.minutes.get(ticket.number, 0),
        others=tuple(sorted(set(known.running) - {ticket.number})),
        forgotten=tuple(each for each in known.of(ticket.number) if each.forgotten),
    )


def bench_clock(book: Book, now: datetime, numbers: Collection[str] | None = None) -> Clock:
    """Give what was worked on tickets, or on some of them, until a moment."""
    with book.reading() as session:
        return clock(session, now, numbers)


def clock(
    session: Session, now: datetime, numbers: Collection[str] | None = None, *, since: datetime | None = None
) -> Clock:
    """Add up what was worked until a moment, within a transaction under way.

    Parameters
    ----------
    session : Session
        The book.
    now : datetime
        The moment.
    numbers : collection of str, optional
        The tickets that are asked about; otherwise all.
    since : datetime, optional
        Asked about are besides all tickets on which work was first begun from this moment on.

    Notes
    -----
    Where tickets share heads, the minutes of one depend on what else was worked on that day, and on nothing of other
    days: a stretch never goes beyond its day. So the days of the tickets asked about tell all.
    """
    if numbers is None:
        documents = read_standing(session, *_TIMED)
        return clock_of(
            documents, _ends(session, {d.subject for d in documents}, now), catalogue.read_shop(session), now
        )
    mine = read_standing(session, *_TIMED, subjects=numbers)
    days = {d.happened.date() for d in mine if since is None or d.happened < since}
    beside = set().union(*(_worked_on(session, day, day) for day in days))
    if since is not None:
        beside |= _worked_on(session, since.date(), now.date())
    beside -= set(numbers)
    documents = [*mine, *read_standing(session, *_TIMED, subjects=beside)]
    ends = _ends(session, {d.subject for d in documents}, now)
    every = clock_of(documents, ends, catalogue.read_shop(session), now)
    begun = {d.subject: d.happened for d in sorted(documents, key=lambda d: d.happened, reverse=True)}
    return every.only({n for n, first in begun.items() if n in numbers or (since is not None and first >= since)})


def _worked_on(session: Session, first: date, last: date) -> set[str]:
    """Give the tickets on which work was begun or paused from one day to another."""
    return ledger.subjects_between(
        session, _TIMED, datetime.combine(first, time.min), datetime.combine(last, time.max.replace(microsecond=0))
    )


def _clock_of_open(session: Session, now: datetime, number: str) -> Clock:
    """Add up what was worked on a ticket and on all that were open then: only they can run."""
    still = {t.number for t in tickets_then(session, now, since=now)}
    return clock(session, now, still | ({number} if number else set()))


def _ends(session: Session, numbers: Collection[str], now: datetime) -> dict[str, datetime]:
    """Say when tickets were finished or cancelled, until a moment."""
    if not numbers:
        return {}
    found = tickets.when_finished(session, numbers)
    found |= {d.subject: d.happened for d in read_standing(session, DocumentKind.CANCEL, subjects=numbers)}
    return {number: when for number, when in found.items() if when <= now}


def bench_state(book: Book, now: datetime, *, site: str | None = None) -> BenchState:
    """Gather what waits for the bench as of a moment, and what its jobs take."""
    with book.reading() as session:
        every = tickets_then(session, now, site=site, since=now)
        known = clock(session, now, {t.number for t in every}, since=_newest_day(session, now))
        measured = known.whole
        timed = tickets.pairs_worked(session, measured, site)
        jobs = catalogue.read_jobs(session)
        shop, closures = catalogue.read_shop(session), catalogue.read_closures(session)
    days = OpenDays(weekdays=weekdays(shop.open_weekdays), closures=closures_of("", closures))
    times = _per_pair(timed, measured)
    learnt = {
        job.code: learn_minutes(job.code, times.get(job.code, ()), job.bench_minutes or None)
        for job in jobs
        if job.code != OTHER.code
    }
    state = BenchState(
        hours=_hours(shop, days),
        queue=(),
        unknown=(),
        jobs=learnt,
        names={job.code: job.name for job in (*jobs, OTHER)},
        scale=scale_of(times, {code: each.stated for code, each in learnt.items()}),
        now=now,
    )
    return _with_queue(state, [t for t in every if t.state is TicketState.BOOKED], known)


def _newest_day(session: Session, now: datetime) -> datetime:
    """Give the day from which work begun is learnt from."""
    first = ledger.nth_before(session, DocumentKind.BEGUN, now, NEWEST)
    return datetime.min if first is None else datetime.combine(first.date(), time.min)


def _hours(shop: Shop, days: OpenDays) -> BenchHours | None:
    if not shop.open_hours:
        return None
    return BenchHours(open_days=days, hours=open_hours(shop.open_hours), heads=shop.bench_heads)


def _per_pair(timed: Sequence[tuple[str, str, int]], measured: Mapping[str, int]) -> dict[str, list[float]]:
    found: dict[str, list[float]] = {}
    for number, job, shoes in timed:
        if job != OTHER.code:
            found.setdefault(job, []).append(measured[number] * PAIR / shoes)
    return found


def _with_queue(state: BenchState, booked: Sequence[Ticket], known: Clock) -> BenchState:
    queue, unknown = [], []
    for ticket in booked:
        takes = state.minutes_of(ticket.job, ticket.shoes)
        if takes is None:
            unknown.append(ticket.number)
            continue
        left = max(takes - known.minutes.get(ticket.number, 0), LEAST_LEFT * takes)
        queue.append(QueuedTicket(ticket=ticket.number, minutes=left, due=ticket.promised))
    queue.sort(key=lambda each: each.ticket)  # sums don't hang on the order of typing
    return replace(state, queue=tuple(queue), unknown=tuple(sorted(unknown)), running=known.running)


def bench_load(book: Book, now: datetime, *, days: int = 14) -> BenchLoad:
    """Set what is promised against the hours open, for the coming days."""
    state = bench_state(book, now)
    found = day_loads(state.queue, state.hours, now, days, state.scale) if state.hours is not None else []
    with book.reading() as session:
        running = _running(session, state.running)
    return BenchLoad(state=state, days=tuple(found), running=running)


def running_now(book: Book, now: datetime) -> tuple[tuple[Ticket, datetime], ...]:
    """Give the tickets that are worked on, each with since when."""
    with book.reading() as session:
        return _running(session, _clock_of_open(session, now, "").running)


def _running(session: Session, since: Mapping[str, datetime]) -> tuple[tuple[Ticket, datetime], ...]:
    return tuple((t, since[t.number]) for t in tickets.read_tickets(session, numbers=sorted(since)))
