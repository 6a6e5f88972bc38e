"""The outlook and the basket, worked out beside the pages, held against the state of the book they came from."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from stockroom.flows.books import Book
from stockroom.flows.state import State, state
from stockroom.stock.lists import RunOutRow
from stockroom.web.beside import Beside, Told

if TYPE_CHECKING:
    from stockroom.flows.plan_order import Plan
    from stockroom.flows.proposals import Offered

NAME = "outlook"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Result:
    """An outlook, and the book it was worked out from."""

    plan: "Plan"
    rows: tuple[RunOutRow, ...]
    lessons: "tuple[Offered, ...]"
    state: State
    moment: datetime

    def row(self, material: str) -> RunOutRow | None:
        """Give one material's row."""
        return next((row for row in self.rows if row.material == material), None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen:
    """What a page can show of the outlook now."""

    result: Result | None
    fresh: bool  # it came from the book as it stands today
    behind: int  # papers entered since
    running: bool
    fault: str = ""


class Ahead:
    """Keeps the newest outlook of one book, and works out a new one when the book has moved on."""

    def __init__(self, book: Book, beside: Beside) -> None:
        self.book = book
        self.beside = beside
        self.newest: Result | None = None
        self.tried: State | None = None  # the state last worked on, whatever came of it

    def look(self, now: datetime) -> Seen:
        """Give what there is, never stale without saying so."""
        stands = state(self.book, now)
        if self.tried != stands and self.beside.start(NAME, lambda told: self._work_out(now, told)):
            self.tried = stands
        task, result = self.beside.task(NAME), self.newest
        return Seen(
            result=result,
            fresh=result is not None and result.state == stands,
            behind=stands.papers - result.state.papers if result else 0,
            running=task is not None and task.under_way,
            fault=task.fault if task is not None and task.state == "failed" else "",
        )

    def _work_out(self, now: datetime, told: Told) -> None:
        from stockroom.flows.look_ahead import run_out_rows  # noqa: PLC0415 -- slow import, beside the pages
        from stockroom.flows.plan_order import plan_order  # noqa: PLC0415 -- as above
        from stockroom.flows.proposals import offered  # noqa: PLC0415 -- as above

        told("outlook", 0, 2)
        stands = state(self.book, now)  # read before the book: what comes in between makes the result stale, not wrong
        plan = plan_order(self.book, now)
        told("lessons", 1, 2)
        lessons = tuple(offered(self.book, now))
        rows = tuple(run_out_rows(plan.outlook))
        self.newest = Result(plan=plan, rows=rows, lessons=lessons, state=stands, moment=now)
