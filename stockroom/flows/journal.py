"""The journal beside a book: what was done, when, by whom, from which door. Never what was typed."""

import os
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from stockroom.errors import shorten


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """One line: names of commands and numbers of papers only, so that no name or passcode can get in."""

    when: datetime
    door: str  # 'command line', 'pages'
    who: str  # the account or the role
    what: str
    outcome: str

    def __str__(self) -> str:
        said = (self.door, self.who, self.what, self.outcome)
        return f"{self.when.isoformat(sep=' ', timespec='seconds')}  " + ", ".join(shorten(text, 80) for text in said)


def journal_of(place: str) -> Path | None:
    """Name the journal of a book in a file; a server's book has none beside it."""
    return None if "://" in place else Path(f"{Path(place).expanduser()}.journal.txt")


def note(place: str, deed: Deed) -> None:
    """Add a line; where none can be written, the work goes on without."""
    path = journal_of(place)
    if path is None or not Path(place).expanduser().is_file():  # a mistyped path gets none
        return
    try:
        # who worked when is the shop's own business: nobody else on the machine is to read it
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_APPEND | os.O_CREAT, 0o600), "a", encoding="utf-8") as file:
            file.write(f"{deed}\n")
    except OSError:
        return
