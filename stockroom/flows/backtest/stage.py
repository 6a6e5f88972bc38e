"""The shop's own past set up to be played again: what came in, what lay there, what suppliers did."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.problem import OrderProblem
from stockroom.buying.scenario import Scenario
from stockroom.demand.streams import Streams, streams
from stockroom.errors import RefusedError
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.flows.learning.lessons import NOTHING_LEARNT, Learnt, learnt_from, teaching
from stockroom.flows.outlook.bench_pace import bench_day
from stockroom.flows.outlook.delivery_days import past_orders
from stockroom.flows.outlook.futures import as_learnt, futures
from stockroom.flows.outlook.problem import BookProblem, question
from stockroom.flows.outlook.stockouts import Spells, find_stockouts
from stockroom.phrases import phrase
from stockroom.stock.moves import WRITTEN_OFF, MoveKind
from stockroom.stock.quantities import NANO
from stockroom.stock.suppliers import Supplier
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState
from stockroom.store import ledger, usage
from stockroom.store.book import Book, Session
from stockroom.store.orders import OPEN

Floats = NDArray[np.float64]
LEAST_WEEKS = 4  # fewer show nothing but luck
ONE_DAY = timedelta(days=1)
OPENING_HOUR = time(9)
THROWN = tuple(kind for kind in WRITTEN_OFF if kind is not MoveKind.EXPIRY)  # each replay works out what expires
Sums = Sequence[tuple[str, str, int]]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stage:
    """Past weeks ready to be back-tested.

    `then` is the book on the morning of the first day, `now` the book at the end. `learnt` is what counts said
    about actual usage by the first morning; `balances` has shape (n_days, n_materials), what the book held at the
    end of each day.
    """

    then: BookSnapshot
    now: BookSnapshot
    learnt: Learnt
    dry: Spells
    scenario: Scenario
    asked: BookProblem
    made: Streams
    due: tuple[tuple[Ticket, date], ...]  # tickets of the streams and the day the bench came to them
    balances: Floats

    @property
    def first(self) -> date:
        """First day replayed."""
        return self.then.day

    @property
    def days(self) -> int:
        """How many days are replayed."""
        return len(self.scenario.tickets)

    @property
    def counts_from(self) -> int:
        """First day that counts."""
        return self.scenario.from_day

    @property
    def codes(self) -> tuple[str, ...]:
        """The materials."""
        return self.asked.codes

    def morning(self, day: int) -> datetime:
        """Give the moment at which orders of a day are decided."""
        return datetime.combine(self.first + day * ONE_DAY, OPENING_HOUR)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Past:
    """What is read of the book."""

    then: BookSnapshot
    now: BookSnapshot
    learnt: Learnt  # by the first morning
    truth: Learnt  # by now: the best there is of what jobs really took
    dry: Spells
    counted: tuple[tuple[str, date], ...]
    thrown: Sums
    moved: Sums


def set_stage(book: Book, moment: datetime, *, weeks: int, lead_in: int = 0, site: str | None = None) -> Stage:
    """Read the last weeks of a book and set them up, with a lead-in of weeks before them that don't count.

    Raises
    ------
    RefusedError
        If no work of those weeks is in the book.

    Notes
    -----
    A ticket comes to the bench on the day it was finished, or promised for if that was earlier. It takes what counts
    by now say such jobs take, while the book goes by the recipes of the first day and by real counts. Goods on order
    on the first morning lie on the shelf from the start, for every way of ordering alike. Pieces are taken and lost
    whole. An order takes as long as
    the supplier's real delivery ordered nearest in time. Offers are those of the first day.
    """
    past = _read(book, moment, weeks + lead_in, site)
    _check_past(past, lead_in)
    codes = tuple(m.code for m in past.now.materials)
    made = streams(past.now.tickets, RecipeBox(past.now.recipes, past.now.shelf), past.then.day, codes)
    if not made.names:
        raise RefusedError("No work of those weeks is in the book.", fix="Load past tickets, or finish some first.")
    asked = _first_question(past)
    clear = [t for t in past.now.tickets if t.state is not TicketState.CANCELLED and t.number not in made.unclear]
    due = tuple((ticket, bench_day(ticket)) for ticket in clear)
    return Stage(
        then=past.then,
        now=past.now,
        learnt=past.learnt,
        dry=past.dry,
        scenario=replace(_script(past, made, asked, due), from_day=7 * lead_in),
        asked=asked,
        made=made,
        due=due,
        balances=_balances(past, codes),
    )


def _read(book: Book, moment: datetime, weeks: int, site: str | None) -> _Past:
    first = moment.date() - timedelta(weeks=weeks) + ONE_DAY
    morning = datetime.combine(first, time(0))
    with book.reading() as session:
        now = book_snapshot(session, moment, site=site).without_agreements()
        return _Past(
            then=book_snapshot(session, morning, site=site).without_agreements(),
            now=now,
            learnt=_learnt(session, now, morning, site),
            truth=_learnt(session, now, moment, site),
            dry=find_stockouts(session, {code for code, _, _ in now.sales}, moment, site=site),
            counted=tuple((b.material, b.counted.date()) for b in usage.counted_bins(session, moment, site=site)),
            thrown=ledger.daily_sums(session, THROWN, site=site),
            moved=ledger.daily_sums(session, list(MoveKind), site=site),
        )


def _learnt(session: Session, now: BookSnapshot, moment: datetime, site: str | None) -> Learnt:
    return learnt_from(teaching(session, moment, site=site)) if now.shop.use_learnt else NOTHING_LEARNT


def _check_past(past: _Past, lead_in: int) -> None:
    begun = min((ticket.taken_in for ticket in past.now.tickets), default=None)
    if begun is None or begun >= past.then.moment:
        raise RefusedError(
            phrase("The book holds no work from before %(day)s, so nothing could be known then.", day=past.then.day),
            fix=_instead(past, begun.date() if begun else None, lead_in),
        )
    if not past.then.offers:
        raise RefusedError(
            phrase("No supplier's offer was in force on %(day)s.", day=past.then.day),
            fix=_instead(past, min((offer.valid_from for offer in past.now.offers), default=None), lead_in),
        )


def _instead(past: _Past, since: date | None, lead_in: int) -> str:
    """Say how many weeks can be back-tested of a past that begins on a day, or what is missing for any."""
    weeks = 0 if since is None else (past.now.day - since).days // 7 - lead_in
    if weeks >= LEAST_WEEKS:
        return phrase("Back-test %(weeks)s weeks at most (--weeks).", weeks=weeks)
    return phrase(
        "It takes tickets and offers that go back %(weeks)s weeks at least: load past ones, or come back later.",
        weeks=LEAST_WEEKS + lead_in,
    )


def _first_question(past: _Past) -> BookProblem:
    """Put the book of the first morning to the buying room, for the shop's terms, offers and costs."""
    then = replace(past.then, materials=past.now.materials, shelf=past.now.shelf)
    rng = np.random.default_rng(0)
    return question(then, futures(then, rng, weeks=1, n_paths=2), rng)


