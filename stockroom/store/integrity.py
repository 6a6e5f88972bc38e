"""Read the ledger row by row as it lies in the tables, to see whether it still says what was written.

What is found: any document or move edited, removed, put in or swapped, in the middle or at the end, and any month's
total that its moves don't come to. What is not: a whole ledger written anew with fitting figures, its end included.
Only a figure that left the book can tell that: on the accountant's workbook, or told by a backup (`no_such_figures`).
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Any

import sqlalchemy as sa

from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.ledger import CHAIN_START, kept_end, link
from stockroom.store.tables import day_text, document, month_total, move

_Totals = Counter[tuple[str, str, str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """What adding up again found."""

    documents: int
    moves: int
    figure: str  # the chain's head
    faults: tuple[str, ...]
    cautions: tuple[str, ...] = ()  # odd, but nothing that was changed


def audit(session: Session) -> Audit:
    """Follow the chain from the first document, and add the moves up again."""
    walk = _Walk()
    for row, lines in _documents(session):
        walk.step(row, lines)
    faults = [*walk.faults, *_lost_end(session, walk), *_strays(session), *_wrong_totals(session, walk.totals)]
    return Audit(
        documents=walk.documents,
        moves=walk.moves,
        figure=walk.chain,
        faults=tuple(faults),
        cautions=_set_back(walk.set_back),
    )


def figure_at(session: Session, day: date) -> str:
    """Give the check figure at the last document booked up to an accounting day; nothing before the first."""
    asked = sa.select(document.c.chain).where(document.c.booked_on <= day_text(day)).order_by(document.c.id.desc())
    return session.execute(asked.limit(1)).scalar() or ""


def no_such_figures(session: Session, figures: Sequence[str]) -> list[str]:
    """Say which printed check figures (or their beginnings) no document of the book carries."""
    missing = []
    for figure in figures:
        there = sa.select(document.c.id).where(document.c.chain.startswith(figure.strip().lower(), autoescape=True))
        if not figure.strip() or session.execute(there.limit(1)).scalar() is None:
            missing.append(
                f"The check figure '{figure}' is not in this book: what was entered up to it is gone or was changed."
            )
    return missing


@dataclass(slots=True)
class _Walk:
    """Following the chain, document by document."""

    chain: str = CHAIN_START
    documents: int = 0
    moves: int = 0
    last: int = 0
    entered: str = ""
    totals: _Totals = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    set_back: list[tuple[int, str]] = field(default_factory=list)

    def step(self, row: dict[str, Any], lines: list[dict[str, Any]]) -> None:
        """Take one document with its moves."""
        number = row["id"]
        if number != self.last + 1:
            self.faults.append(_gap(self.last + 1, number))
        if row["chain"] != _link(self.chain, row, lines):
            self.faults.append(f"Document {number} was changed, or one before it: its check figure does not fit.")
        self.chain, self.last = row["chain"], number
        self.documents, self.moves = self.documents + 1, self.moves + len(lines)
        for line in lines:
            self.totals[line["site"], line["material"], str(line["happened"])[:7]] += line["nano"]
        if str(row["entered"]) < self.entered:
            self.set_back.append((number, self.entered))
        self.entered = max(self.entered, str(row["entered"]))


def _link(chain: str, row: dict[str, Any], lines: list[dict[str, Any]]) -> str:
    try:
        return link(chain, row, lines)
    except TypeError:  # something no program of ours writes, such as raw bytes
        return ""


def _gap(wanted: int, found: int) -> str:
    if found < wanted:
        return f"Document {found} stands where none belongs."
    if found == wanted + 1:
        return f"Document {wanted} is missing."
    return f"Documents {wanted} to {found - 1} are missing."


def _documents(session: Session) -> Iterator[tuple[dict[str, Any], list[dict[str, Any]]]]:
    """Give each document with its moves, reading both tables side by side so that memory stays flat."""
    lines = iter(session.execute(sa.select(move).order_by(move.c.document, move.c.line)).mappings())
    waiting = next(lines, None)
    for row in session.execute(sa.select(document).order_by(document.c.id)).mappings():
        mine = []
        while waiting is not None and waiting["document"] <= row["id"]:
            if waiting["document"] == row["id"]:
                mine.append(dict(waiting))
            waiting = next(lines, None)
        yield dict(row), mine


def _lost_end(session: Session, walk: _Walk) -> list[str]:
    kept = kept_end(session)
    if kept == (walk.last, walk.chain) or (kept is None and not walk.last):
        return []
    if kept is None:
        return ["What says where the ledger ends is gone."]
    if kept[0] > walk.last:
        gone = f"Document {kept[0]} is" if kept[0] == walk.last + 1 else f"Documents {walk.last + 1} to {kept[0]} are"
        return [f"{gone} missing at the end."]
    if kept[0] < walk.last:
        return [f"What follows document {kept[0]} was not entered by this program."]
    return [f"Document {walk.last} is not the one the book was last written up to."]


def _strays(session: Session) -> list[str]:
    stray = sa.select(move.c.document, sa.func.count().label("lines"))
    stray = stray.select_from(move.outerjoin(document, document.c.id == move.c.document))
    found = session.execute(stray.where(document.c.id.is_(None)).group_by(move.c.document).order_by(move.c.document))
    return [f"{row.lines} moves belong to document {row.document}, which is not there." for row in found]


def _wrong_totals(session: Session, totals: _Totals) -> list[str]:
    kept = {(r.site, r.material, r.month): r.nano for r in session.execute(sa.select(month_total))}
    keys = sorted(k for k in kept.keys() | totals.keys() if kept.get(k, 0) != totals[k])
    return [
        f"The month's total of {material} at {site} in {month} does not fit its moves."
        for site, material, month in keys
    ]


def _set_back(found: Sequence[tuple[int, str]]) -> tuple[str, ...]:
    """Say once that the clock went back: the documents stand, but when they were entered is not to be relied on."""
    if not found:
        return ()
    number, before = found[0]
    more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
    return (
        f"The clock was set back: document {number}{more} was entered before {before}, the time of an earlier one.",
    )


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
