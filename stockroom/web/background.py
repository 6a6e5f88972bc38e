"""Long work beside the pages: one thing at a time, with progress, while the pages go on answering."""

import ctypes
import gc
import sys
import threading
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass, field, replace
from queue import SimpleQueue
from typing import Literal

from stockroom.errors import BadFileError, StockroomError
from stockroom.phrases import phrase
from stockroom.show.problems import problem_lines

Told = Callable[[str, int, int | None], None]  # what is being done, how far, of how much
_KEPT = 12  # pieces of work that have ended: the newest; a result may be a whole workbook
_GRACE = 0.3  # seconds: the page that asked for the work is answered first


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """Where a piece of work stands."""

    name: str
    state: Literal["waiting", "running", "done", "failed"] = "waiting"
    what: str = ""
    done: int = 0
    of: int | None = None
    result: object = None
    fault: str = ""
    faults: tuple[str, ...] = ()

    @property
    def under_way(self) -> bool:
        """Say whether it is still to end."""
        return self.state in ("waiting", "running")


def _give_back() -> None:
    """Give memory that long work no longer uses back to the system: the C library else keeps it, thread by thread."""
    gc.collect()
    if sys.platform == "linux":
        with suppress(OSError, AttributeError):  # another C library than GNU's
            ctypes.CDLL(None).malloc_trim(0)


@dataclass(slots=True)
class Beside:
    """The one worker; with `threaded` off, work is done on the spot, as tests like it."""

    threaded: bool = True
    _tasks: dict[str, Task] = field(default_factory=dict)
    _queue: SimpleQueue[tuple[str, Callable[[Told], object]]] = field(default_factory=SimpleQueue)
    _lock: threading.Lock = field(default_factory=threading.Lock)
    _worker: threading.Thread | None = None

    def task(self, name: str) -> Task | None:
        """Say where work of a name stands."""
        with self._lock:
            return self._tasks.get(name)

    @property
    def busy(self) -> bool:
        """Say whether any work is still to end."""
        with self._lock:
            return any(task.under_way for task in self._tasks.values())

    def start(self, name: str, work: Callable[[Told], object]) -> bool:
        """Start work unless the same is under way; says whether it did."""
        with self._lock:
            known = self._tasks.get(name)
            if known is not None and known.under_way:
                return False
            self._tasks.pop(name, None)
            self._tasks[name] = Task(name=name)
            ended = [each for each, task in self._tasks.items() if not task.under_way]
            for old in ended[: max(len(ended) - _KEPT, 0)]:
                del self._tasks[old]
            self._queue.put((name, work))
            if self.threaded and self._worker is None:
                self._worker = threading.Thread(target=self._work, name="beside", daemon=True)
                self._worker.start()
        if not self.threaded:
            self._one(*self._queue.get())
        return True

    def forget(self, name: str) -> None:
        """Let go of what work of a name came to."""
        with self._lock:
            self._tasks.pop(name, None)

    def _work(self) -> None:
        while True:
            name, work = self._queue.get()
            time.sleep(_GRACE)
            self._one(name, work)
            del work
            _give_back()

    def _one(self, name: str, work: Callable[[Told], object]) -> None:
        self._change(name, state="running")
        try:
            result = work(lambda what, done, of: self._change(name, what=what, done=done, of=of))
        except StockroomError as wrong:
            faults = tuple(problem_lines(wrong.problems)) if isinstance(wrong, BadFileError) else ()
            self._change(name, state="failed", fault=wrong.words, faults=faults)
        except Exception:  # noqa: BLE001 -- a fault of the program must not end the worker; it is shown
            traceback.print_exc()
            self._change(
                name,
                state="failed",
                fault=phrase("Something went wrong in the program; the details are in the window that runs stockroom."),
            )
        else:
            self._change(name, state="done", result=result)

    def _change(self, name: str, **facts: object) -> None:
        with self._lock:
            self._tasks[name] = replace(self._tasks[name], **facts)  # type: ignore[arg-type]