def _script(past: _Past, made: Streams, asked: BookProblem, due: Sequence[tuple[Ticket, date]]) -> Scenario:
    first, days = past.then.day, (past.now.day - past.then.day).days + 1
    codes, problem = asked.codes, asked.problem
    needs = as_learnt(made, codes, past.truth).uses
    weekly_waste = np.array([past.truth.waste.get(code, 0.0) for code in codes])
    whole = np.array([code in past.now.whole_pieces for code in codes], dtype=np.bool_)
    lost = np.repeat(np.maximum(weekly_waste, 0.0)[None] / 7, days, axis=0)
    lost[:, whole] = np.diff(lost[:, whole].cumsum(axis=0).round(), axis=0, prepend=0.0)
    held = float(past.now.shop.held_up_job_cost), float(past.now.shop.held_up_day_cost)
    return Scenario(
        needs=needs,
        recipe=made.uses,
        tickets=_tickets(made, due, first, days),
        sales=_by_day(past.now.sales, codes, first, days),
        waste=_by_day(past.thrown, codes, first, days) + lost,
        whole=whole,
        counted=_counts(past.counted, codes, first, days),
        opening=_opening(past.then, codes),
        lead_days=np.stack([_leads(past.now, supplier, first, days) for supplier in asked.suppliers]),
        offers=problem.offers,
        suppliers=problem.suppliers,
        unit_cost=np.array([item.unit_cost for item in problem.items]),
        shelf_days=np.array([item.shelf_days or np.inf for item in problem.items]),
        lost_margin=np.array([item.lost_margin for item in problem.items]),
        held_cost=np.full(len(made.names), held[0]),
        held_day_cost=np.full(len(made.names), held[1]),
        holding_rate=float(past.now.shop.holding_rate) / 100,
        review_days=past.now.shop.review_days,
    )


