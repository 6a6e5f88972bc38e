"""The yield the shop really gets from its sheets, read from the book."""

from collections.abc import Iterable, Mapping

from stockroom.margins.cutting import Pattern, Yield, measured_yield
from stockroom.margins.period import month_of
from stockroom.stock.layers import Entry
from stockroom.stock.moves import MoveKind
from stockroom.stock.recipes import PAIR
from stockroom.stock.tickets import Ticket

_WORK = (MoveKind.JOB_USE, MoveKind.REDO_USE)
_GONE = (*_WORK, MoveKind.WASTE, MoveKind.COUNT, MoveKind.OFFCUT)  # offcuts kept lower what went


def own_yield(
    entries: Iterable[Entry], material: str, patterns: Mapping[str, Pattern], tickets: Mapping[str, Ticket]
) -> Yield | None:
    """Measure what part of a sheet material ends in soles.

    Parameters
    ----------
    entries : iterable of Entry
        Cost entries of the ledger.
    material : str
        Code of the sheet material.
    patterns : mapping of str to Pattern
        Net area of a pair by job, from the shop's own patterns.
    tickets : mapping of str to Ticket
        By number, for sizes and shoes.

    Returns
    -------
    Yield or None
        Net area cut over area gone, months standing as sheets; None where nothing was cut.

    Notes
    -----
    Gone is what jobs drew, waste and what counts found missing, less offcuts kept. It is only as true as the counts:
    without them it repeats the recipe's own waste. Work without a pattern, or without a size it can be scaled to, is
    left out on both sides.
    """
    gone: dict[str, dict[str, int]] = {}  # by month and ticket; '' for what no ticket drew
    for entry in entries:
        if entry.move.material == material and entry.kind in _GONE:
            mine = gone.setdefault(month_of(entry.booked_on), {})
            number = entry.move.ticket if entry.kind in _WORK else ""
            mine[number] = mine.get(number, 0) - entry.nano
    areas = {number: _area(tickets.get(number), patterns) for drawn in gone.values() for number in drawn if number}
    sheets = [_month(drawn, areas) for _, drawn in sorted(gone.items())]
    return measured_yield(sheets) if sum(net for net, _ in sheets) > 0 else None


def _month(drawn: Mapping[str, int], areas: Mapping[str, float | None]) -> tuple[float, float]:
    """Give a month's net and gone area; a ticket that was taken back drew nothing and has cut nothing."""
    cut = {number: area for number in drawn if (area := areas.get(number)) is not None and drawn[number] > 0}
    return sum(cut.values()), float(drawn.get("", 0) + sum(drawn[number] for number in cut))


def _area(ticket: Ticket | None, patterns: Mapping[str, Pattern]) -> float | None:
    """Give the net area of a ticket's soles, or None where its pattern or size can't be told."""
    if ticket is None or ticket.size is None or ticket.job not in patterns:
        return None
    pattern = patterns[ticket.job]
    if ticket.size.system not in {size.system for size in pattern.reference}:
        return None
    return float(pattern.area(ticket.size) * ticket.shoes / PAIR)
