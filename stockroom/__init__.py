"""Consumables ledger, forecast, count and reorder list for a small shoe-repair shop.

For people who work with data, a book gives pandas frames:

    book = stockroom.open("stockroom.sqlite")
    book.shelf()
    book.forecast()
"""

import os
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from stockroom.frames.reader import BookReader

__all__ = ["open"]

# Our matrices are a few rows large: the numerical library's own threads would only wait on each other, and with
# several workers side by side they made an outlook take seven times as long. Read when it is first imported.
os.environ.setdefault("OMP_NUM_THREADS", "1")


def open(place: str | os.PathLike[str]) -> "BookReader":  # noqa: A001 -- stockroom.open, as one opens a file
    """Open a book, a file or postgresql://…, to be read as frames; nothing is ever written to it."""
    from stockroom.frames.reader import BookReader  # noqa: PLC0415 -- a door is opened when someone knocks

    return BookReader(place)
