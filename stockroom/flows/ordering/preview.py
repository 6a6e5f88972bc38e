"""At the order desk: what changed packs cost, and what they do to the chance of running out."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from stockroom.errors import UnknownError
from stockroom.flows.ordering.place import OrderedPacks
from stockroom.flows.ordering.plan import OrderPlan, day_of, last_day, listed, order_to_come
from stockroom.phrases import phrase
from stockroom.stock.lists import ReorderLine, ReorderList
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
    runs_out: date | None = None  # median day without it; None: not within the outlook
    lasts_until: date | None = None  # with these packs, at the usual pace; None: not used


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPreview:
    """An order as it would be placed."""

    supplier: str
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
    lines = tuple(line_preview(plan, supplier, each) for each in asked if each.packs)
    goods = sum(line.cost for line in lines)
    carriage = terms.carriage_of(goods) if goods else 0
    costs, known = [(line.material, line.supplier_code, line.cost) for line in lines], plan.outlook.known
    return OrderPreview(
        supplier=supplier,
        lines=lines,
        goods=goods,
        carriage=carriage,
        minimum=terms.minimum_order,
        to_free=terms.to_free_carriage(goods) if goods else 0,
        tax=known.terms.tax_on_order(supplier, costs, carriage, known.day) if known.terms else 0,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskLine:
    """A line at the desk, and what its packs come to."""

    drawn: ReorderLine
    now: LinePreview
    suggested: int  # packs


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskOrder:
    """One supplier's order at the desk, and what it comes to."""

    drawn: ReorderList
    lines: tuple[DeskLine, ...]  # the soonest to run out first
    sums: OrderPreview
    last: date | None  # until when it must last


def desk_orders(plan: OrderPlan, changed: Sequence[tuple[str, OrderedPacks]]) -> list[DeskOrder]:
    """Set out the suggested orders, the most urgent first, with packs as somebody changed them.

    Lines not changed stand as suggested; a changed one stays, whether it is still suggested or not.

    Raises
    ------
    UnknownError
        If a changed line is not offered.
    """
    packs = {line.offer: line.packs for line in plan.basket.lines}
    packs |= {the_offer(plan, supplier, asked): asked.packs for supplier, asked in changed}
    found = [_desk_order(plan, each) for each in (listed(plan, packs) if changed else plan.lists)]
    return sorted(found, key=lambda each: (each.drawn.order_by or date.max, *map(_urgency, each.lines[:1])))


def _desk_order(plan: OrderPlan, drawn: ReorderList) -> DeskOrder:
    own = {
        (x.material, x.supplier_code): x.packs
        for each in plan.lists
        if each.supplier == drawn.supplier
        for x in each.lines
    }
    asked = [OrderedPacks(material=x.material, packs=x.packs, supplier_code=x.supplier_code) for x in drawn.lines]
    lines = [
        DeskLine(
            drawn=line,
            now=line_preview(plan, drawn.supplier, each),
            suggested=own.get((line.material, line.supplier_code), 0),
        )
        for line, each in zip(drawn.lines, asked, strict=True)
    ]
    return DeskOrder(
        drawn=drawn,
        lines=tuple(sorted(lines, key=_urgency)),
        sums=order_sum(plan, drawn.supplier, asked),
        last=next_arrival(plan, drawn.supplier),
    )


def _urgency(line: DeskLine) -> tuple[date, str]:
    return line.now.runs_out or date.max, line.drawn.name


def next_arrival(plan: OrderPlan, supplier: str) -> date | None:
    """Give the day until which an order now must last: when the next planned one arrives."""
    place = plan.outlook.question.suppliers.index(_terms(plan, supplier))
    return order_to_come(plan.outlook, plan.basket, place, planned=True)[1]


def _terms(plan: OrderPlan, code: str) -> Supplier:
    for supplier in plan.outlook.question.suppliers:
        if supplier.code == code:
            return supplier
    raise UnknownError(phrase("There is no supplier %(code)s.", code=code), fix="Choose one from the suggested orders.")


def line_preview(plan: OrderPlan, supplier: str, asked: OrderedPacks) -> LinePreview:
    """Say what packs of an offer cost, how long they last, and what they do to the risk of running short.

    Raises
    ------
    UnknownError
        If the supplier does not offer it.
    """
    place = the_offer(plan, supplier, asked)
    offer, its = plan.outlook.question.offers[place], plan.problem.offers[place]
    return LinePreview(
        material=offer.material,
        supplier_code=offer.supplier_code,
        packs=asked.packs,
        amount=asked.packs * offer.pack.nano,
        cost=offer.cost(asked.packs) if asked.packs else 0,
        without=_chance(plan, place, 0),
        chance=_chance(plan, place, asked.packs),
        fault=_too_few(offer, asked.packs),
        runs_out=day_of(plan.seen, float(plan.seen.runs.median[its.item])),
        lasts_until=last_day(plan.outlook, its.item, asked.packs * its.pack),
    )


def the_offer(plan: OrderPlan, supplier: str, asked: OrderedPacks) -> int:
    """Find the offer that a line means, by its place among those of the plan.

    Raises
    ------
    UnknownError
        If the supplier does not offer it.
    """
    offers = plan.outlook.question.offers
    found = next((n for n, offer in enumerate(offers) if _is(offer, supplier, asked)), None)
    if found is None:
        raise UnknownError(
            phrase("%(supplier)s does not offer %(material)s.", supplier=supplier, material=asked.material),
            fix="Choose what it offers.",
        )
    return found


def _too_few(offer: Offer, packs: int) -> str:
    if not packs or offer.sold(packs):
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
