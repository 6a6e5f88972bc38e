"""What goes wrong in the invented shop: write-offs, losses nobody saw, a paper left lying about."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time

from stockroom.demo.catalogue import SHELF
from stockroom.demo.dice import Dice
from stockroom.demo.shelves import Left
from stockroom.stock.counts import Reason
from stockroom.stock.quantities import quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Mishap:
    """A sudden loss: what part of the true stock is kept, and what the shop makes of it afterwards."""

    day: date
    material: str
    kept: float
    reason: Reason


_MISHAPS = (
    Mishap(day=date(2024, 7, 11), material="CEM-SOLV", kept=0.45, reason=Reason.SPOILT),
    Mishap(day=date(2025, 2, 15), material="BAG", kept=0.4, reason=Reason.SPOILT),
    Mishap(day=date(2025, 10, 9), material="HIDE-BLK", kept=0.5, reason=Reason.LOSS),
    Mishap(day=date(2026, 3, 19), material="POLISH-BLK", kept=0.3, reason=Reason.LOSS),
    Mishap(day=date(2026, 11, 11), material="THREAD-BLK", kept=0.0, reason=Reason.UNRECORDED),
)
LOST_PAPERS = ("THREAD-BLK", date(2026, 11, 8))  # its delivery arrives, but the note isn't entered yet

# Now and then: how often a week, what, how much, why.
_WASTE = (
    (0.10, "BEND-OAK", "2.5 dm2", "flaw in the leather"),
    (0.08, "CEM-SOLV", "120 ml", "skinned over"),
    (0.08, "CEM-WATER", "60 ml", "dried out"),
    (0.06, "EDGE-BLK", "25 ml", "spilt"),
    (0.06, "ZIP-40", "1 piece", "teeth broken"),
    (0.08, "TOP-PIN-9", "2 pair", "pins bent"),
    (0.06, "RUB-4", "3 dm2", "miscut"),
    (0.05, "SOLE-LEA-43", "1 pair", "stained"),
    (0.05, "POLISH-NEU", "1 piece", "jar dropped"),
    (0.05, "HIDE-BLK", "0.5 sq ft", "scar in the hide"),
)
_EXPIRED = (
    (date(2025, 5, 17), "PRIMER", "180 ml"),
    (date(2026, 2, 21), "CEM-WATER", "240 ml"),
)
_OWN_USE = (0.9, "GLOVES", 4)  # a week, most pairs at once


def on_day(day: date) -> Iterator[Mishap]:
    """Give the sudden losses of a day."""
    return (mishap for mishap in _MISHAPS if mishap.day == day)


def write_offs(day: date, dice: Dice) -> Iterator[Left]:
    """Draw what is written off on a day."""
    closing = datetime.combine(day, time(17, 35))
    for weekly, code, amount, why in _WASTE:
        if dice.happens(weekly / 5):
            yield _left(closing, code, amount, kind="waste", reason=why)
    weekly, code, most = _OWN_USE
    if dice.happens(weekly / 5):
        yield _left(closing, code, f"{dice.whole(2, most)} pair", kind="own use", reason="bench gloves")
    for expired, code, amount in _EXPIRED:
        if expired == day:
            yield _left(closing, code, amount, kind="expiry", reason="past its date")


def _left(when: datetime, code: str, amount: str, *, kind: str, reason: str) -> Left:
    nano = SHELF.materials[code].to_base(quantity(amount)).nano
    return Left(when=when, material=code, nano=nano, kind=kind, reason=reason)