def _tickets(made: Streams, due: Sequence[tuple[Ticket, date]], first: date, days: int) -> NDArray[np.int64]:
    found = np.zeros((days, len(made.names)), dtype=np.int64)
    for (_, day), stream in zip(due, made.facts.series, strict=True):
        if 0 <= (day - first).days < days:
            found[(day - first).days, stream] += 1
    return found


def _by_day(sums: Iterable[tuple[str, str, int]], codes: Sequence[str], first: date, days: int) -> Floats:
    """Lay out what left the shelf, base units, shape (n_days, n_materials); what came back is left out."""
    return np.maximum(-_moved_by_day(sums, codes, first, days), 0.0)


def _moved_by_day(sums: Iterable[tuple[str, str, int]], codes: Sequence[str], first: date, days: int) -> Floats:
    column = {code: n for n, code in enumerate(codes)}
    found = np.zeros((days, len(codes)))
    for code, day, nano in sums:
        place = (date.fromisoformat(day) - first).days
        if 0 <= place < days:
            found[place, column[code]] += nano / NANO
    return found


def _counts(counted: Iterable[tuple[str, date]], codes: Sequence[str], first: date, days: int) -> Floats:
    column = {code: n for n, code in enumerate(codes)}
    found = np.full((days, len(codes)), np.nan)
    for code, day in counted:
        if 0 <= (day - first).days < days:
            found[(day - first).days, column[code]] = 1.0
    return found


def _opening(then: BookSnapshot, codes: Sequence[str]) -> Floats:
    coming: dict[str, int] = {}
    for order in then.orders:
        for line in order.lines if order.state in OPEN else ():
            coming[line.material] = coming.get(line.material, 0) + line.outstanding
    return np.array([(max(then.on_hand.get(code, 0), 0) + coming.get(code, 0)) / NANO for code in codes])


def _leads(now: BookSnapshot, supplier: Supplier, first: date, days: int) -> Floats:
    """Days that an order of each day takes: those of the real delivery ordered nearest in time, shape (n_days,)."""
    real = [
        (o.ordered, o.received) for o in past_orders(supplier, now.orders, now.deliveries) if o.received is not None
    ]
    if not real:
        return np.full(days, float(max(supplier.lead_days, 1)))
    placed = np.array([(ordered - first).days for ordered, _ in real])
    took = np.array([float((received - ordered).days) for ordered, received in real])
    nearest = np.abs(np.arange(days)[:, None] - placed[None, :]).argmin(axis=1)
    leads: Floats = took[nearest]
    return leads


def _balances(past: _Past, codes: Sequence[str]) -> Floats:
    days = (past.now.day - past.then.day).days + 1
    opening = np.array([past.then.on_hand.get(code, 0) / NANO for code in codes])
    held: Floats = opening + _moved_by_day(past.moved, codes, past.then.day, days).cumsum(axis=0)
    return held


def offers_of(problem: OrderProblem) -> list[int]:
    """Give the cheapest offer of each item, -1 for none."""
    best = [-1] * len(problem.items)
    for number, offer in enumerate(problem.offers):
        kept = best[offer.item]
        if kept < 0 or offer.price / offer.pack < problem.offers[kept].price / problem.offers[kept].pack:
            best[offer.item] = number
    return best
