"""A material's lately moves, read without going through its whole past."""

from collections.abc import Sequence
from datetime import datetime

import sqlalchemy as sa

from stockroom.stock.moves import Move
from stockroom.store.book import Session
from stockroom.store.ledger import move_of
from stockroom.store.moments import moment_text
from stockroom.store.tables import month_total, move


def newest_moves(session: Session, material: str, since: datetime, most: int) -> list[tuple[int, Move]]:
    """Read the newest moves after a moment, newest first, each with its document's number."""
    asked = sa.select(move).where(*_lately(session, material, since))
    asked = asked.order_by(move.c.happened.desc(), move.c.document.desc(), move.c.line.desc()).limit(most)
    return [(row.document, move_of(row)) for row in session.execute(asked)]


def daily_changes(session: Session, material: str, since: datetime) -> list[tuple[str, int, int]]:
    """Add up the moves after a moment by day: the day, how many, and nano in all; oldest first."""
    day = sa.func.substr(move.c.happened, 1, 10).label("day")
    asked = sa.select(day, sa.func.count().label("moves"), sa.func.sum(move.c.nano).label("nano"))
    asked = asked.where(*_lately(session, material, since)).group_by(day).order_by(day)
    return [(row.day, int(row.moves), int(row.nano)) for row in session.execute(asked)]


def _lately(session: Session, material: str, since: datetime) -> Sequence[sa.ColumnElement[bool]]:
    """Ask site by site: so the index by material, site and moment leads straight there."""
    sites = session.execute(sa.select(month_total.c.site).distinct()).scalars().all()
    return (move.c.material == material, move.c.site.in_(sites), move.c.happened > moment_text(since))
