"""Counted bins: rows to nouns and back, and the anchors they give the book."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import sqlalchemy as sa

from stockroom.stock.counts import CountLine, CountReason
from stockroom.stock.moves import MoveKind
from stockroom.stock.postings import Fixed
from stockroom.stock.quantities import Dimension, Quantity
from stockroom.store.book import Session
from stockroom.store.tables import count_line, moment_text, move, read_moment


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptLine:
    """A counted bin as the book keeps it."""

    id: int
    sheet: str
    line: CountLine
    state: str  # open, settled, recounted (a later count of the bin held), or dropped
    settled_by: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Anchor(Fixed):
    """A settled count: at this moment the book says what was counted, whatever is entered later."""

    document: int | None


def add_lines(session: Session, sheet: str, lines: Sequence[CountLine], entered: datetime) -> list[int]:
    """Keep counted bins, not yet settled; give their numbers."""
    last = session.execute(sa.select(sa.func.max(count_line.c.id))).scalar() or 0
    rows = [_row(number, sheet, line, entered) for number, line in enumerate(lines, start=last + 1)]
    if rows:
        session.execute(sa.insert(count_line), rows)
    return [row["id"] for row in rows]


def read_lines(
    session: Session,
    dimensions: Mapping[str, Dimension],
    *,
    sheet: str | None = None,
    state: str | None = None,
) -> list[KeptLine]:
    """Read counted bins in the order they were counted."""
    asked = sa.select(count_line).order_by(count_line.c.counted, count_line.c.id)
    if sheet is not None:
        asked = asked.where(count_line.c.sheet == sheet)
    if state is not None:
        asked = asked.where(count_line.c.state == state)
    return [_kept(row, dimensions[row.material]) for row in session.execute(asked)]


def mark(session: Session, numbers: Sequence[int], *, state: str, settled_by: int | None = None) -> None:
    """Say that bins were settled by a document, opened again, or dropped."""
    if numbers:
        chosen = sa.update(count_line).where(count_line.c.id == sa.bindparam("number"))
        changed = chosen.values(state=state, settled_by=settled_by)
        session.execute(changed, [{"number": number} for number in numbers])


def give_reasons(session: Session, reasons: Mapping[int, CountReason]) -> None:
    """Keep why bins differ, by the number of their line."""
    if reasons:
        changed = sa.update(count_line).where(count_line.c.id == sa.bindparam("number"))
        rows = [{"number": number, "why": str(reason)} for number, reason in reasons.items()]
        session.execute(changed.values(reason=sa.bindparam("why")), rows)


def mark_document(session: Session, document: int, *, state: str, settled_by: int | None = None) -> None:
    """Change the state of every bin a document settled."""
    chosen = sa.update(count_line).where(count_line.c.settled_by == document)
    session.execute(chosen.values(state=state, settled_by=settled_by))


def anchors(session: Session, *, materials: Iterable[str] | None = None, since: datetime | None = None) -> list[Anchor]:
    """Give the settled counts, oldest first; of some materials, from a moment on."""
    asked = sa.select(count_line).where(count_line.c.state == "settled")
    if materials is not None:
        asked = asked.where(count_line.c.material.in_(list(materials)))
    if since is not None:
        asked = asked.where(count_line.c.counted >= moment_text(since))
    rows = session.execute(asked.order_by(count_line.c.counted, count_line.c.id))
    return [
        Anchor(
            material=row.material,
            site=row.site,
            counted=read_moment(row.counted),
            nano=row.nano,
            document=row.settled_by,
        )
        for row in rows
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class SettledBin:
    """A settled count, and by how much the book was corrected when it was settled."""

    id: int
    line: CountLine
    sheet: str
    nano: int  # found less booked


def settled_bins(
    session: Session, dimensions: Mapping[str, Dimension], *, since: datetime | None = None
) -> list[SettledBin]:
    """Read settled counts with the differences they were settled with, in the order they were counted."""
    there = sa.and_(
        move.c.document == count_line.c.settled_by,
        move.c.material == count_line.c.material,
        move.c.site == count_line.c.site,
        move.c.happened == count_line.c.counted,
        move.c.kind == str(MoveKind.COUNT),
    )
    asked = (
        sa.select(count_line, sa.func.coalesce(sa.func.sum(move.c.nano), 0).label("gap"))
        .select_from(count_line.outerjoin(move, there))
        .where(count_line.c.state == "settled")
        .group_by(*count_line.c)
        .order_by(count_line.c.counted, count_line.c.id)
    )
    if since is not None:
        asked = asked.where(count_line.c.counted >= moment_text(since))
    return [
        SettledBin(id=row.id, line=_kept(row, dimensions[row.material]).line, sheet=row.sheet, nano=int(row.gap))
        for row in session.execute(asked)
    ]


def most_found(session: Session, *, site: str | None = None) -> dict[str, int]:
    """Give the largest amount each material was ever found at, in nano (settled counts)."""
    asked = sa.select(count_line.c.material, sa.func.max(count_line.c.nano).label("most"))
    asked = asked.where(count_line.c.state == "settled").group_by(count_line.c.material)
    if site is not None:
        asked = asked.where(count_line.c.site == site)
    return {row.material: int(row.most) for row in session.execute(asked)}


def last_counted(session: Session, *, at: datetime | None = None, site: str | None = None) -> dict[str, datetime]:
    """Give the moment each material was last counted (settled counts)."""
    asked = sa.select(count_line.c.material, sa.func.max(count_line.c.counted).label("last"))
    asked = asked.where(count_line.c.state == "settled").group_by(count_line.c.material)
    if at is not None:
        asked = asked.where(count_line.c.counted <= moment_text(at))
    if site is not None:
        asked = asked.where(count_line.c.site == site)
    return {row.material: read_moment(row.last) for row in session.execute(asked)}


def _row(number: int, sheet: str, line: CountLine, entered: datetime) -> dict[str, Any]:
    return {
        "id": number,
        "sheet": sheet,
        "material": line.material,
        "site": line.site,
        "counted": moment_text(line.counted),
        "nano": line.amount.nano,
        "error": line.error.nano if line.error else None,
        "aid": line.aid,
        "who": line.who,
        "reason": str(line.reason),
        "note": line.note,
        "entered": moment_text(entered),
        "settled_by": None,
        "state": "open",
    }


def _kept(row: Any, dimension: Dimension) -> KeptLine:  # noqa: ANN401 -- a database row
    line = CountLine(
        material=row.material,
        amount=Quantity(nano=row.nano, dimension=dimension),
        counted=read_moment(row.counted),
        error=None if row.error is None else Quantity(nano=row.error, dimension=dimension),
        aid=row.aid,
        who=row.who,
        reason=CountReason(row.reason),
        site=row.site,
        note=row.note,
    )
    return KeptLine(id=row.id, sheet=row.sheet, line=line, state=row.state, settled_by=row.settled_by)
