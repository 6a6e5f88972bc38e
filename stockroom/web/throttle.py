"""Slowing down whoever guesses: after a few wrong passcodes an address waits, longer each time.

A wrong passcode may have been meant for any role, so it is counted against each; knowing one role's passcode clears
that role's count only. Whoever works at the bench gains nothing for guessing the owner's.
"""

import threading
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

FREE = 5  # wrong tries before the first wait
FIRST_WAIT = 30.0  # seconds; doubled with each further wrong try
LONGEST_WAIT = 900.0
FORGOTTEN = 3600.0  # seconds without a wrong try, after which they are
ALL_FREE = 50  # wrong tries from all addresses together, before everybody waits
MOST_ADDRESSES = 10_000
_ALL = ""  # stands for every address


@dataclass(slots=True)
class _Tries:
    wrong: int = 0
    until: float = 0.0
    last: float = 0.0


@dataclass(slots=True)
class Throttle:
    """Wrong tries by address and role, and of all addresses together."""

    clock: Callable[[], float]  # seconds, never running backwards
    _by: dict[tuple[str, str], _Tries] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def wait(self, address: str, role: str) -> float:
        """Give the seconds an address must still wait before it may try for a role."""
        with self._lock:
            return max(0.0, *(self._of(each, role).until - self.clock() for each in (address, _ALL)))

    def failed(self, address: str, roles: Iterable[str]) -> None:
        """Note a wrong try, which may have been for any of these roles."""
        with self._lock:
            for role in roles:
                self._note(address, role, FREE)
                self._note(_ALL, role, ALL_FREE)

    def passed(self, address: str, role: str) -> None:
        """Forget an address's wrong tries for a role once it knows that role's passcode."""
        with self._lock:
            for each in (address, _ALL):
                self._by.pop((each, role), None)

    def _of(self, address: str, role: str) -> _Tries:
        found = self._by.get((address, role), _Tries())
        return found if self.clock() - max(found.last, found.until) < FORGOTTEN else _Tries()

    def _note(self, address: str, role: str, free: int) -> None:
        tries = self._of(address, role)
        if (address, role) not in self._by and len(self._by) >= MOST_ADDRESSES:
            self._by.pop(next(at for at in self._by if at[0] != _ALL))
        self._by[address, role] = tries
        tries.wrong, tries.last = tries.wrong + 1, self.clock()
        over = tries.wrong - free
        if over >= 0:
            tries.until = self.clock() + min(FIRST_WAIT * 2 ** min(over, 16), LONGEST_WAIT)
