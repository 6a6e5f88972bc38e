"""What a load brings: the checked nouns of every kind of file, in the order in which they depend on each other."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from stockroom.stock.agreements import StandingOrder, Substitute
from stockroom.stock.calendar import Closure, Event
from stockroom.stock.counts import Count
from stockroom.stock.machines import Service
from stockroom.stock.materials import Material
from stockroom.stock.moves import MoveKind
from stockroom.stock.orders import Delivery, Order
from stockroom.stock.postage import Postage
from stockroom.stock.quantities import Quantity
from stockroom.stock.recipes import Job, Recipe
from stockroom.stock.suppliers import Offer, Supplier
from stockroom.stock.tickets import Ticket


@dataclass(frozen=True, slots=True, kw_only=True)
class OpeningLine:
    """Stock that lay on the shelf when the book began."""

    key: str
    material: str
    amount: Quantity  # in the material's dimension
    day: date
    value: int | None = None  # minor units ex tax, in all
    lot: str = ""
    expiry: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class SaleLine:
    """One material sold over the counter."""

    key: str  # the same row of the same file has the same key
    when: datetime
    material: str
    amount: Quantity
    price: int | None = None  # minor units as paid, for the whole line; None: the price on the tag
    receipt: str = ""
    returned: bool = False  # a customer brought it back
    wasted: bool = False  # and it was no good any more
    post_cost: int | None = None  # minor units


@dataclass(frozen=True, slots=True, kw_only=True)
class UseLine:
    """A material that a ticket had used before it was finished."""

    key: str
    when: datetime
    ticket: str
    material: str
    amount: Quantity
    line: str = ""  # of the recipe


@dataclass(frozen=True, slots=True, kw_only=True)
class WasteLine:
    """Stock thrown away, expired, or used by the shop itself."""

    key: str
    when: datetime
    material: str
    amount: Quantity
    kind: MoveKind = MoveKind.WASTE
    reason: str = ""
    lot: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Loaded:
    """Everything read from some files; nothing in it is at fault."""

    settings: Mapping[str, str] = field(default_factory=dict)  # checked; for `shop.with_setting`
    materials: tuple[Material, ...] = ()
    suppliers: tuple[Supplier, ...] = ()
    offers: tuple[Offer, ...] = ()
    jobs: tuple[Job, ...] = ()
    recipes: tuple[Recipe, ...] = ()
    closures: tuple[Closure, ...] = ()
    events: tuple[Event, ...] = ()
    opening: tuple[OpeningLine, ...] = ()
    orders: tuple[Order, ...] = ()  # still open; as placed, before the deliveries below were received against them
    deliveries: tuple[Delivery, ...] = ()
    postage: tuple[Postage, ...] = ()
    services: tuple[Service, ...] = ()
    substitutes: tuple[Substitute, ...] = ()
    standing: tuple[StandingOrder, ...] = ()
    tickets: tuple[Ticket, ...] = ()
    uses: tuple[UseLine, ...] = ()
    sales: tuple[SaleLine, ...] = ()
    waste: tuple[WasteLine, ...] = ()
    counts: tuple[Count, ...] = ()
    rows: Mapping[str, int] = field(default_factory=dict)  # rows read of each kind of file
    notes: tuple[str, ...] = ()  # remarks that refuse nothing
