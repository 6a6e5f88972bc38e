"""Purchase orders: rows to nouns and back."""

from collections.abc import Mapping, Sequence
from typing import Any

import sqlalchemy as sa

from stockroom.errors import UnknownError
from stockroom.phrases import phrase
from stockroom.stock.orders import Order, OrderLine, OrderState
from stockroom.stock.quantities import Dimension, Quantity
from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.tables import day_text, maybe_day, moment_text, read_moment, upsert

OPEN = (OrderState.PLACED, OrderState.PART_RECEIVED)
_SAME = ("number", "supplier", "carriage", "site", "note")
_LINE = ("material", "supplier_code", "packs", "cost", "pack_name", "received")


def read_orders(
    session: Session,
    dimensions: Mapping[str, Dimension],
    *,
    states: Sequence[OrderState] | None = None,
    numbers: Sequence[str] | None = None,
) -> list[Order]:
    """Read orders in the order they were placed."""
    asked = sa.select(tables.purchase_order).order_by(tables.purchase_order.c.placed, tables.purchase_order.c.number)
    if states is not None:
        asked = asked.where(tables.purchase_order.c.state.in_([str(s) for s in states]))
    if numbers is not None:
        asked = asked.where(tables.purchase_order.c.number.in_(list(numbers)))
    rows = session.execute(asked).all()
    lines = _lines(session, dimensions, [row.number for row in rows] if len(rows) <= 500 else None)  # noqa: PLR2004 -- parameters a database takes
    return [_order(row, lines.get(row.number, [])) for row in rows]


def the_order(session: Session, dimensions: Mapping[str, Dimension], number: str) -> Order:
    """Find one order.

    Raises
    ------
    UnknownError
        If there is none of that number.
    """
    found = read_orders(session, dimensions, numbers=[number])
    if not found:
        raise UnknownError(
            phrase("There is no order %(number)s.", number=number),
            fix="See what is on order: stockroom orders. Goods no order asked for: stockroom receive --from SUPPLIER",
        )
    return found[0]


def save_orders(session: Session, orders: Sequence[Order]) -> None:
    """Add orders with their lines, or renew those whose number is known."""
    upsert(session, tables.purchase_order, [_row(o) for o in orders])
    lines = [_line_row(o.number, n, line) for o in orders for n, line in enumerate(o.lines, start=1)]
    upsert(session, tables.order_line, lines)


def next_number(session: Session) -> str:
    """Give a number for the next order, such as O-0042."""
    ours = sa.select(tables.purchase_order.c.number).where(tables.purchase_order.c.number.like("O-%"))
    tails = [number.removeprefix("O-") for number in session.execute(ours).scalars()]
    return f"O-{max((int(tail) for tail in tails if tail.isdecimal()), default=0) + 1:04d}"


def _row(o: Order) -> dict[str, Any]:
    return {name: getattr(o, name) for name in _SAME} | {
        "placed": moment_text(o.placed),
        "expected": day_text(o.expected),
        "state": str(o.state),
        "closed": day_text(o.closed),
    }


def _line_row(number: str, position: int, line: OrderLine) -> dict[str, Any]:
    return {name: getattr(line, name) for name in _LINE} | {"number": number, "line": position, "pack": line.pack.nano}


def _order(row: Any, lines: Sequence[OrderLine]) -> Order:  # noqa: ANN401 -- a database row
    return Order(
        **{name: getattr(row, name) for name in _SAME},
        placed=read_moment(row.placed),
        expected=maybe_day(row.expected),
        state=OrderState(row.state),
        closed=maybe_day(row.closed),
        lines=tuple(lines),
    )


def _lines(
    session: Session, dimensions: Mapping[str, Dimension], numbers: Sequence[str] | None
) -> dict[str, list[OrderLine]]:
    asked = sa.select(tables.order_line).order_by(tables.order_line.c.number, tables.order_line.c.line)
    if numbers is not None:
        asked = asked.where(tables.order_line.c.number.in_(list(numbers)))
    found: dict[str, list[OrderLine]] = {}
    for row in session.execute(asked):
        same = {name: getattr(row, name) for name in _LINE}
        pack = Quantity(nano=row.pack, dimension=dimensions[row.material])
        found.setdefault(row.number, []).append(OrderLine(**same, pack=pack))
    return found
