"""Keep a solver's stray print away from the shop's output."""

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress


@contextmanager
def quiet() -> Iterator[None]:
    """Send what C code prints to nowhere.

    HiGHS 1.12, inside SciPy 1.17, prints a line of its own whatever its options say
    (github.com/ERGO-Code/HiGHS, issue 2783). Remove this once no supported SciPy carries it.
    """
    try:
        sys.stdout.flush()
        kept = os.dup(1)
    except (AttributeError, OSError, ValueError):  # no standard output to protect
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        _flush()
        os.dup2(nowhere, 1)
        yield
    finally:
        _flush()
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)


def _flush() -> None:
    """Empty C's own buffer, where the line would wait for better times."""
    with suppress(AttributeError, OSError, TypeError):
        ctypes.CDLL(None).fflush(None)
