"""Lots on a shelf: what is left of each, if the first to expire is always used first."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """A part of what lies on a shelf, and the day from which it is not used any more; None keeps."""

    nano: int
    expiry: date | None = None

    def expired(self, day: date) -> bool:
        """Say whether it is not used any more on a day."""
        return self.expiry is not None and self.expiry <= day


@dataclass(frozen=True, slots=True, kw_only=True)
class LotMove:
    """What came of a lot, or left the shelf, on a day: below zero left."""

    day: date
    nano: int
    expiry: date | None = None
    used: bool = False  # it left for a job or a customer


def lots_left(moves: Iterable[LotMove], *, shelf_life_days: int | None = None) -> tuple[Lot, ...]:
    """Say which lots lie on the shelf once all has moved, the first to expire first.

    Parameters
    ----------
    moves : iterable of LotMove
        All moves of one material; within a day, goods come before they go.
    shelf_life_days : int, optional
        How long what came without a date keeps from that day; None keeps for good.

    Notes
    -----
    What left names a lot only where a delivery was taken back; else it is of the first to expire, and what keeps goes
    last. What has expired is used only where nothing else is there: then the shop evidently goes on using it, and it
    counts as what keeps. Where more left than there was, what comes next makes that good before it makes a lot.
    """
    held: dict[date, int] = {}
    owed = 0
    for move in sorted(
        moves, key=lambda each: (each.day, each.nano < 0, each.expiry or date.max, each.used, each.nano)
    ):
        if move.nano >= 0:
            until = move.expiry or _keeps_until(move.day, shelf_life_days)
            paid = min(owed, move.nano)
            owed -= paid
            held[until] = held.get(until, 0) + move.nano - paid
        else:
            owed += _take(held, move)
    return tuple(
        Lot(nano=nano, expiry=None if until == date.max else until) for until, nano in sorted(held.items()) if nano
    )


def _take(held: dict[date, int], move: LotMove) -> int:
    """Take what left out of its lots; gives what they lacked."""
    left = -move.nano
    gone = {until for until in held if until <= move.day and move.used}
    for until in sorted(held, key=lambda each: (each != move.expiry, each in gone, each)):
        taken = min(held[until], left)
        held[until] -= taken
        left -= taken
        if taken and until in gone:
            held[date.max] = held.get(date.max, 0) + held.pop(until)
        elif not held[until]:  # of years of lots few are there on a day: only those are gone through
            del held[until]
    return left


def _keeps_until(day: date, shelf_life_days: int | None) -> date:
    return date.max if shelf_life_days is None else day + timedelta(days=shelf_life_days)
