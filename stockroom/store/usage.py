"""What jobs drew and what else moved, as the rows that learning from counts asks for."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

import sqlalchemy as sa

from stockroom.stock.counts import CountReason
from stockroom.stock.moves import MoveKind
from stockroom.store.book import Session
from stockroom.store.tables import (
    count_line,
    day_text,
    document,
    end_of,
    moment_text,
    month_total,
    move,
    read_moment,
    ticket,
)

BY_JOBS = (MoveKind.JOB_USE, MoveKind.REDO_USE)


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnLines:
    """Recipe lines drawn by jobs, column by column: a book holds very many, and a noun for each would cost more.

    A reversal draws the opposite.
    """

    material: tuple[str, ...]
    happened: tuple[str, ...]  # moments as texts
    job: tuple[str, ...]
    line: tuple[str, ...]
    nano: tuple[int, ...]  # above zero left the shelf


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedApart:
    """A move that no job made: deliveries, sales, waste; above zero joined the shelf."""

    material: str
    happened: datetime
    nano: int


@dataclass(frozen=True, slots=True, kw_only=True)
class CountedBin:
    """A settled count of one bin."""

    material: str
    counted: datetime
    nano: int
    error: int | None
    site: str
    reason: CountReason


def drawn_by_jobs(session: Session, until: datetime, *, site: str | None = None) -> DrawnLines:
    """Read what every job drew until a moment, oldest first."""
    asked = (
        sa.select(move.c.material, move.c.happened, ticket.c.job, move.c.recipe_line, -move.c.nano)
        .join(ticket, ticket.c.number == move.c.ticket)
        .where(_kind_in(BY_JOBS), move.c.happened <= moment_text(until))
        .order_by(move.c.happened, move.c.document, move.c.line)
    )
    asked = asked if site is None else asked.where(move.c.site == site)
    columns = tuple(zip(*session.execute(asked).all(), strict=True)) or ((), (), (), (), ())
    return DrawnLines(**dict(zip(("material", "happened", "job", "line", "nano"), columns, strict=True)))


def other_moves(session: Session, until: datetime, *, site: str | None = None) -> list[MovedApart]:
    """Read what neither jobs nor counts moved until a moment, oldest first."""
    known = (*BY_JOBS, MoveKind.COUNT)
    asked = (
        sa.select(move.c.material, move.c.happened, move.c.nano)
        .where(sa.not_(_kind_in(known)), move.c.happened <= moment_text(until))
        .order_by(move.c.happened)
    )
    asked = asked if site is None else asked.where(move.c.site == site)
    return [
        MovedApart(material=r.material, happened=read_moment(r.happened), nano=r.nano) for r in session.execute(asked)
    ]


def first_days(session: Session, until: datetime, *, site: str | None = None) -> dict[str, date]:
    """Give the day of each material's first move, of those that moved until a moment."""
    first = sa.func.min(move.c.happened)
    asked = sa.select(move.c.material, first.label("first")).group_by(move.c.material)
    asked = asked.having(first <= moment_text(until))  # so that an index answers it
    if site is not None:
        asked = asked.where(move.c.site == site)
    return {row.material: read_moment(row.first).date() for row in session.execute(asked)}


def used_between(session: Session, kinds: Sequence[MoveKind], first: date, last: date) -> dict[str, int]:
    """Add up what left the shelf by moves of some kinds, from a day to another, in nano by material."""
    asked = sa.select(move.c.material, sa.func.sum(move.c.nano).label("nano"))
    asked = asked.where(move.c.happened >= day_text(first), move.c.happened <= end_of(last), _kind_in(kinds))
    return {row.material: -int(row.nano) for row in session.execute(asked.group_by(move.c.material))}


def counted_bins(session: Session, until: datetime, *, site: str | None = None) -> list[CountedBin]:
    """Read the settled counts until a moment, oldest first."""
    asked = sa.select(count_line).where(count_line.c.state == "settled", count_line.c.counted <= moment_text(until))
    asked = asked if site is None else asked.where(count_line.c.site == site)
    return [
        CountedBin(
            material=r.material,
            counted=read_moment(r.counted),
            nano=r.nano,
            error=r.error,
            site=r.site,
            reason=CountReason(r.reason),
        )
        for r in session.execute(asked.order_by(count_line.c.counted, count_line.c.id))
    ]


def sites_with_moves(session: Session) -> set[str]:
    """Give the sites the ledger mentions."""
    return set(session.execute(sa.select(month_total.c.site).distinct()).scalars())


def counting_state(session: Session) -> str:
    """Give a text that changes when counts or reversals are entered: what lessons are kept against."""
    marks = sa.select(sa.func.count(), sa.func.coalesce(sa.func.max(document.c.id), 0))
    found = session.execute(marks.where(document.c.kind.in_(["count", "reversal", "count kept"]))).one()
    return f"{found[0]}.{found[1]}"


def _kind_in(kinds: Sequence[MoveKind]) -> sa.ColumnElement[bool]:
    return move.c.kind.in_([str(kind) for kind in kinds])


def finished_since(session: Session, since: datetime) -> dict[tuple[str, str], int]:
    """Count the tickets finished since a moment, by job and size."""
    asked = sa.select(ticket.c.job, ticket.c.size, sa.func.count().label("times"))
    asked = asked.where(ticket.c.finished >= moment_text(since)).group_by(ticket.c.job, ticket.c.size)
    return {(row.job, row.size): int(row.times) for row in session.execute(asked)}
