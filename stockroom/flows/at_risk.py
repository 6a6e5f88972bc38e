"""Which booked tickets may be held up, and by what."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from stockroom.flows.look_ahead import Outlook
from stockroom.stock.tickets import Ticket


@dataclass(frozen=True, slots=True, kw_only=True)
class AtRisk:
    """A booked ticket, the chance that a part is missing on its day, and the part most often missing."""

    ticket: Ticket
    chance: float  # 0 to 1
    material: str = ""  # code; empty where nothing is missing in any future

    @property
    def promised(self) -> date | None:
        """The day it is promised for."""
        return self.ticket.promised


def tickets_at_risk(seen: Outlook) -> Sequence[AtRisk]:
    """List the booked tickets, the likeliest to be held up first."""
    codes = seen.futures.codes
    found = [
        AtRisk(ticket=ticket, chance=held.chance, material=codes[held.item] if held.item >= 0 else "")
        for (ticket, _, _), held in zip(seen.futures.booked, seen.tickets, strict=True)
    ]
    return sorted(found, key=lambda each: (-each.chance, each.promised or date.max, each.ticket.number))
