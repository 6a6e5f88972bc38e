"""Tickets: a customer's job, from the counter to the shelf of finished work."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from stockroom.errors import check_text
from stockroom.phrases import Named
from stockroom.stock.recipes import PAIR, JobFacts
from stockroom.stock.shoe_sizes import ShoeSize


class TicketState(Named):
    """Where a ticket stands."""

    BOOKED = "booked", "open"
    FINISHED = "finished"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """A job taken in."""

    number: str
    job: str
    taken_in: datetime
    shoes: int = PAIR
    size: ShoeSize | None = None
    chosen: Mapping[str, str] = field(default_factory=dict)
    promised: date | None = None
    price: int | None = None  # minor units, as charged
    state: TicketState = TicketState.BOOKED
    finished: datetime | None = None
    finish_document: int | None = None
    redo_of: str = ""  # the ticket whose work is done again under guarantee
    by_post: bool = False
    post_cost: int | None = None  # minor units
    customer: str = ""  # never part of a document, so that it can be forgotten
    note: str = ""
    site: str = "main"

    def __post_init__(self) -> None:
        for text in (self.number, self.customer, self.note):
            check_text(text)

    @property
    def work(self) -> JobFacts:
        """The facts that decide what the job uses."""
        return JobFacts(shoes=self.shoes, size=self.size, chosen=self.chosen)
