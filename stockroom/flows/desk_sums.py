"""At the order desk: what changed packs cost, and what they do to the chance of running out."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np

from stockroom.buying.ask import Ask, Coming
from stockroom.buying.risk import runouts
from stockroom.errors import UnknownError
from stockroom.flows.look_ahead import Outlook
from stockroom.flows.orders import Asked
from stockroom.stock.quantities import NANO
from stockroom.stock.suppliers import Offer, Supplier

USUAL_GAP = 7.0  # days to the next order, where a supplier names no second order day


@dataclass(frozen=True, slots=True, kw_only=True)
class LineSum:
    """One line as it would be ordered."""

    material: str
    supplier_code: str
    packs: int
    cost: int  # minor units ex tax
    without: float  # chance of running out before the order after this one could arrive, ordering nothing
    chance: float  # the same with these packs
    fault: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderSum:
    """An order as it would be placed."""

    lines: tuple[LineSum, ...]
    goods: int
    carriage: int
    minimum: int
    free_over: int | None

    @property
    def total(self) -> int:
        """Goods and carriage, ex tax."""
        return self.goods + self.carriage

    @property
    def below_minimum(self) -> int:
        """What is missing to the smallest order the supplier takes."""
        return max(self.minimum - self.goods, 0) if self.goods else 0

    @property
    def to_free(self) -> int:
        """What is missing to free carriage; 0 when it is free already, or never is."""
        return max(self.free_over - self.goods, 0) if self.goods and self.free_over is not None else 0


def offers_of(seen: Outlook, supplier: str) -> list[Offer]:
    """Give what a supplier offers in the outlook, by name of the material."""
    names = seen.known.shelf.materials
    found = [o for o in seen.question.offers if o.supplier == supplier]
    return sorted(found, key=lambda o: names[o.material].name)


def order_sum(seen: Outlook, supplier: str, asked: Sequence[Asked]) -> OrderSum:
    """Add up an order that is still being thought about."""
    place = next((n for n, s in enumerate(seen.question.suppliers) if s.code == supplier), None)
    if place is None:
        raise UnknownError(f"There is no supplier {supplier}.", fix="Choose one from the desk.")
    terms = seen.question.suppliers[place]
    lines = tuple(_line(seen, place, each) for each in asked if each.packs)
    goods = sum(line.cost for line in lines)
    return OrderSum(
        lines=lines,
        goods=goods,
        carriage=_carriage(terms, goods),
        minimum=terms.minimum_order,
        free_over=terms.carriage_free_over,
    )


def horizon(seen: Outlook, place: int) -> float:
    """Give the days until the order after the next could arrive."""
    terms = seen.question.ask.suppliers[place]
    gap = terms.order_days[1] if len(terms.order_days) > 1 else USUAL_GAP
    return float(gap + np.median(terms.leads))


def until(seen: Outlook, supplier: str) -> date:
    """Give the day until which an order with a supplier must last."""
    place = next(n for n, s in enumerate(seen.question.suppliers) if s.code == supplier)
    return date.fromordinal(seen.known.day.toordinal() + round(horizon(seen, place)))


def _carriage(terms: Supplier, goods: int) -> int:
    free = terms.carriage_free_over is not None and goods >= terms.carriage_free_over
    return 0 if free or not goods else terms.carriage


def _line(seen: Outlook, place: int, asked: Asked) -> LineSum:
    supplier = seen.question.suppliers[place].code
    offer = next((o for o in seen.question.offers if _is(o, supplier, asked)), None)
    if offer is None:
        raise UnknownError(f"{supplier} does not offer {asked.material}.", fix="Choose what it offers.")
    item = seen.question.codes.index(offer.material)
    days = horizon(seen, place)
    return LineSum(
        material=offer.material,
        supplier_code=offer.supplier_code,
        packs=asked.packs,
        cost=offer.cost(asked.packs),
        without=float(np.mean(seen.runs.days[item] <= days)),
        chance=_chance(seen, place, item, (asked.packs * offer.pack.nano / NANO, days)),
        fault="" if asked.packs >= offer.minimum_packs else f"at least {offer.minimum_packs} packs",
    )


def _chance(seen: Outlook, place: int, item: int, bought: tuple[float, float]) -> float:
    """Chance of running out within some days when so much more is on its way."""
    quantity, days = bought
    ask = seen.question.ask
    more = Coming(quantity=quantity, arrives=np.asarray(ask.suppliers[place].leads, dtype=np.float64))
    changed = replace(ask.items[item], coming=(*ask.items[item].coming, more))
    alone = Ask(items=(changed,), use=ask.use[:, item : item + 1], offers=(), suppliers=(), step_days=ask.step_days)
    return float(np.mean(runouts(alone).days[0] <= days))


def _is(offer: Offer, supplier: str, asked: Asked) -> bool:
    same = (offer.supplier, offer.material) == (supplier, asked.material)
    return same and asked.supplier_code in ("", offer.supplier_code)
