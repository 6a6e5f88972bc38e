"""The book and its futures put to the buying room as one question."""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import partial

import numpy as np
from numpy.typing import NDArray

from stockroom.buying import problem as problems
from stockroom.buying.lead_times import lead_time_quantiles, order_days
from stockroom.demand.chance import Chance, chance_from
from stockroom.demand.history import DAYS_IN_WEEK
from stockroom.flows.book.snapshot import BookSnapshot
from stockroom.flows.outlook.agreements import Pools, pooled, pools_of, standing_arrivals
from stockroom.flows.outlook.delivery_days import MIDDLE, DeliveryDays, delivery_days, ordered_on
from stockroom.flows.outlook.futures import DemandFutures, first_day_ahead
from stockroom.flows.outlook.one_way import Leaning, lean
from stockroom.stock.agreements import leans
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, Dimension
from stockroom.stock.suppliers import Offer, Supplier, unit_costs
from stockroom.store.orders import OPEN

Floats = NDArray[np.float64]
LITRE = 1000.0  # millilitres
LEAST_USE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class BookProblem:
    """An Ask, and what its positions stand for in the book.

    An offer of a material that does another's work is, in the problem, one of the other.
    """

    problem: problems.OrderProblem
    codes: tuple[str, ...]
    suppliers: tuple[Supplier, ...]
    offers: tuple[Offer, ...]
    leads: Mapping[str, DeliveryDays] = field(default_factory=dict)
    pools: Pools = field(default_factory=Pools)
    leanings: tuple[Leaning, ...] = ()


def question(
    known: BookSnapshot,
    futures: DemandFutures,
    rng: np.random.Generator,
    *,
    on_hand: Mapping[str, Floats] | None = None,
    what_if: problems.WhatIf | None = None,
) -> BookProblem:
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
    beliefs = {
        s.code: delivery_days(s, known.orders, known.deliveries, known.closures, known.day) for s in known.suppliers
    }
    chance = chance_from(rng)
    lead_time_quantile = {s.code: lead_time_quantiles(n_paths, chance.of("supplier", s.code)) for s in known.suppliers}
    column = {code: n for n, code in enumerate(futures.codes)}
    place = {s.code: n for n, s in enumerate(known.suppliers)}
    scale = 10.0**known.shop.currency_digits

    suppliers = tuple(_supplier(known, s, beliefs[s.code], lead_time_quantile[s.code], reach) for s in known.suppliers)
    offers = _offered(known, suppliers, column)

    def told(offer: Offer) -> problems.PackOffer:
        money, number = scale / float(_borne(known, offer)), place[offer.supplier]
        comes = float(np.mean(suppliers[number].leads))
        return replace(_offer(offer, column, place, money), back=_back(offer, known.day, comes, money))

    pools = pools_of(known, futures.codes)
    problem = problems.OrderProblem(
        items=_items(known, futures, _coming(known, beliefs, lead_time_quantile, chance, reach), on_hand or {}),
        use=futures.use,
        offers=tuple(_with_announced(known, offers, told)),
        suppliers=suppliers,
        jobs=_jobs(known, futures),
        limits=problems.Limits(cash=_maybe(known.shop.cash_limit), flammable=float(known.shop.flammable_limit_l)),
        what_if=what_if or problems.WhatIf(),
        review_days=float(known.shop.review_days),
    )
    whole, leanings = lean(
        pooled(problem, pools), leans(known.substitutes, known.shelf.materials), futures.codes, pools
    )
    return BookProblem(
        problem=whole,
        codes=futures.codes,
        suppliers=known.suppliers,
        offers=offers,
        leads=beliefs,
        pools=pools,
        leanings=leanings,
    )


def _borne(known: BookSnapshot, offer: Offer) -> Fraction:
    """Say what of an offer's price is cost: with the tax on it where the shop can't take that back."""
    return known.terms.borne(offer, known.day) if known.terms else Fraction(1)


def _supplier(
    known: BookSnapshot, supplier: Supplier, belief: DeliveryDays, lead_time_quantile: Floats, reach: int
) -> problems.SupplierTerms:
    # terms are stated without tax, and the basket's goods are with what is borne: both by the supplier's own rate
    borne = float(known.terms.borne_on_carriage(supplier.code, known.day)) if known.terms else 1.0
    scale = 10.0**known.shop.currency_digits / borne
    first = ordered_on(supplier, known.moment)
    later = (first - known.day).days
    days = tuple(day + later for day in order_days(belief.terms, first, reach))
    placed = known.day + timedelta(days=int(days[0]))
    return problems.SupplierTerms(
        name=supplier.name,
        leads=belief.arrivals(placed, known.day, lead_time_quantile),
        carriage=supplier.carriage / scale,
        free_over=None if supplier.carriage_free_over is None else supplier.carriage_free_over / scale,
        least_order=supplier.minimum_order / scale,
        least_weight=supplier.minimum_weight.nano / NANO if supplier.minimum_weight else 0.0,
        order_days=days,
        delays=_delays(known, belief, days),
        ordered_now=belief.starts(first) in _open_starts(known, supplier, belief),
    )


