"""Purchase orders and deliveries."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from enum import StrEnum
from fractions import Fraction

from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document
from stockroom.stock.postings import Stamp, delivered
from stockroom.stock.quantities import Dimension, Quantity
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import Offer, Supplier, current
from stockroom.stock.tax import TaxRules, from_net, per_cent


class OrderState(StrEnum):
    """Where an order stands."""

    PLACED = "placed"
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What deliveries are costed by: the shop's rules, and what suppliers ask for."""

    shop: Shop
    materials: Mapping[str, Material]
    rules: TaxRules
    offers: Sequence[Offer] = ()
    suppliers: Mapping[str, Supplier] | None = None

    def borne(self, offer: Offer, day: date) -> Fraction:
        """Give what an offer's price is multiplied by to be what it costs: 1, or with the tax the shop bears."""
        stated = offer.tax_rate or self._own(offer.supplier)
        return self._factor(stated, offer.material, day)

    def borne_on_carriage(self, supplier: str, day: date) -> Fraction:
        """Give the same for a supplier's carriage."""
        return self._factor(self._own(supplier), "", day)

    def _own(self, supplier: str) -> str:
        found = (self.suppliers or {}).get(supplier)
        return found.tax_rate if found else ""

    def _factor(self, stated: str, item: str, day: date) -> Fraction:
        if self.rules.registered:
            return Fraction(1)
        return 1 + Fraction(per_cent(stated) if stated else self.rules.rate(item, day)) / 100


def taken_in(goods: Delivery, stamp: Stamp, terms: Terms) -> Document:
    """Take goods in at what they cost.

    Notes
    -----
    The tax rate of a line is what was typed, else the offer's, else the supplier's, else the material's, else the
    shop's; that of carriage what was typed, else the supplier's, else the shop's. Tax that the shop can't take back is
    part of the cost (IAS 2.11; FRS 102 section 13); duties carry none here.
    """
    rated = with_rates(goods, terms)
    weights = line_weights(rated.lines, terms.materials, by=terms.shop.carriage_by)
    return delivered(rated, terms.materials, stamp, weights, unrecovered(rated, terms.rules))


def with_rates(goods: Delivery, terms: Terms) -> Delivery:
    """Fill in the tax rates that offers and supplier state; what none states is the material's or the shop's."""
    supplier = (terms.suppliers or {}).get(goods.supplier)
    own = supplier.tax_rate if supplier else ""
    offers = current((o for o in terms.offers if o.supplier == goods.supplier), goods.received.date())
    lines = tuple(replace(line, tax_rate=line.tax_rate or _offered(line, offers) or own) for line in goods.lines)
    return replace(goods, lines=lines, carriage_tax_rate=goods.carriage_tax_rate or own)


def unrecovered(goods: Delivery, rules: TaxRules) -> tuple[list[int], int]:
    """Give the tax on each line and on carriage that the shop bears itself, in minor units."""
    if rules.registered:
        return [0] * len(goods.lines), 0
    day = goods.received.date()
    lines = [(line.cost, line.tax_rate, line.material) for line in goods.lines]
    taxes = [
        from_net(net, per_cent(stated) if stated else rules.rate(item, day)).tax
        for net, stated, item in (*lines, (goods.carriage, goods.carriage_tax_rate, ""))
    ]
    return taxes[:-1], taxes[-1]


def line_weights(lines: Sequence[DeliveryLine], materials: Mapping[str, Material], *, by: str) -> list[int] | None:
    """Weigh a delivery's lines, in billionths of a gram; None where cost decides.

    By weight only where every line's weight is known, from its amount or over its material's bridge: a weight that
    is guessed for one line would shift the cost of all others.
    """
    if by != "weight":
        return None
    weighed = [_weight(line, materials[line.material]) for line in lines]
    known = [weight for weight in weighed if weight is not None]
    return known if len(known) == len(weighed) and any(known) else None


def _offered(line: DeliveryLine, offers: Sequence[Offer]) -> str:
    """Give the rate of the offer a line came by; where its code doesn't say which, the one all of them state."""
    mine = [offer for offer in offers if offer.material == line.material]
    named = [offer for offer in mine if line.supplier_code and offer.supplier_code == line.supplier_code]
    stated = {offer.tax_rate for offer in named or mine}
    return stated.pop() if len(stated) == 1 else ""


def _weight(line: DeliveryLine, material: Material) -> int | None:
    amount = material.to_base(line.amount)
    if amount.dimension is Dimension.MASS:
        return amount.nano
    carried = material.bridge.carry(amount, Dimension.MASS) if material.bridge else None
    return carried.nano if carried else None
