"""What was done to a book on a server, line by line: numbered without gaps, never changed."""

from collections.abc import Sequence

import sqlalchemy as sa

from stockroom.stock.audit_log import LogLine
from stockroom.store.book import Session
from stockroom.store.tables import deed as table
from stockroom.store.tables import moment_text, read_moment

_SAID = ("door", "who", "device", "what", "outcome")


def append(session: Session, lines: Sequence[LogLine]) -> None:
    """Add lines after the last one."""
    last = session.execute(sa.select(sa.func.max(table.c.id))).scalar() or 0
    rows = [_row(number, line) for number, line in enumerate(lines, start=last + 1)]
    session.execute(sa.insert(table), rows)


def newest(session: Session, count: int) -> list[LogLine]:
    """Give the last lines, the newest last."""
    found = session.execute(sa.select(table).order_by(table.c.id.desc()).limit(count)).mappings()
    return [LogLine(when=read_moment(row["moment"]), **{name: row[name] for name in _SAID}) for row in found][::-1]


def missing(session: Session) -> int:
    """Count the lines whose number is gone; a line cut off at the end leaves no gap."""
    last, there = session.execute(sa.select(sa.func.coalesce(sa.func.max(table.c.id), 0), sa.func.count())).one()
    return int(last) - int(there)


def _row(number: int, line: LogLine) -> dict[str, object]:
    return {"id": number, "moment": moment_text(line.when), **dict(zip(_SAID, line.said, strict=True))}