def _delays(known: BookSnapshot, belief: DeliveryDays, days: Sequence[float]) -> tuple[float, ...]:
    """Say how much longer an order of each order day takes than one of the first does from today.

    It doesn't wait for the first order day; it may wait out a closure.
    """
    placed = [known.day + timedelta(days=int(day)) for day in days] if belief.terms.closures else []
    middle = [float(belief.arrivals(day, day, MIDDLE)[0]) for day in placed] or [0.0] * len(days)
    delays = (0.0, *(each - middle[0] - days[0] for each in middle[1:]))
    return delays if any(delays) else ()


def _open_starts(known: BookSnapshot, supplier: Supplier, belief: DeliveryDays) -> set[date]:
    """Give the days on which the supplier starts with what is outstanding from him."""
    still = [o for o in known.orders if o.supplier == supplier.code and o.state in OPEN]
    return {belief.starts(ordered_on(supplier, o.placed)) for o in still}


def _items(
    known: BookSnapshot,
    futures: DemandFutures,
    coming: Mapping[str, tuple[problems.OnTheWay, ...]],
    on_hand: Mapping[str, Floats],
) -> tuple[problems.OrderItem, ...]:
    used, sold = futures.use.sum(axis=(0, 2)), futures.sales.sum(axis=(0, 2))
    sales_share = np.clip(sold / np.maximum(used, 1e-12), 0.0, 1.0)
    at_once = _at_once(known, futures)
    ahead = (first_day_ahead(known) - known.day).days
    late = [need for _, need, day in futures.booked if day < ahead]
    overdue = np.sum(late, axis=0) if late else np.zeros(len(futures.codes))
    scale = 10.0**known.shop.currency_digits
    costs = {
        code: float(cost) / scale
        for code, cost in unit_costs(known.materials, known.offers, partial(_borne, known)).items()
    }
    return tuple(
        problems.OrderItem(
            name=m.code,
            on_hand=on_hand.get(m.code, np.array([max(known.on_hand.get(m.code, 0), 0) / NANO])),
            unit_cost=costs[m.code],
            coming=coming.get(m.code, ()),
            lots=_lots(known, m.code),
            sales_share=float(sales_share[n]),
            lost_margin=max(_net_price(known, m) - costs[m.code], 0.0),
            shelf_days=float(m.shelf_life_days) if m.shelf_life_days else None,
            flammable=litres(m) if m.flammable else 0.0,
            holding_rate=float(known.shop.holding_rate) / 100,
            at_once=float(at_once[n]),
            overdue=float(overdue[n]),
        )
        for n, m in enumerate(known.materials)
    )


def _at_once(known: BookSnapshot, futures: DemandFutures) -> Floats:
    """Say what usually leaves each shelf at one go, for a ticket or sold on a day, base units; 0 where nothing does."""
    made, rate = futures.streams, futures.work.mean.sum(axis=1)
    amount = rate @ made.uses
    sure, times = made.uses.copy(), np.zeros(len(futures.codes))
    for line in made.chances:
        sure[line.stream, line.material] -= line.amount * line.chance
        times[line.material] += rate[line.stream] * line.chance
    times += rate @ (sure > LEAST_USE)
    for _, need, _ in futures.booked:
        amount += need
        times += need > 0
    gone = Counter[str]()
    for code, _, nano in known.sales:
        gone[code] -= nano
    days = Counter(code for code, _, nano in known.sales if nano < 0)
    sold = futures.sales.sum(axis=2).mean(axis=0)
    for n, code in enumerate(futures.codes):
        if sold[n] and gone[code] > 0:
            amount[n] += sold[n]
            times[n] += sold[n] * NANO * days[code] / gone[code]
    usual: Floats = amount / np.maximum(times, LEAST_USE)
    return np.where(times > LEAST_USE, usual, 0.0)


def _lots(known: BookSnapshot, code: str) -> tuple[problems.ShelfLot, ...]:
    """Give the lots of a material that will expire; a lot is used until the morning of its last day."""
    lots = known.lots.get(code, ())
    if all(lot.expiry is None for lot in lots):
        return ()
    return tuple(problems.ShelfLot(quantity=lot.nano / NANO, until=_days_of_use(known, lot.expiry)) for lot in lots)


