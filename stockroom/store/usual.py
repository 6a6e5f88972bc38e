"""What work is usual lately: for the buttons nearest to hand."""

from datetime import datetime

import sqlalchemy as sa

from stockroom.store.book import Session
from stockroom.store.moments import moment_text
from stockroom.store.tables import ticket


def finished_since(session: Session, since: datetime) -> dict[tuple[str, str], int]:
    """Count the tickets finished since a moment, by job and size."""
    asked = sa.select(ticket.c.job, ticket.c.size, sa.func.count().label("times"))
    asked = asked.where(ticket.c.finished >= moment_text(since)).group_by(ticket.c.job, ticket.c.size)
    return {(row.job, row.size): int(row.times) for row in session.execute(asked)}
