"""Tickets: rows to nouns and back."""

import json
from collections.abc import Callable, Collection, Sequence
from datetime import date, datetime
from functools import cache
from typing import Any

import sqlalchemy as sa

from stockroom.errors import UnknownError
from stockroom.phrases import phrase
from stockroom.stock.recipes import Need
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.tables import day_text, maybe_day, maybe_moment, moment_text, read_moment, rows_among, upsert

_SAME = (
    "number", "job", "shoes", "price", "finish_document", "redo_of", "by_post", "post_cost", "customer", "note", "site",
)  # fmt: skip
_TOLD = ("taken_in", "size", "chosen", "promised", "state", "finished", "added", "left_out", "drawn")


def read_tickets(
    session: Session,
    *,
    state: TicketState | None = None,
    numbers: Sequence[str] | None = None,
    site: str | None = None,
    worked: tuple[date, date] | None = None,
    since: datetime | None = None,
    also: Collection[str] = (),
) -> list[Ticket]:
    """Read tickets in the order they were taken in.

    Parameters
    ----------
    session : Session
        The book.
    state, numbers, site : optional
        Only those of a state, of some numbers, of a site.
    worked : pair of date, optional
        Only those of which documents are booked on these days.
    since : datetime, optional
        Only those that are open, or were finished after this moment.
    also : collection of str
        Numbers that are read besides, whenever they were finished.
    """
    columns = (tables.ticket.c[name] for name in _SAME + _TOLD)
    asked = sa.select(*columns)
    if state is not None:
        asked = asked.where(tables.ticket.c.state == str(state))
    if site is not None:
        asked = asked.where(tables.ticket.c.site == site)
    if worked is not None:
        booked = tables.document.c.booked_on.between(day_text(worked[0]), day_text(worked[1]))
        asked = asked.where(tables.ticket.c.number.in_(sa.select(tables.document.c.subject).where(booked)))
    chosen = cache(json.loads)  # few choices, many tickets
    rows = _rows(session, asked, numbers, since, also)
    return [_ticket(row, chosen) for row in sorted(rows, key=lambda row: (row.taken_in, row.number))]


def _rows(
    session: Session,
    asked: sa.Select[Any],
    numbers: Sequence[str] | None,
    since: datetime | None,
    also: Collection[str],
) -> Collection[sa.Row[Any]]:
    of = tables.ticket.c
    if numbers is not None:
        return rows_among(session, asked, of.number, list(dict.fromkeys(numbers)))
    if since is None:
        return session.execute(asked).all()
    lately = asked.where(sa.or_(of.state == str(TicketState.BOOKED), of.finished > moment_text(since)))
    found = {row.number: row for row in session.execute(lately)}
    found |= {row.number: row for row in rows_among(session, asked, of.number, sorted(also))}
    return found.values()


def when_finished(session: Session, numbers: Collection[str]) -> dict[str, datetime]:
    """Say when tickets of some numbers were finished or cancelled, of those that were."""
    of = tables.ticket.c
    asked = sa.select(of.number, of.finished).where(of.finished != "")
    return {row.number: read_moment(row.finished) for row in rows_among(session, asked, of.number, sorted(numbers))}


def pairs_worked(session: Session, numbers: Collection[str], site: str | None = None) -> list[tuple[str, str, int]]:
    """Give number, job and shoes of tickets of some numbers [of a site], and nothing else of them."""
    of = tables.ticket.c
    asked = sa.select(of.number, of.job, of.shoes)
    if site is not None:
        asked = asked.where(of.site == site)
    return [(row.number, row.job, row.shoes) for row in rows_among(session, asked, of.number, sorted(numbers))]


def the_ticket(session: Session, number: str) -> Ticket:
    """Find one ticket.

    Raises
    ------
    UnknownError
        If there is none of that number.
    """
    found = read_tickets(session, numbers=[number])
    if not found:
        raise UnknownError(
            phrase("There is no ticket %(number)s.", number=number), fix="See the open tickets: stockroom tickets"
        )
    return found[0]


def save_tickets(session: Session, tickets: Sequence[Ticket]) -> None:
    """Add tickets, or renew those whose number is known."""
    upsert(session, tables.ticket, [_row(t) for t in tickets])


def known_numbers(session: Session) -> set[str]:
    """Give every ticket number in the book."""
    return set(session.execute(sa.select(tables.ticket.c.number)).scalars())


def next_number(session: Session) -> str:
    """Give the number after the highest all-digit one."""
    column = tables.ticket.c.number
    longest = sa.select(sa.func.max(sa.func.length(column))).where(_digits_only(session, column)).scalar_subquery()
    highest = sa.select(sa.func.max(column)).where(_digits_only(session, column), sa.func.length(column) == longest)
    return str(int(session.execute(highest).scalar() or 1000) + 1)


def _digits_only(session: Session, column: sa.Column[str]) -> sa.ColumnElement[bool]:
    if session.dialect.name == "postgresql":
        return column.regexp_match("^[0-9]+$")
    return sa.not_(column.bool_op("GLOB")("*[^0-9]*"))


def _row(t: Ticket) -> dict[str, Any]:
    """Write a ticket as its row: plain values, fit for JSON."""
    return {name: getattr(t, name) for name in _SAME} | {
        "taken_in": moment_text(t.taken_in),
        "size": str(t.size or ""),
        "chosen": json.dumps(dict(t.chosen), sort_keys=True) if t.chosen else "",
        "promised": day_text(t.promised),
        "state": str(t.state),
        "finished": moment_text(t.finished) if t.finished else "",
        "added": _lines_text(t.added),
        "left_out": json.dumps(list(t.left_out)) if t.left_out else "",
        "drawn": _lines_text(t.drawn),
    }


def _lines_text(lines: Sequence[Need]) -> str:
    return json.dumps([[each.line, each.material, each.nano] for each in lines]) if lines else ""


def _lines(text: str) -> tuple[Need, ...]:
    return tuple(Need(line=line, material=material, nano=nano) for line, material, nano in json.loads(text or "[]"))


_STATES = {str(state): state for state in TicketState}


def _ticket(row: Any, chosen: Callable[[str], Any]) -> Ticket:  # noqa: ANN401 -- a database row
    *same, taken_in, size, parts, promised, state, finished, added, left_out, drawn = row
    return Ticket(
        **dict(zip(_SAME, same, strict=True)),
        taken_in=read_moment(taken_in),
        size=shoe_size(size) if size else None,
        chosen=chosen(parts) if parts else {},
        promised=maybe_day(promised),
        state=_STATES[state],
        finished=maybe_moment(finished),
        added=_lines(added) if added else (),
        left_out=tuple(json.loads(left_out)) if left_out else (),
        drawn=_lines(drawn) if drawn else (),
    )
