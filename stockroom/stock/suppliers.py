"""Suppliers, and what each asks for a pack of a material."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, time, timedelta
from fractions import Fraction

from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.quantities import NANO, Dimension, Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplier:
    """A trade supplier and the terms of an order."""

    code: str
    name: str
    lead_days: int  # as stated; what deliveries teach is learnt elsewhere
    carriage: int = 0  # minor units an order
    carriage_free_over: int | None = None  # minor units of goods ex tax
    minimum_order: int = 0  # minor units of goods ex tax
    minimum_weight: Quantity | None = None  # of an order's packs
    order_weekdays: frozenset[int] = frozenset(range(5))
    cut_off: time | None = None
    tax_rate: str = ""
    email: str = ""
    note: str = ""

    def carriage_of(self, goods: int) -> int:
        """Give the carriage of an order of so many goods, both in minor units ex tax."""
        free = self.carriage_free_over is not None and goods >= self.carriage_free_over
        return 0 if free else self.carriage

    def to_free_carriage(self, goods: int) -> int:
        """Say what goods are missing to free carriage; 0 where it is free already, or never is."""
        return 0 if self.carriage_free_over is None else max(self.carriage_free_over - goods, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceBreak:
    """A lower price from a number of packs on."""

    packs: int
    price: int  # minor units per pack, or per priced unit


@dataclass(frozen=True, slots=True, kw_only=True)
class Offer:
    """What a supplier asks for a pack of a material from a day on; old offers are kept."""

    supplier: str
    material: str
    supplier_code: str
    pack: Quantity  # in the material's dimension; nominal where the real amount is measured on arrival
    price: int  # minor units ex tax, per pack or per `priced_per`
    valid_from: date
    pack_name: str = ""  # 'tin of 5 l', 'bag of 10 pairs'
    priced_per: Quantity | None = None  # such as 1 kg; None: per pack
    pack_in_priced: Quantity | None = None  # the pack in the priced dimension, such as a bend of 6.5 kg
    breaks: tuple[PriceBreak, ...] = ()
    minimum_packs: int = 1
    multiple: int = 1  # packs are sold in this many together
    pack_weight: Quantity | None = None  # None: not stated
    tax_rate: str = ""
    measured: bool = False  # sold by nominal pack, measured on arrival (a bend, a hide)
    return_weeks: int = 0  # unused packs may go back for so many weeks after they came; 0: no such weeks
    return_until: date | None = None  # or until a day; of both, the earlier
    return_cost: int = 0  # minor units that sending a pack back costs
    on_approval: bool = False  # only what is used, or still there after the last day, is paid for

    @property
    def same(self) -> tuple[str, str, str, int]:
        """What an offer keeps as its price changes."""
        return self.supplier, self.material, self.supplier_code, self.pack.nano

    def sold(self, packs: int) -> bool:
        """Say whether so many packs can be ordered."""
        return packs >= self.minimum_packs and packs % self.multiple == 0

    @property
    def fewest_packs(self) -> int:
        """Fewest packs that can be ordered."""
        return -(-self.minimum_packs // self.multiple) * self.multiple

    @property
    def weight_nano(self) -> int:
        """Weight of a pack: as stated, or what is in it where that is sold by weight; 0 where neither is known."""
        if self.pack_weight is not None:
            return self.pack_weight.nano
        held = (self.pack, self.pack_in_priced)
        return next((each.nano for each in held if each is not None and each.dimension is Dimension.MASS), 0)

    def returnable_until(self, came: date) -> date | None:
        """Give the last day on which unused packs that came on a day may go back; None: they may not."""
        ends = [came + timedelta(weeks=self.return_weeks)] if self.return_weeks else []
        ends += [self.return_until] if self.return_until else []
        last = min(ends, default=None)
        return last if last is not None and last >= came else None

    def price_at(self, packs: int) -> int:
        """Price of a pack (or priced unit) when that many packs are ordered."""
        reached = [b.price for b in sorted(self.breaks, key=lambda b: b.packs) if packs >= b.packs]
        return reached[-1] if reached else self.price

    def cost(self, packs: int) -> int:
        """Cost ex tax of a number of packs, in whole minor units, halves away from zero."""
        price = Fraction(self.price_at(packs))
        if self.priced_per is None:
            return int(price * packs)
        bulk = self.pack_in_priced or self.pack
        return half_up(price * packs * bulk.nano / self.priced_per.nano)


def current(offers: Iterable[Offer], day: date) -> list[Offer]:
    """Keep the offers in force on a day: the newest of each supplier, material and pack."""
    newest: dict[tuple[str, str, str, int], Offer] = {}
    for offer in sorted(offers, key=lambda o: o.valid_from):
        if offer.valid_from <= day:
            newest[offer.same] = offer
    return list(newest.values())


def announced(offers: Iterable[Offer], day: date) -> list[Offer]:
    """Keep what offers in force on a day will be next, the first price still to come of each."""
    every = sorted(offers, key=lambda o: o.valid_from)
    there, first = {offer.same for offer in every if offer.valid_from <= day}, dict[tuple[str, str, str, int], Offer]()
    for offer in every:
        if offer.valid_from > day and offer.same in there:
            first.setdefault(offer.same, offer)
    return list(first.values())


def unit_costs(
    materials: Iterable[Material], offers: Iterable[Offer], borne: Callable[[Offer], Fraction] | None = None
) -> dict[str, Fraction]:
    """Cost of a base unit in minor units: by the cheapest offer in force, or else the usual cost on the card.

    `borne` says what of an offer's price is cost: with the tax on it where that can't be taken back. Without: just it.
    """
    costs = {m.code: (m.usual_rate or Fraction(0)) * NANO for m in materials}
    offered: dict[str, Fraction] = {}
    for offer in offers:
        bulk = offer.fewest_packs * offer.pack.nano
        each = Fraction(offer.cost(offer.fewest_packs)) * NANO / bulk * (borne(offer) if borne else 1)
        offered[offer.material] = min(each, offered.get(offer.material, each))
    return costs | offered
