"""Whether the database itself is whole: its pages, what its rows refer to, and the triggers that guard it."""

import sqlalchemy as sa

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
    return _without_guards(session, on_server=on_server) + ([] if on_server else [*_pages(session), *_loose(session)])


def _without_guards(session: Session, *, on_server: bool) -> list[str]:
    asked = (
        "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal AND tgenabled <> 'D'"
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
