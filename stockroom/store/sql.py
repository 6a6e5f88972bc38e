"""Days and moments as the tables keep them: ISO texts that sort as they stand."""

from collections.abc import Sequence
from datetime import date, datetime
from functools import lru_cache
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import sqlite

from stockroom.store.book import Session

# A document's moves share its moment, and many things happen on one day: each text is read once while it is met often.
_MET = 4096


def moment_text(moment: datetime) -> str:
    """Write a moment to the second; the diary is kept in the shop's own time, so zones are refused."""
    if moment.tzinfo is not None:
        raise ValueError(f"{moment} has a time zone; the book keeps the shop's own time")
    return moment.isoformat(timespec="seconds")


def day_text(day: date | None) -> str:
    """Write a day; nothing for none."""
    return "" if day is None else day.isoformat()


@lru_cache(_MET)
def read_moment(text: str) -> datetime:
    """Read a moment."""
    return datetime.fromisoformat(text)


def maybe_moment(text: str) -> datetime | None:
    """Read a moment that may be missing."""
    return read_moment(text) if text else None


@lru_cache(_MET)
def maybe_day(text: str) -> date | None:
    """Read a day that may be missing."""
    return date.fromisoformat(text[:10]) if text else None


def end_of(day: date) -> str:
    """Give a text that sorts after every moment of a day."""
    return f"{day.isoformat()}T23:59:59"


def upsert(session: Session, table: sa.Table, rows: Sequence[dict[str, Any]], *, by: Sequence[str] = ()) -> None:
    """Insert rows; where one with the same key exists, renew its other columns."""
    if not rows:
        return
    key = list(by) or [column.name for column in table.primary_key]
    statement = _insert(session, table)
    renewed = {name: statement.excluded[name] for name in rows[0] if name not in key}
    if renewed:
        session.execute(statement.on_conflict_do_update(index_elements=key, set_=renewed), list(rows))
    else:
        session.execute(statement.on_conflict_do_nothing(index_elements=key), list(rows))


def _insert(session: Session, table: sa.Table) -> Any:  # noqa: ANN401 -- two dialects' classes, alike in use
    if session.dialect.name == "postgresql":
        from sqlalchemy.dialects import postgresql  # noqa: PLC0415 -- slow to import, needed only with a server

        return postgresql.insert(table)
    return sqlite.insert(table)
