"""Who else has a book's file open."""

import sqlite3
from contextlib import closing
from pathlib import Path


def in_use(place: str) -> bool:
    """Say whether another program, or another hand in this one, has a book's file open, be it idle."""
    path = Path(place).expanduser()
    if not path.exists():
        return False
    try:
        with closing(sqlite3.connect(path, timeout=0)) as raw:
            for mode in ("DELETE", "WAL"):  # leaving the log ahead is granted only to whoever is alone
                raw.execute(f"PRAGMA journal_mode={mode}")
    except sqlite3.DatabaseError as wrong:  # a file too damaged to be asked is restored all the more
        return "locked" in str(wrong)
    return False
