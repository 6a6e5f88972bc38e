"""Purchase orders and deliveries."""

from dataclasses import dataclass
from datetime import date, datetime

from stockroom.errors import UsageError
from stockroom.phrases import Named, phrase
from stockroom.stock.bounds import MOST_PACKS, check_money, check_nano, check_number
from stockroom.stock.quantities import Quantity


class OrderState(Named):
    """Where an order stands."""

    PLACED = "placed", "open"
    PART_RECEIVED = "part received"
    CLOSED = "closed"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderLine:
    """Packs of one material asked of a supplier."""

    material: str
    supplier_code: str
    packs: int
    pack: Quantity
    cost: int  # minor units ex tax, for the whole line
    pack_name: str = ""
    received: int = 0  # nano of the base unit received so far

    def __post_init__(self) -> None:
        check_number(self.packs, lambda: phrase("%(material)s: the packs", material=self.material), MOST_PACKS)
        check_nano(self.packs * self.pack.nano, lambda: phrase("%(material)s: what is ordered", material=self.material))
        check_money(self.cost, lambda: phrase("%(material)s: the cost", material=self.material))

    @property
    def expected(self) -> int:
        """Nano of the base unit that the line should bring."""
        return self.packs * self.pack.nano

    @property
    def outstanding(self) -> int:
        """Nano still to come."""
        return max(self.expected - self.received, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """An order placed with a supplier."""

    number: str
    supplier: str
    placed: datetime
    lines: tuple[OrderLine, ...]
    expected: date | None = None
    carriage: int = 0
    state: OrderState = OrderState.PLACED
    closed: date | None = None
    site: str = "main"
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class DeliveryLine:
    """What arrived of one material, as counted or measured on arrival."""

    material: str
    amount: Quantity  # in the material's dimension
    cost: int  # minor units ex tax, for the whole line
    supplier_code: str = ""
    packs: int | None = None
    lot: str = ""
    expiry: date | None = None
    tax_rate: str = ""
    back_until: date | None = None  # last day on which unused packs may go back
    back_pack: int | None = None  # nano of a pack that may
    on_approval: bool = False

    def __post_init__(self) -> None:
        if self.amount.nano <= 0:
            raise UsageError(
                phrase("%(material)s: what arrived must be above zero.", material=self.material),
                fix="Leave the line out, or send goods back.",
            )
        if self.cost < 0:
            raise UsageError(
                phrase("%(material)s: a cost can't be below zero.", material=self.material),
                fix="For a credit, send goods back or correct the price.",
            )
        check_nano(self.amount.nano, lambda: phrase("%(material)s: what arrived", material=self.material))
        check_money(self.cost, lambda: phrase("%(material)s: the cost", material=self.material))


@dataclass(frozen=True, slots=True, kw_only=True)
class Delivery:
    """Goods that arrived, against an order or without one."""

    reference: str  # the supplier's delivery note
    supplier: str
    received: datetime
    lines: tuple[DeliveryLine, ...]
    order: str = ""
    ordered: date | None = None
    carriage: int = 0  # minor units ex tax
    carriage_tax_rate: str = ""
    duties: int = 0
    site: str = "main"
    note: str = ""

    def __post_init__(self) -> None:
        if self.carriage < 0 or self.duties < 0:
            raise UsageError("Carriage and duties can't be below zero.", fix="Leave out what was not charged.")
        check_money(self.carriage, lambda: phrase("The carriage"))
        check_money(self.duties, lambda: phrase("The duties"))
