"""Read the ledger row by row as it lies in the tables, to see whether it still says what was written."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

import sqlalchemy as sa

from stockroom.store.book import Session
from stockroom.store.ledger import CHAIN_START, link
from stockroom.store.moments import day_text
from stockroom.store.tables import document, month_total, move


@dataclass(frozen=True, slots=True, kw_only=True)
class Audit:
    """What adding up again found."""

    documents: int
    moves: int
    figure: str  # the chain's head
    faults: tuple[str, ...]


def audit(session: Session) -> Audit:
    """Follow the chain from the first document, and add the moves up again."""
    faults: list[str] = []
    totals: Counter[tuple[str, str, str]] = Counter()
    chain, documents, moves = CHAIN_START, 0, 0
    for row, lines in _papers(session):
        documents, moves = documents + 1, moves + len(lines)
        if row["id"] != documents:
            faults.append(f"Document {documents} is missing.")
            documents = row["id"]
        chain = link(chain, row, lines)
        if chain != row["chain"]:
            faults.append(f"Document {row['id']} was changed, or one before it: its check figure does not fit.")
            chain = row["chain"]
        for line in lines:
            totals[line["site"], line["material"], line["happened"][:7]] += line["nano"]
    faults += _strays(session) + _wrong_totals(session, totals)
    return Audit(documents=documents, moves=moves, figure=chain, faults=tuple(faults))


def figure_at(session: Session, day: date) -> str:
    """Give the check figure at the last document booked up to an accounting day; nothing before the first."""
    asked = sa.select(document.c.chain).where(document.c.booked_on <= day_text(day)).order_by(document.c.id.desc())
    return session.execute(asked.limit(1)).scalar() or ""


def _papers(session: Session) -> Iterator[tuple[dict[str, Any], list[dict[str, Any]]]]:
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


def _strays(session: Session) -> list[str]:
    stray = sa.select(sa.func.count()).select_from(move.outerjoin(document, document.c.id == move.c.document))
    count = session.execute(stray.where(document.c.id.is_(None))).scalar() or 0
    return [f"{count} moves belong to no document."] if count else []


def _wrong_totals(session: Session, totals: Counter[tuple[str, str, str]]) -> list[str]:
    kept = {(r.site, r.material, r.month): r.nano for r in session.execute(sa.select(month_total))}
    keys = sorted(k for k in kept.keys() | totals.keys() if kept.get(k, 0) != totals[k])
    return [
        f"The month's total of {material} at {site} in {month} does not fit its moves."
        for site, material, month in keys
    ]
