"""The invented shop's shelves, as they are and as the book says, and everything written down on the way."""

from collections import defaultdict
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from stockroom.stock.counts import CountLine
from stockroom.stock.orders import Delivery, Order
from stockroom.stock.tickets import Ticket


@dataclass(frozen=True, slots=True, kw_only=True)
class Opened:
    """One line of the opening stock."""

    material: str
    nano: int
    value: int
    lot: str = ""
    expiry: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Left:
    """Something sold or written off."""

    when: datetime
    material: str
    nano: int
    price: int | None = None  # sales
    receipt: str = ""
    kind: str = ""  # write-offs
    reason: str = ""


@dataclass(slots=True, kw_only=True)
class ShopDiary:
    """All that was written down, in the order in which it happened."""

    opening: list[Opened] = field(default_factory=list)
    tickets: list[Ticket] = field(default_factory=list)
    deliveries: list[Delivery] = field(default_factory=list)
    open_orders: list[Order] = field(default_factory=list)
    sales: list[Left] = field(default_factory=list)
    waste: list[Left] = field(default_factory=list)
    counts: list[tuple[str, CountLine]] = field(default_factory=list)  # sheet and line


@dataclass(slots=True, kw_only=True)
class Shelves:
    """Two ledgers side by side: true stock, which never falls below nothing, and booked stock, which may."""

    true: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    book: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    weekly_use: dict[str, dict[date, int]] = field(default_factory=lambda: defaultdict(lambda: defaultdict(int)))

    def bring(self, material: str, nano: int, *, written: bool = True) -> None:
        """Put stock on the shelf, and in the book unless the document still lies about."""
        self.true[material] += nano
        if written:
            self.book[material] += nano

    def book_use(self, material: str, nano: int, week: date) -> None:
        """Draw the book down."""
        self.book[material] -= nano
        self.weekly_use[material][week] += nano

    def lose(self, material: str, nano: int) -> int:
        """Take from the true shelf only, as far as it goes; says how much went."""
        gone = min(nano, self.true[material])
        self.true[material] -= gone
        return gone

    def has(self, material: str, nano: int) -> bool:
        """Say whether the bin really holds that much."""
        return self.true[material] >= nano


def numbered(ticket: Ticket, number: int) -> Ticket:
    """Give a ticket its number."""
    return replace(ticket, number=str(number))
