"""Ordering policies to back-test: stockroom's own basket, and two plain rules."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.basket import basket
from stockroom.buying.levels import order_up_to, packs_to
from stockroom.buying.scenario import KnownThen, Policy, Purchase
from stockroom.flows.backtest.stage import Stage, offers_of
from stockroom.flows.book.snapshot import BookSnapshot
from stockroom.flows.ordering.plan import at_next_order_day
from stockroom.flows.outlook.futures import as_learnt, futures
from stockroom.flows.outlook.problem import question
from stockroom.phrases import phrase
from stockroom.stock.lots import Lot
from stockroom.stock.orders import Order, OrderLine
from stockroom.stock.quantities import NANO
from stockroom.stock.tickets import RecipeBox, TicketState
from stockroom.store.orders import OPEN

Floats = NDArray[np.float64]
N_PATHS = 200
TIME_LIMIT = 2.0  # seconds for one order's search
READING = 0.03  # a count's own error, of what was found
AVERAGE_WEEKS = 26
SERVICE = 0.95  # the textbook's usual wish
SEED = 20_260_202


def ways(stage: Stage) -> dict[str, Callable[[], Policy]]:
    """Name the ways of ordering, stockroom's first."""
    return {
        phrase("Stockroom"): lambda: own(stage),
        phrase("A fortnight's cover"): lambda: plain(stage, lambda mean, _spread, _span: (2 * mean, 4 * mean)),
        phrase("Order-up-to rule"): lambda: plain(stage, _textbook),
    }


def own(stage: Stage) -> Policy:
    """Order by the outlook and the basket, told only what was known on the day."""
    believe, box = _posteriors(stage), RecipeBox(stage.now.recipes, stage.now.shelf)

    def policy(known_then: KnownThen) -> Sequence[Purchase]:
        rng = np.random.default_rng([SEED, known_then.day])
        seen = known_on(stage, known_then)
        weeks = seen.shop.outlook_weeks
        ahead = futures(seen, rng, weeks=weeks, n_paths=N_PATHS, learnt=stage.learnt, dry=stage.dry, box=box)
        shelves = believe(known_then, rng, ahead.beyond)
        asked = question(seen, ahead, rng, on_hand=dict(zip(stage.codes, shelves.T, strict=True)))
        found = basket(at_next_order_day(asked.problem), time_limit=TIME_LIMIT)
        return [Purchase(offer=line.offer, packs=line.packs) for line in found.lines]

    return policy


def _posteriors(stage: Stage) -> Callable[[KnownThen, np.random.Generator, Floats], Floats]:
    """Make the belief about the shelves, shape (N_PATHS, n_materials): the book, its drift, and a count's error.

    Since a count the shelf has strayed by what jobs use beyond their recipes, as far as counts have shown it; a future
    whose jobs use more than that (`beyond`) has less there. Waiting tickets have a claim on what is there.
    """
    uses = as_learnt(stage.made, stage.codes, stage.learnt).uses
    wasted = np.array([stage.learnt.waste.get(code, 0.0) for code in stage.codes])

    def believe(known_then: KnownThen, rng: np.random.Generator, beyond: Floats) -> Floats:
        jobs = _recent_tickets(stage, known_then.day).mean(axis=0)
        since = np.maximum(known_then.day - np.maximum(known_then.counted_on, 0), 0) / 7
        more = jobs @ uses * beyond + wasted - jobs @ stage.scenario.recipe
        read = 1 + READING * rng.standard_normal(beyond.shape)
        shelves: Floats = np.maximum(known_then.on_hand * read - more * since, 0.0)
        return shelves - known_then.waiting @ uses * beyond

    return believe


def known_on(stage: Stage, known_then: KnownThen) -> BookSnapshot:
    """Give the book as it would have stood on a morning of the replay."""
    moment = stage.morning(known_then.day)
    today = moment.date()
    tickets = [
        replace(ticket, state=TicketState.BOOKED if due >= today else TicketState.FINISHED)
        for ticket, due in stage.due
        if ticket.taken_in <= moment
    ]
    before = today.isoformat()
    on_hand = {code: round(amount * NANO) for code, amount in zip(stage.codes, known_then.on_hand, strict=True)}
    return replace(
        stage.now,
        moment=moment,
        offers=stage.asked.offers,
        tickets=tuple(tickets),
        orders=_orders(stage, known_then, moment),
        deliveries=tuple(d for d in stage.now.deliveries if d.happened <= moment),
        on_hand=on_hand,
        lots={stage.codes[item]: _lots(lots, today) for item, lots in known_then.lots.items()},
        sales=[sale for sale in stage.now.sales if sale[1] < before],
        waste=[thrown for thrown in stage.now.waste if thrown[1] < before],
    )


def _lots(lots: Sequence[tuple[float, float]], today: date) -> tuple[Lot, ...]:
    return tuple(Lot(nano=round(much * NANO), expiry=today + timedelta(days=int(days))) for days, much in lots)


