"""The pages of the book that is open, until those of another take their place in one step."""

import threading
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import Any

from flask import Flask

from stockroom.errors import RefusedError
from stockroom.web.background import Beside

_PATIENCE = 20.0  # seconds until what is under way has ended
_A_MOMENT = 0.02


class Pages:
    """Answers requests with an application, which can be exchanged while nothing else is being answered."""

    def __init__(self) -> None:
        self._app: Flask | None = None
        self._turn = threading.Condition()
        self._under_way = 0
        self._held = False

    def show(self, app: Flask) -> "Pages":
        """Answer with an application from now on."""
        self._app = app
        return self

    def __call__(self, environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        """Answer a request; while the book is being exchanged it waits."""
        with self._turn:
            self._turn.wait_for(lambda: not self._held)
            self._under_way += 1
        try:
            assert self._app is not None  # noqa: S101 -- shown before it is served
            return self._app(environ, start)
        finally:
            with self._turn:
                self._under_way -= 1
                self._turn.notify_all()

    @contextmanager
    def alone(self, beside: Beside) -> Iterator[None]:
        """Let a request be the only one at the book: others wait, and so does the work beside the pages.

        Raises
        ------
        RefusedError
            If what is under way does not end in time; nothing was changed then.
        """
        until = time.monotonic() + _PATIENCE
        while beside.busy and time.monotonic() < until:  # the others are answered meanwhile
            time.sleep(_A_MOMENT)
        with self._turn:
            if self._held:
                raise _busy()
            self._held = True
            rest = self._turn.wait_for(lambda: self._under_way <= 1, timeout=_PATIENCE)
        try:
            if not rest or beside.busy:
                raise _busy()
            yield
        finally:
            with self._turn:
                self._held = False
                self._turn.notify_all()


def _busy() -> RefusedError:
    return RefusedError("The book is still being worked with.", fix="Wait a minute, then try again.")
