"""Write rows, renewing those whose key is there already: the same few words on SQLite and PostgreSQL."""

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa
from sqlalchemy.dialects import sqlite

from stockroom.store.book import Session


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
