"""Whether the database itself is whole: its pages, what its rows refer to, and the triggers that guard it."""

from typing import Any

import sqlalchemy as sa

from stockroom.store import tables
from stockroom.store.book import Session

_GUARDED = ("document", "move", "deed")
_SQLITE_GUARDS = {
    *(f"{table}_no_{verb}" for table in _GUARDED for verb in ("update", "delete", "replace")),
    "move_month_total",
}
_SERVER_GUARDS = {*(f"{table}_append_only" for table in _GUARDED), "move_month_total"}


def unsound(session: Session) -> list[str]:
    """Say what is wrong with the database that holds the book."""
    on_server = session.dialect.name == "postgresql"
    rows = _loose_on_server(session) if on_server else [*_pages(session), *_loose(session)]
    return _without_guards(session, on_server=on_server) + rows


def _without_guards(session: Session, *, on_server: bool) -> list[str]:
    asked = (
        "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled IN ('O', 'A')"
        if on_server
        else "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    )
    there = set(session.execute(sa.text(asked)).scalars())
    lost = sorted((_SERVER_GUARDS if on_server else _SQLITE_GUARDS) - there)
    return [f"The guard '{name}' that keeps the ledger from being edited is gone." for name in lost]


def _pages(session: Session) -> list[str]:
    found = [str(said) for said in session.execute(sa.text("PRAGMA integrity_check(10)")).scalars()]
    return [] if found == ["ok"] else [f"The file is damaged: {said.splitlines()[0]}." for said in found]


def _loose(session: Session) -> list[str]:
    found = session.execute(sa.text("PRAGMA foreign_key_check")).all()
    return [f"Row {row.rowid} of '{row.table}' names a {row.parent} that is not there." for row in found]


def _loose_on_server(session: Session) -> list[str]:
    """Look for rows that refer to nothing: whoever owns the server can switch its own look-out off."""
    references = [key for table in tables.metadata.sorted_tables for key in table.foreign_key_constraints]
    counted = [(key, session.execute(_without_parent(key)).scalar_one()) for key in references]
    return [
        f"Rows of '{key.table.name}' name a {key.referred_table.name} that is not there: {number}."
        for key, number in counted
        if number
    ]


def _without_parent(key: sa.ForeignKeyConstraint) -> sa.Select[Any]:
    """Count the rows whose reference is set and leads nowhere."""
    parent = key.referred_table.alias()
    meets = [parent.c[each.column.name] == each.parent for each in key.elements]
    named = [each.parent.is_not(None) for each in key.elements]
    there = sa.exists().where(*meets).correlate(key.table)
    return sa.select(sa.func.count()).select_from(key.table).where(*named, ~there)
