"""Back-test: the shop's last weeks again under several ordering policies, with only what was known then."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from stockroom.buying.scenario import KnownThen, Outcome, Policy, Purchase, rehearse
from stockroom.flows.backtest.policies import ways
from stockroom.flows.backtest.stage import Stage, set_stage
from stockroom.flows.loading.load import Progress
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store.book import Book

WEEKS = 52
LEAD_IN = 4  # weeks played before those that count, so that what each way finds on its shelf is its own doing
WEEK = 7


@dataclass(frozen=True, slots=True, kw_only=True)
class PolicyResult:
    """What a way of ordering would have come to."""

    name: str
    outcome: Outcome
    held_up: tuple[int, ...]  # jobs held up in each week
    stock_value: tuple[float, ...]  # mean over each week, major units
    ours: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Real:
    """What really happened in the same weeks, as far as the book tells."""

    late: tuple[int, ...]  # tickets finished after their promised day, or still unfinished after it, by week promised
    stock_value: tuple[float, ...]  # mean over each week, major units
    mean_value: float  # over all days
    carriage: float
    deliveries: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Backtest:
    """The same weeks under several ways of ordering, stockroom's first, and as they really went."""

    weeks: tuple[date, ...]  # their last days
    ways: tuple[PolicyResult, ...]
    real: Real

    @property
    def own(self) -> PolicyResult:
        """Stockroom's way."""
        return next(way for way in self.ways if way.ours)


def backtest_weeks(
    book: Book, moment: datetime, *, weeks: int = WEEKS, site: str | None = None, progress: Progress | None = None
) -> Backtest:
    """Replay the last weeks of a book.

    Parameters
    ----------
    book : Book
    moment : datetime
        The end of the weeks.
    weeks : int
        How many; some work must lie before them and the lead-in.
    site : str, optional
    progress : callable, optional
        Told after each week replayed by stockroom's own way, which takes nearly all the time.

    Raises
    ------
    RefusedError
        If nothing was known before those weeks, or no offer was in force.
    """
    stage = set_stage(book, moment, weeks=weeks, lead_in=LEAD_IN, site=site)
    played = []
    for number, (name, make) in enumerate(ways(stage).items()):
        told = _told(progress, stage) if not number else None
        played.append(_play(stage, name, make(), told, ours=not number))
    ends = tuple(stage.first + timedelta(days=end - 1) for end in _ends(stage))
    return Backtest(weeks=ends, ways=tuple(played), real=_real(stage))


def _ends(stage: Stage) -> range:
    """Give the ends of the weeks that count, in days from the first."""
    return range(stage.counts_from + WEEK, stage.days + 1, WEEK)


def _told(progress: Progress | None, stage: Stage) -> Callable[[int], None]:
    of = stage.days // WEEK

    def tell(day: int) -> None:
        if progress:
            progress("replaying weeks", day // WEEK + 1, of)

    return tell


def _play(stage: Stage, name: str, policy: Policy, told: Callable[[int], None] | None, *, ours: bool) -> PolicyResult:
    """Play once to the end; then, with the same orders, up to each week's end for the figures by week."""
    orders: dict[int, Sequence[Purchase]] = {}

    def remembering(known_then: KnownThen) -> Sequence[Purchase]:
        if known_then.day not in orders:
            orders[known_then.day] = policy(known_then)
            if told:
                told(known_then.day)
        return orders[known_then.day]

    outcome = rehearse(stage.scenario, remembering)
    parts = [
        rehearse(replace(stage.scenario, tickets=stage.scenario.tickets[:end]), remembering) for end in _ends(stage)
    ]
    held = np.diff([0, *(part.held_up for part in parts)])
    sums = np.diff([0.0, *(part.stock_value * part.days for part in parts)])
    return PolicyResult(
        name=name,
        outcome=outcome,
        held_up=tuple(int(jobs) for jobs in held),
        stock_value=tuple(float(value) / WEEK for value in sums),
        ours=ours,
    )


def _real(stage: Stage) -> Real:
    daily = np.maximum(stage.balances[stage.counts_from :], 0.0) @ stage.scenario.unit_cost
    since = stage.first + timedelta(days=stage.counts_from)
    scale = 10.0**stage.now.shop.currency_digits
    came = [d for d in stage.now.deliveries if since <= d.happened.date() <= stage.now.day]
    late = np.zeros(len(_ends(stage)), dtype=np.int64)
    for ticket in stage.now.tickets:
        if (week := _late_in(stage, ticket)) is not None:
            late[week] += 1
    return Real(
        late=tuple(int(jobs) for jobs in late),
        stock_value=tuple(float(value) for value in daily.reshape(-1, WEEK).mean(axis=1)),
        mean_value=float(daily.mean()),
        carriage=sum(int(str(d.content.get("carriage", 0))) for d in came) / scale,
        deliveries=len(came),
    )


def _late_in(stage: Stage, ticket: Ticket) -> int | None:
    """Give the week in which a ticket broke its promise, if it did."""
    if ticket.promised is None or ticket.state is TicketState.CANCELLED:
        return None
    done = ticket.finished.date() if ticket.finished else stage.now.day
    place = (ticket.promised - stage.first).days - stage.counts_from
    return place // WEEK if done > ticket.promised and 0 <= place < stage.days - stage.counts_from else None
