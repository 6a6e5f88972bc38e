"""The outlook, the basket and what counts taught, worked out together beside the pages."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from stockroom.flows.books import Book
from stockroom.stock.lists import RunOutRow
from stockroom.web.beside import Told
from stockroom.web.held import Keeper, Seen

if TYPE_CHECKING:
    from stockroom.flows.next_count import Chosen
    from stockroom.flows.plan_order import Plan
    from stockroom.flows.proposals import Offered

NAME = "outlook"
_BINS = 8  # worth counting most


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Result:
    """What was seen ahead, and what counts say."""

    plan: "Plan"
    rows: tuple[RunOutRow, ...]
    lessons: "tuple[Offered, ...]"
    to_count: "tuple[Chosen, ...]"

    def row(self, material: str) -> RunOutRow | None:
        """Give one material's row."""
        return next((row for row in self.rows if row.material == material), None)


def look(keeper: Keeper, now: datetime) -> Seen[Result]:
    """Give the newest outlook."""
    return keeper.look(NAME, now, lambda told: _work_out(keeper.book, now, told))


def _work_out(book: Book, now: datetime, told: Told) -> Result:
    from stockroom.flows.look_ahead import run_out_rows  # noqa: PLC0415 -- slow import, beside the pages
    from stockroom.flows.next_count import next_bins  # noqa: PLC0415 -- as above
    from stockroom.flows.plan_order import plan_order  # noqa: PLC0415 -- as above
    from stockroom.flows.proposals import offered  # noqa: PLC0415 -- as above

    told("outlook", 0, 3)
    plan = plan_order(book, now)
    told("lessons", 1, 3)
    lessons = tuple(offered(book, now))
    told("next count", 2, 3)
    bins = tuple(next_bins(book, now, bins=_BINS))
    return Result(plan=plan, rows=tuple(run_out_rows(plan.outlook)), lessons=lessons, to_count=bins)
