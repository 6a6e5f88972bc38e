"""Results that take long, worked out beside the pages and held against the state of the book they came from."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING, Any, Generic, TypeVar

from stockroom.flows.book.opening import Book, BookState, state
from stockroom.stock.calendar import Event
from stockroom.stock.lists import RunOutRow
from stockroom.web.background import Beside, Told

Result = TypeVar("Result")
_MOST = 12  # results kept; the oldest goes first


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CachedView(Generic[Result]):
    """What a page can show now."""

    result: Result | None
    moment: datetime | None  # when it was worked out
    fresh: bool  # it came from the book as it stands today
    behind: int  # documents entered since
    running: bool
    fault: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Held:
    result: Any
    state: BookState
    moment: datetime


class Keeper:
    """Keeps the newest results of one book, and works out new ones when the book has moved on."""

    def __init__(self, book: Book, beside: Beside) -> None:
        self.book = book
        self.beside = beside
        self.held: dict[str, _Held] = {}
        self.tried: dict[str, BookState] = {}  # the state last worked on, whatever came of it

    def look(self, name: str, now: datetime, work: Callable[[Told], Result]) -> CachedView[Result]:
        """Give what there is under a name, never stale without saying so; a fault is not worth repeating."""
        stands = state(self.book, now)
        if self.tried.get(name) != stands and self.beside.start(
            name, lambda told: self._work_out(name, now, work, told)
        ):
            self.tried[name] = stands
        return self._stands(name, stands)

    def seen(self, name: str, now: datetime) -> CachedView[Any]:
        """Give what there is under a name without working anything out."""
        return self._stands(name, state(self.book, now))

    def _stands(self, name: str, stands: BookState) -> CachedView[Any]:
        task, held = self.beside.task(name), self.held.get(name)
        return CachedView(
            result=held.result if held else None,
            moment=held.moment if held else None,
            fresh=held is not None and held.state == stands,
            behind=stands.documents - held.state.documents if held else 0,
            running=task is not None and task.under_way,
            fault=task.fault if task is not None and task.state == "failed" else "",
        )

    def _work_out(self, name: str, now: datetime, work: Callable[[Told], object], told: Told) -> None:
        stands = state(self.book, now)  # read before the book: what comes in between makes it stale, not wrong
        result = work(told)
        self.held.pop(name, None)
        self.held[name] = _Held(result=result, state=stands, moment=now)
        while len(self.held) > _MOST:
            oldest = next(iter(self.held))
            del self.held[oldest]
            self.tried.pop(oldest, None)


if TYPE_CHECKING:
    from stockroom.flows.counts.choose import Chosen
    from stockroom.flows.learning.proposals import Offered
    from stockroom.flows.ordering.plan import OrderPlan

NAME = "outlook"
_BINS = 10  # worth counting most: one walk along the shelf


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlooks:
    """What was seen ahead, and what counts say."""

    plan: "OrderPlan"
    rows: tuple[RunOutRow, ...]
    lessons: "tuple[Offered, ...]"
    to_count: "tuple[Chosen, ...]"
    events: tuple[tuple[Event, str], ...]  # ahead, each with what it is taken to bring

    def row(self, material: str) -> RunOutRow | None:
        """Give one material's row."""
        return next((row for row in self.rows if row.material == material), None)


def look(keeper: Keeper, now: datetime) -> CachedView[Outlooks]:
    """Give the newest outlook."""
    return keeper.look(NAME, now, lambda told: _work_out(keeper.book, now, told))


def _work_out(book: Book, now: datetime, told: Told) -> Outlooks:
    from stockroom.flows.counts.choose import next_bins  # noqa: PLC0415 -- as above
    from stockroom.flows.learning.proposals import offered  # noqa: PLC0415 -- as above
    from stockroom.flows.ordering.plan import plan_order  # noqa: PLC0415 -- as above
    from stockroom.flows.outlook.coming import named_ahead  # noqa: PLC0415 -- as above
    from stockroom.flows.outlook.run_outs import run_out_rows  # noqa: PLC0415 -- slow import, beside the pages

    told("outlook", 0, 3)
    plan = plan_order(book, now)
    told("lessons", 1, 3)
    lessons = tuple(offered(book, now))
    told("next count", 2, 3)
    bins = tuple(next_bins(book, now, bins=_BINS))
    seen = plan.outlook
    events = tuple(named_ahead(seen.known, seen.known.shop.outlook_weeks))
    return Outlooks(plan=plan, rows=tuple(run_out_rows(seen)), lessons=lessons, to_count=bins, events=events)
