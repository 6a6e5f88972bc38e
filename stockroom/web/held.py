"""Results that take long, worked out beside the pages and held against the state of the book they came from."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Generic, TypeVar

from stockroom.flows.books import Book
from stockroom.flows.state import State, state
from stockroom.web.beside import Beside, Told

Result = TypeVar("Result")
_MOST = 12  # results kept; the oldest goes first


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Seen(Generic[Result]):
    """What a page can show now."""

    result: Result | None
    moment: datetime | None  # when it was worked out
    fresh: bool  # it came from the book as it stands today
    behind: int  # papers entered since
    running: bool
    fault: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Held:
    result: Any
    state: State
    moment: datetime


class Keeper:
    """Keeps the newest results of one book, and works out new ones when the book has moved on."""

    def __init__(self, book: Book, beside: Beside) -> None:
        self.book = book
        self.beside = beside
        self.held: dict[str, _Held] = {}
        self.tried: dict[str, State] = {}  # the state last worked on, whatever came of it

    def look(self, name: str, now: datetime, work: Callable[[Told], Result]) -> Seen[Result]:
        """Give what there is under a name, never stale without saying so; a fault is not worth repeating."""
        stands = state(self.book, now)
        if self.tried.get(name) != stands and self.beside.start(
            name, lambda told: self._work_out(name, now, work, told)
        ):
            self.tried[name] = stands
        return self._stands(name, stands)

    def seen(self, name: str, now: datetime) -> Seen[Any]:
        """Give what there is under a name without working anything out."""
        return self._stands(name, state(self.book, now))

    def _stands(self, name: str, stands: State) -> Seen[Any]:
        task, held = self.beside.task(name), self.held.get(name)
        return Seen(
            result=held.result if held else None,
            moment=held.moment if held else None,
            fresh=held is not None and held.state == stands,
            behind=stands.papers - held.state.papers if held else 0,
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