def _orders(stage: Stage, known_then: KnownThen, moment: datetime) -> tuple[Order, ...]:
    """Real orders that had come by then teach lead times; the replay's own that are open are on their way."""
    real = [o for o in stage.now.orders if o.state not in OPEN and o.closed and o.closed <= moment.date()]
    mine: dict[tuple[int, str], list[OrderLine]] = {}
    for placed in known_then.placed:
        if placed.received is None:
            offer = stage.asked.offers[placed.offer]
            line = OrderLine(
                material=offer.material,
                supplier_code=offer.supplier_code,
                packs=placed.packs,
                pack=offer.pack,
                cost=offer.cost(placed.packs),
            )
            mine.setdefault((placed.day, offer.supplier), []).append(line)
    open_ = [
        Order(number=f"replay {day} {supplier}", supplier=supplier, placed=stage.morning(day), lines=tuple(lines))
        for (day, supplier), lines in mine.items()
    ]
    return (*real, *open_)


Levels = Callable[[Floats, Floats, Floats], tuple[Floats, Floats]]


def plain(stage: Stage, levels: Levels) -> Policy:
    """Where stock and orders together are below a low level, order whole packs up to a high one.

    `levels` is given mean and spread of a week's use over the last half year and the weeks an order must last; an
    order below the supplier's smallest waits.
    """
    scenario = stage.scenario
    cheapest = offers_of(stage.asked.problem)
    bought = np.array([item for item, offer in enumerate(cheapest) if offer >= 0], dtype=np.intp)
    offers = [scenario.offers[cheapest[item]] for item in bought]
    pack = np.array([offer.pack for offer in offers])
    stated = np.array([stage.asked.suppliers[offer.supplier].lead_days / 7 for offer in offers])
    span = stated + scenario.review_days / 7

    def policy(known_then: KnownThen) -> Sequence[Purchase]:
        use = _recent_tickets(stage, known_then.day) @ scenario.recipe + _recent_sales(stage, known_then.day)
        mean, spread = use.mean(axis=0)[bought], use.std(axis=0, ddof=1)[bought]
        low, high = levels(mean, spread, span)
        packs = packs_to(_position(stage, known_then)[bought], low, high, pack).astype(int)
        wanted = [
            Purchase(offer=cheapest[item], packs=offer.at_least(int(count)))
            for item, count, offer in zip(bought, packs, offers, strict=True)
            if count
        ]
        return _accepted(stage, wanted)

    return policy


def _textbook(mean: Floats, spread: Floats, span: Floats) -> tuple[Floats, Floats]:
    level = order_up_to(mean, spread, span, SERVICE)
    return level, level


def _position(stage: Stage, known_then: KnownThen) -> Floats:
    """Stock and orders less what waiting tickets will take."""
    position: Floats = known_then.on_hand - known_then.waiting @ stage.scenario.recipe
    for placed in known_then.placed:
        if placed.received is None:
            offer = stage.scenario.offers[placed.offer]
            position[offer.item] += placed.packs * offer.pack
    return position


def _accepted(stage: Stage, wanted: list[Purchase]) -> list[Purchase]:
    """Leave out orders that a supplier would refuse as too small."""
    scenario = stage.scenario
    worth, weight = np.zeros((2, len(scenario.suppliers)))
    for each in wanted:
        offer = scenario.offers[each.offer]
        worth[offer.supplier] += each.packs * offer.price_at(each.packs)
        weight[offer.supplier] += each.packs * offer.weight
    taken = [
        worth[number] >= terms.least_order and weight[number] >= terms.least_weight
        for number, terms in enumerate(scenario.suppliers)
    ]
    return [each for each in wanted if taken[scenario.offers[each.offer].supplier]]


def _recent_tickets(stage: Stage, day: int) -> Floats:
    """Tickets taken in by week over the last half year, shape (AVERAGE_WEEKS, n_streams)."""
    end = stage.first + timedelta(days=day)
    found = np.zeros((AVERAGE_WEEKS, len(stage.made.names)))
    weeks = (np.datetime64(end) - stage.made.facts.dates).astype(int) - 1
    recent = (weeks >= 0) & (weeks < AVERAGE_WEEKS * 7)
    np.add.at(found, (weeks[recent] // 7, stage.made.facts.series[recent]), 1.0)
    return found


def _recent_sales(stage: Stage, day: int) -> Floats:
    """Sales by week over the last half year, base units, shape (AVERAGE_WEEKS, n_materials)."""
    end = stage.first + timedelta(days=day)
    column = {code: n for n, code in enumerate(stage.codes)}
    found = np.zeros((AVERAGE_WEEKS, len(stage.codes)))
    since = (end - timedelta(weeks=AVERAGE_WEEKS)).isoformat()
    for code, sold, nano in stage.now.sales:
        if since <= sold < end.isoformat():
            week = ((end - datetime.fromisoformat(sold).date()).days - 1) // 7
            found[week, column[code]] -= nano / NANO
    return found
