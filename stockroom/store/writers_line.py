"""Writers of a book in a file queue: whoever came first writes first, so that none waits for ever.

The database itself lets whoever happens to ask next go ahead. Each writer takes a number from a small file of this
user's in memory, holds the byte of that number, and waits for the one before; who dies lets go of it. Without such
locks (they are Linux's) it is as the database has it: the line is about fairness only, what keeps writers apart is the
database.
"""

import os
import struct
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from hashlib import sha256
from pathlib import Path

try:
    import fcntl

    _SET: int = fcntl.F_OFD_SETLK  # Linux only
except (ImportError, AttributeError):
    _SET = 0

_MEMORY = Path("/dev/shm")  # noqa: S108 -- files there are opened by name and owner, and hold a number
_COUNTER = 8  # bytes at the file's beginning, which hold the last number given out
_FIRST, _LONGEST = 0.0003, 0.002  # seconds between two looks


@contextmanager
def in_line(place: str, patience: float) -> Iterator[None]:
    """Wait until those who came before have written; no longer than patience lasts."""
    handle = _opened(place)
    try:
        if handle is not None:
            with suppress(OSError):
                _wait(handle, _take_number(handle), time.monotonic() + patience)
        yield
    finally:
        if handle is not None:
            os.close(handle)  # and with it the place in the line


def _opened(place: str) -> int | None:
    path = Path(place).expanduser().resolve()
    if not _SET:
        return None
    name = f"stockroom-{os.getuid()}-{sha256(str(path).encode()).hexdigest()[:16]}.line"
    try:
        flags = os.O_RDWR | os.O_CREAT | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)
        return os.open(_MEMORY / name, flags, 0o600)
    except OSError:
        return None


def _take_number(handle: int) -> int:
    """Take the next number, and hold its byte."""
    while not _locked(handle, 0, _COUNTER):
        time.sleep(_FIRST)
    number = 1 + int.from_bytes(os.pread(handle, _COUNTER, 0).ljust(_COUNTER, b"\0"), "little") % 2**40
    os.pwrite(handle, number.to_bytes(_COUNTER, "little"), 0)
    _locked(handle, _COUNTER + number, 1)
    _let_go(handle, 0, _COUNTER)
    return number


def _wait(handle: int, number: int, until: float) -> None:
    pause = _FIRST
    while time.monotonic() < until:
        if _locked(handle, _COUNTER + number - 1, 1):
            _let_go(handle, _COUNTER + number - 1, 1)
            return
        time.sleep(pause)
        pause = min(2 * pause, _LONGEST)


def _locked(handle: int, start: int, length: int) -> bool:
    try:
        fcntl.fcntl(handle, _SET, struct.pack("hhqqi4x", fcntl.F_WRLCK, os.SEEK_SET, start, length, 0))
    except (BlockingIOError, PermissionError):
        return False
    return True


def _let_go(handle: int, start: int, length: int) -> None:
    fcntl.fcntl(handle, _SET, struct.pack("hhqqi4x", fcntl.F_UNLCK, os.SEEK_SET, start, length, 0))
