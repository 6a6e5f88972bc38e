"""At the order desk: what changed packs cost, and what they do to the chance of running out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from stockroom.errors import UnknownError
from stockroom.flows.ordering.place import OrderedPacks
from stockroom.flows.ordering.plan import OrderPlan
from stockroom.phrases import phrase
from stockroom.stock.suppliers import Offer, Supplier


@dataclass(frozen=True, slots=True, kw_only=True)
class LinePreview:
    """One line as it would be ordered."""

    material: str
    supplier_code: str
    packs: int
    amount: int  # nano
    cost: int  # minor units ex tax
    without: float | None  # chance of running short before the next planned order arrives; None: not looked at
    chance: float | None  # the same with these packs
    fault: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPreview:
    """An order as it would be placed."""

    lines: tuple[LinePreview, ...]
    goods: int
    carriage: int
    minimum: int
    to_free: int  # what is missing to free carriage; 0 when it is free already, or never is
    tax: int = 0  # added to the total where the shop can't take it back

    @property
    def total(self) -> int:
        """Goods and carriage, ex tax."""
        return self.goods + self.carriage

    @property
    def below_minimum(self) -> int:
        """What is missing to the smallest order the supplier takes."""
        return max(self.minimum - self.goods, 0) if self.goods else 0


def offers_of(plan: OrderPlan, supplier: str) -> list[Offer]:
    """Give what a supplier offers, by name of the material."""
    names = plan.outlook.known.shelf.materials
    found = [o for o in plan.outlook.question.offers if o.supplier == supplier]
    return sorted(found, key=lambda o: names[o.material].name)


def order_sum(plan: OrderPlan, supplier: str, asked: Sequence[OrderedPacks]) -> OrderPreview:
    """Add up an order that is still being thought about.

    Parameters
    ----------
    plan : Plan
        The basket that was suggested, with the outlook behind it.
    supplier : str
        Code.
    asked : sequence of Asked
        Packs; lines of none are left out.

    Notes
    -----
    Chances come from the table the basket was chosen by, so that a suggested line shows what its reason says; between
    two pack counts of that table they are interpolated.
    """
    terms = _terms(plan, supplier)
    lines = tuple(_line(plan, supplier, each) for each in asked if each.packs)
    goods = sum(line.cost for line in lines)
    carriage = terms.carriage_of(goods) if goods else 0
    costs, known = [(line.material, line.supplier_code, line.cost) for line in lines], plan.outlook.known
    return OrderPreview(
        lines=lines,
        goods=goods,
        carriage=carriage,
        minimum=terms.minimum_order,
        to_free=terms.to_free_carriage(goods) if goods else 0,
        tax=known.terms.tax_on_order(supplier, costs, carriage, known.day) if known.terms else 0,
    )


def next_arrival(plan: OrderPlan, supplier: str) -> date | None:
    """Give the day until which an order now must last: when the next planned one arrives."""
    place = plan.outlook.question.suppliers.index(_terms(plan, supplier))
    found = plan.basket.found
    if found is None or place not in found.table.suppliers:
        return None
    slot = int(np.flatnonzero(found.table.suppliers == place)[0])
    lead = float(np.median(plan.outlook.question.problem.suppliers[place].leads))
    until = float(found.table.untils[slot, found.plans[slot].wait])
    day = plan.outlook.known.day + timedelta(days=round(until + lead))
    return plan.outlook.known.open_days.next_open(day)


def _terms(plan: OrderPlan, code: str) -> Supplier:
    for supplier in plan.outlook.question.suppliers:
        if supplier.code == code:
            return supplier
    raise UnknownError(phrase("There is no supplier %(code)s.", code=code), fix="Choose one from the suggested orders.")


def _line(plan: OrderPlan, supplier: str, asked: OrderedPacks) -> LinePreview:
    offers = plan.outlook.question.offers
    place = next((n for n, offer in enumerate(offers) if _is(offer, supplier, asked)), None)
    if place is None:
        raise UnknownError(
            phrase("%(supplier)s does not offer %(material)s.", supplier=supplier, material=asked.material),
            fix="Choose what it offers.",
        )
    offer = offers[place]
    return LinePreview(
        material=offer.material,
        supplier_code=offer.supplier_code,
        packs=asked.packs,
        amount=asked.packs * offer.pack.nano,
        cost=offer.cost(asked.packs),
        without=_chance(plan, place, 0),
        chance=_chance(plan, place, asked.packs),
        fault=_too_few(offer, asked.packs),
    )


def _too_few(offer: Offer, packs: int) -> str:
    if offer.sold(packs):
        return ""
    if packs < offer.minimum_packs:
        return phrase("at least %(n)s packs", n=offer.fewest_packs)
    return phrase("sold in multiples of %(n)s", n=offer.multiple)


def _chance(plan: OrderPlan, offer: int, packs: int) -> float | None:
    found = plan.basket.found
    if found is None or offer not in found.table.offers:
        return None
    table, row = found.table, int(np.flatnonzero(found.table.offers == offer)[0])
    own = table.offer[table.of_item[row]] == offer
    tried, first = np.unique(np.append(0, table.packs[table.of_item[row], own]), return_index=True)
    lasting = table.parts.lasting[row, found.plans[table.of_slot[row]].wait][first]
    return 1.0 - float(np.interp(packs, tried, lasting))


def _is(offer: Offer, supplier: str, asked: OrderedPacks) -> bool:
    same = (offer.supplier, offer.material) == (supplier, asked.material)
    return same and asked.supplier_code in ("", offer.supplier_code)