def _days_of_use(known: BookSnapshot, day: date | None) -> float:
    """Put the morning of a day where as much of its week's use lies behind it: use falls on the days worked."""
    if day is None:
        return float("inf")
    first = first_day_ahead(known)
    week, gone = divmod((day - first).days, DAYS_IN_WEEK)
    works = [known.open_days.is_open(first + timedelta(days=DAYS_IN_WEEK * week + n)) for n in range(DAYS_IN_WEEK)]
    return float(DAYS_IN_WEEK * (week + (sum(works[:gone]) / sum(works) if any(works) else gone / DAYS_IN_WEEK)))


def _coming(
    known: BookSnapshot,
    beliefs: Mapping[str, DeliveryDays],
    lead_time_quantile: Mapping[str, Floats],
    chance: Chance,
    reach: int,
) -> dict[str, tuple[problems.OnTheWay, ...]]:
    """Say when open orders arrive, and standing ones; the lines of an order arrive together in each future.

    Until an order is due, nothing tells it from one placed now, and both fare alike; once it is late, a new one may
    overtake it.
    """
    by_code = {s.code: s for s in known.suppliers}
    found = standing_arrivals(known, reach)
    for order in known.orders:
        if order.state not in OPEN or order.supplier not in by_code:
            continue
        supplier = by_code[order.supplier]
        belief, drawn = beliefs[supplier.code], lead_time_quantile[supplier.code]
        day = ordered_on(supplier, order.placed)
        if belief.overdue(day, known.day):
            drawn = lead_time_quantiles(len(drawn), chance.of("order", str(order.number)))
        days = belief.arrivals(day, known.day, drawn)
        for line in order.lines:
            if line.outstanding:
                part = problems.OnTheWay(quantity=line.outstanding / NANO, arrives=days)
                found[line.material] = (*found.get(line.material, ()), part)
    return found


def _offer(offer: Offer, column: Mapping[str, int], place: Mapping[str, int], scale: float) -> problems.PackOffer:
    breaks = tuple(problems.PriceStep(packs=b.packs, price=offer.cost(b.packs) / b.packs / scale) for b in offer.breaks)
    return problems.PackOffer(
        item=column[offer.material],
        supplier=place[offer.supplier],
        pack=offer.pack.nano / NANO,
        price=offer.cost(1) / scale,
        breaks=breaks,
        least_packs=offer.minimum_packs,
        multiple=offer.multiple,
        weight=offer.weight_nano / NANO,
    )


def _back(offer: Offer, today: date, comes: float, scale: float) -> problems.GoingBack | None:
    """Say until when what is ordered now may go back, if at all: weeks count from the day on which it comes."""
    last = offer.returnable_until(today + timedelta(days=round(comes)))
    if last is None:
        return None
    fixed = offer.return_until is not None and last == offer.return_until
    return problems.GoingBack(
        until=float((last - today).days),
        cost=offer.return_cost / scale / (offer.pack.nano / NANO),
        on_approval=offer.on_approval,
        weeks=0 if fixed else offer.return_weeks,
    )


def _offered(
    known: BookSnapshot, suppliers: Sequence[problems.SupplierTerms], column: Mapping[str, int]
) -> tuple[Offer, ...]:
    """Give the offers at the price of the day on which each would be ordered: it may be the announced one by then."""
    announced = {each.same: each for each in known.announced}
    ordered = {
        supplier.code: known.day + timedelta(days=int(terms.order_days[0]))
        for supplier, terms in zip(known.suppliers, suppliers, strict=True)
    }
    return tuple(
        announced[o.same] if o.same in announced and announced[o.same].valid_from <= ordered[o.supplier] else o
        for o in known.offers
        if o.material in column and o.supplier in ordered
    )


def _with_announced(
    known: BookSnapshot, offers: Sequence[Offer], told: Callable[[Offer], problems.PackOffer]
) -> Iterator[problems.PackOffer]:
    """Give offers, each with the price that is announced for it after the day on which it would be ordered."""
    announced = {each.same: each for each in known.announced}
    for offer in offers:
        then = announced.get(offer.same)
        if then is None or then is offer:
            yield told(offer)
        else:
            yield replace(told(offer), then=told(then), changes=float((then.valid_from - known.day).days))


def _jobs(known: BookSnapshot, futures: DemandFutures) -> problems.Jobs | None:
    if not futures.streams.names:
        return None
    n = len(futures.streams.names)
    return problems.Jobs(
        names=futures.streams.names,
        needs=futures.streams.uses,
        paths=futures.work.counts.astype(np.float64),
        held_cost=np.full(n, float(known.shop.held_up_job_cost)),
        held_day_cost=np.full(n, float(known.shop.held_up_day_cost)),
    )


def _net_price(known: BookSnapshot, material: Material) -> float:
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
