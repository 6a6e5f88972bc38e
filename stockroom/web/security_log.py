"""What was refused, when and to whom: lines for a file, the newest for the owner's page."""

import logging
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from stockroom.errors import shorten

LOGGER = "stockroom.web.security"
_KEPT = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Refusal:
    """Something the pages refused, or a sign-in."""

    when: datetime
    what: str
    address: str
    path: str

    def __str__(self) -> str:
        return f"{self.when.isoformat(sep=' ')} {self.what} from {self.address} at {self.path}"


@dataclass(slots=True)
class SecurityLog:
    """Notes what happened at the door; what was typed is never part of it."""

    now: Callable[[], datetime]
    _newest: deque[Refusal] = field(default_factory=lambda: deque(maxlen=_KEPT))
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def note(self, what: str, *, address: str, path: str) -> None:
        """Note one thing; marks that could forge a line are shown, not obeyed."""
        line = Refusal(when=self.now(), what=what, address=shorten(address), path=shorten(path, 200))
        with self._lock:
            self._newest.append(line)
        logging.getLogger(LOGGER).warning("%s", line)

    def newest(self) -> list[Refusal]:
        """Give the newest lines, the last one first."""
        with self._lock:
            return list(self._newest)[::-1]
