"""The book and its futures put to the buying room as one question."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from stockroom.buying import ask as asks
from stockroom.buying.lead_times import LeadTime, arrivals, fates, learn, order_days, starts, worked_days
from stockroom.flows.delivery_days import ordered_on, past_orders, terms
from stockroom.flows.futures import Futures
from stockroom.flows.known import Known
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, Dimension
from stockroom.stock.suppliers import Offer, Supplier
from stockroom.store.orders import OPEN

Floats = NDArray[np.float64]
LITRE = 1000.0  # millilitres


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Question:
    """An Ask, and what its positions stand for in the book."""

    ask: asks.Ask
    codes: tuple[str, ...]
    suppliers: tuple[Supplier, ...]
    offers: tuple[Offer, ...]
    leads: Mapping[str, LeadTime] = field(default_factory=dict)


def question(
    known: Known,
    futures: Futures,
    rng: np.random.Generator,
    *,
    on_hand: Mapping[str, Floats] | None = None,
    what_if: asks.WhatIf | None = None,
) -> Question:
    """Put the book to the buying room.

    Parameters
    ----------
    known : Known
        The book as of a moment.
    futures : Futures
        What may be used.
    rng : numpy.random.Generator
        Source of chance for lead times.
    on_hand : mapping of str to ndarray, optional
        Belief about each shelf, one value a path, base units; the book's figure where missing.
    what_if : WhatIf, optional
        Switches to try.
    """
    n_paths = futures.use.shape[0]
    reach = futures.use.shape[2] * 7
    beliefs = {s.code: _learnt(known, s) for s in known.suppliers}
    fate = {s.code: fates(n_paths, rng) for s in known.suppliers}
    column = {code: n for n, code in enumerate(futures.codes)}
    place = {s.code: n for n, s in enumerate(known.suppliers)}
    digits = known.shop.currency_digits
    offers = tuple(o for o in known.offers if o.material in column and o.supplier in place)
    return Question(
        ask=asks.Ask(
            items=_items(known, futures, _coming(known, beliefs, fate, rng), on_hand or {}),
            use=futures.use,
            offers=tuple(_offer(o, column, place, digits) for o in offers),
            suppliers=tuple(_supplier(known, s, beliefs[s.code], fate[s.code], reach) for s in known.suppliers),
            jobs=_jobs(known, futures),
            limits=asks.Limits(cash=_maybe(known.shop.cash_limit), flammable=float(known.shop.flammable_limit_l)),
            what_if=what_if or asks.WhatIf(),
            review_days=float(known.shop.review_days),
        ),
        codes=futures.codes,
        suppliers=known.suppliers,
        offers=offers,
        leads=beliefs,
    )


def unit_costs(known: Known) -> dict[str, float]:
    """Cost of a base unit in major money: by the cheapest offer in force, or the usual cost on the card."""
    scale = 10.0**known.shop.currency_digits
    costs = {m.code: (m.usual_cost or 0) / scale / (m.unit.nano / NANO) for m in known.materials}
    offered: dict[str, float] = {}
    for o in known.offers:
        each = o.cost(o.minimum_packs) / (o.minimum_packs * o.pack.nano) * NANO / scale
        offered[o.material] = min(each, offered.get(o.material, each))
    return costs | offered


def _learnt(known: Known, supplier: Supplier) -> LeadTime:
    past = past_orders(supplier, known.orders, known.deliveries)
    return learn(past, terms(supplier, known.closures), known.day)


def _supplier(known: Known, supplier: Supplier, belief: LeadTime, fate: Floats, reach: int) -> asks.Supplier:
    scale = 10.0**known.shop.currency_digits
    said, first = terms(supplier, known.closures), ordered_on(supplier, known.moment)
    later = (first - known.day).days
    days = tuple(day + later for day in order_days(said, first, reach))
    return asks.Supplier(
        name=supplier.name,
        leads=arrivals(belief, first, known.day, said, fate),
        carriage=supplier.carriage / scale,
        free_over=None if supplier.carriage_free_over is None else supplier.carriage_free_over / scale,
        least_order=supplier.minimum_order / scale,
        order_days=days,
        ordered_now=starts(first, said) in _open_starts(known, supplier),
    )


def _open_starts(known: Known, supplier: Supplier) -> set[date]:
    """Give the days on which the supplier starts with what is still to come from him."""
    still = [o for o in known.orders if o.supplier == supplier.code and o.state in OPEN]
    return {starts(ordered_on(supplier, o.placed), terms(supplier, known.closures)) for o in still}


def _items(
    known: Known,
    futures: Futures,
    coming: Mapping[str, tuple[asks.Coming, ...]],
    on_hand: Mapping[str, Floats],
) -> tuple[asks.Item, ...]:
    used, sold = futures.use.sum(axis=(0, 2)), futures.sales.sum(axis=(0, 2))
    sales_share = np.clip(sold / np.maximum(used, 1e-12), 0.0, 1.0)
    costs = unit_costs(known)
    return tuple(
        asks.Item(
            name=m.code,
            on_hand=on_hand.get(m.code, np.array([max(known.on_hand.get(m.code, 0), 0) / NANO])),
            unit_cost=costs[m.code],
            coming=coming.get(m.code, ()),
            sales_share=float(sales_share[n]),
            lost_margin=max(_net_price(known, m) - costs[m.code], 0.0),
            shelf_days=float(m.shelf_life_days) if m.shelf_life_days else None,
            flammable=litres(m) if m.flammable else 0.0,
            holding_rate=float(known.shop.holding_rate) / 100,
        )
        for n, m in enumerate(known.materials)
    )


def _coming(
    known: Known, beliefs: Mapping[str, LeadTime], fate: Mapping[str, Floats], rng: np.random.Generator
) -> dict[str, tuple[asks.Coming, ...]]:
    """Say when open orders arrive; the lines of an order arrive together in each future.

    Until an order is due, nothing tells it from one placed now, and both fare alike; once it is late, a new one may
    overtake it.
    """
    by_code = {s.code: s for s in known.suppliers}
    found: dict[str, tuple[asks.Coming, ...]] = {}
    for order in known.orders:
        if order.state not in OPEN or order.supplier not in by_code:
            continue
        supplier = by_code[order.supplier]
        said, belief = terms(supplier, known.closures), beliefs[supplier.code]
        day, drawn = ordered_on(supplier, order.placed), fate[supplier.code]
        if worked_days(day, known.day, said) > belief.usual_days:
            drawn = fates(len(drawn), rng)
        days = arrivals(belief, day, known.day, said, drawn)
        for line in order.lines:
            if line.outstanding:
                part = asks.Coming(quantity=line.outstanding / NANO, arrives=days)
                found[line.material] = (*found.get(line.material, ()), part)
    return found


def _offer(offer: Offer, column: Mapping[str, int], place: Mapping[str, int], digits: int) -> asks.Offer:
    scale = 10.0**digits
    breaks = tuple(asks.Break(packs=b.packs, price=offer.cost(b.packs) / b.packs / scale) for b in offer.breaks)
    return asks.Offer(
        item=column[offer.material],
        supplier=place[offer.supplier],
        pack=offer.pack.nano / NANO,
        price=offer.cost(1) / scale,
        breaks=breaks,
        least_packs=offer.minimum_packs,
    )


def _jobs(known: Known, futures: Futures) -> asks.Jobs | None:
    if not futures.streams.names:
        return None
    n = len(futures.streams.names)
    return asks.Jobs(
        names=futures.streams.names,
        needs=futures.streams.uses,
        paths=futures.jobs.counts.astype(np.float64),
        held_cost=np.full(n, float(known.shop.held_up_job_cost)),
        held_day_cost=np.full(n, float(known.shop.held_up_day_cost)),
    )


def _net_price(known: Known, material: Material) -> float:
    """Selling price of a base unit without tax, in major money."""
    if material.sell_price is None:
        return 0.0
    rate = float(material.tax_rate or known.shop.tax_rate) / 100
    price = material.sell_price / 10.0**known.shop.currency_digits / (material.unit.nano / NANO)
    taxed = known.shop.tax_registered and known.shop.prices_include_tax
    return price / (1 + rate) if taxed else price


def litres(material: Material) -> float:
    """Litres in one base unit: of a liquid itself, or over the material's bridge; 0 where it can't be known."""
    if material.dimension is Dimension.VOLUME:
        return 1 / LITRE
    one = material.dimension.base.of(1)
    carried = material.bridge.carry(one, Dimension.VOLUME) if material.bridge else None
    return carried.nano / NANO / LITRE if carried else 0.0


def _maybe(amount: Decimal | None) -> float | None:
    return None if amount is None else float(amount)
