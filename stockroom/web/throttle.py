"""Slowing down whoever guesses: after a few wrong passcodes an address waits, longer each time."""

import threading
from collections.abc import Callable
from dataclasses import dataclass, field

FREE = 5  # wrong tries before the first wait
FIRST_WAIT = 30.0  # seconds; doubled with each further wrong try
LONGEST_WAIT = 900.0
ALL_FREE = 50  # wrong tries from all addresses together, before everybody waits
MOST_ADDRESSES = 10_000


@dataclass(slots=True)
class _Tries:
    wrong: int = 0
    until: float = 0.0


@dataclass(slots=True)
class Throttle:
    """Wrong tries by address, and of all addresses together."""

    clock: Callable[[], float]  # seconds, never running backwards
    _by: dict[str, _Tries] = field(default_factory=dict)
    _all: _Tries = field(default_factory=_Tries)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait(self, address: str) -> float:
        """Give the seconds an address must still wait."""
        with self._lock:
            mine = self._by.get(address, _Tries())
            return max(mine.until - self.clock(), self._all.until - self.clock(), 0.0)

    def failed(self, address: str) -> None:
        """Note a wrong try."""
        with self._lock:
            if len(self._by) >= MOST_ADDRESSES:
                self._by.pop(next(iter(self._by)))
            self._note(self._by.setdefault(address, _Tries()), FREE)
            self._note(self._all, ALL_FREE)

    def passed(self, address: str) -> None:
        """Forget an address's wrong tries once it knows the passcode."""
        with self._lock:
            self._by.pop(address, None)
            self._all = _Tries()

    def _note(self, tries: _Tries, free: int) -> None:
        tries.wrong += 1
        over = tries.wrong - free
        if over >= 0:
            tries.until = self.clock() + min(FIRST_WAIT * 2 ** min(over, 16), LONGEST_WAIT)
