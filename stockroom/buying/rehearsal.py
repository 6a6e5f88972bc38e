"""Replay a stretch of days with a way of ordering that sees only what was known at the time."""

from collections import deque
from dataclasses import dataclass, field

import numpy as np

from stockroom.buying.ask import FloatArray, IntArray
from stockroom.buying.rhythm import carriage_on
from stockroom.buying.scripts import Outcome, Placed, Policy, Script, Sight


@dataclass(slots=True, eq=False)
class _Shop:
    """The shop while it runs."""

    script: Script
    shelf: FloatArray
    book: FloatArray
    counted_on: IntArray
    parts: list[tuple[IntArray, FloatArray]]
    layers: dict[int, deque[list[float]]]
    queue: list[tuple[int, int]] = field(default_factory=list)
    placed: list[list[int]] = field(default_factory=list)  # offer, packs, day, arrival
    held_up: int = 0
    tickets: int = 0
    held_days: float = 0.0
    held_cost: float = 0.0
    lost: float = 0.0
    value: float = 0.0
    carriage: float = 0.0
    orders: int = 0
    expired: float = 0.0


def rehearse(script: Script, policy: Policy) -> Outcome:
    """Run the script with a way of ordering.

    Parameters
    ----------
    script : Script
        Days, tickets, deliveries' luck, prices and costs.
    policy : callable
        Called on each review day with a Sight; returns what to order.

    Returns
    -------
    Outcome
        Hold-ups, lost sales, stock, carriage, expiry.

    Notes
    -----
    Within a day: deliveries, expiry, counts, ordering, waiting tickets in their order, the day's tickets,
    sales, waste. A ticket is done when every part is there, takes all of them, and otherwise waits; a
    part found missing is a count of that shelf.
    """
    shop = _open(script)
    for day in range(len(script.tickets)):
        _receive(shop, day)
        _expire(shop, day)
        _count(shop, day)
        if day % script.review_days == 0:
            _order(shop, day, policy)
        _work(shop, day)
        _sell(shop, day)
        if day >= script.from_day:
            shop.value += float(shop.shelf @ script.unit_cost)
    return _outcome(shop)


def _open(script: Script) -> _Shop:
    parts = [(np.flatnonzero(row > 0), row[row > 0]) for row in script.needs]
    keeps = np.isinf(script.shelf_days)
    layers = {
        int(item): deque([[float(script.shelf_days[item]), float(script.opening[item])]])
        for item in np.flatnonzero(~keeps)
    }
    return _Shop(
        script=script,
        shelf=script.opening.copy(),
        book=script.opening.copy(),
        counted_on=np.full(len(keeps), -1),
        parts=parts,
        layers=layers,
    )


def _receive(shop: _Shop, day: int) -> None:
    for offer, packs, _, arrival in shop.placed:
        if arrival == day:
            bought = shop.script.offers[offer]
            amount = packs * bought.pack
            shop.shelf[bought.item] += amount
            shop.book[bought.item] += amount
            if bought.item in shop.layers:
                shop.layers[bought.item].append([day + float(shop.script.shelf_days[bought.item]), amount])


def _expire(shop: _Shop, day: int) -> None:
    for item, layers in shop.layers.items():
        _use_layers(layers, sum(each[1] for each in layers) - float(shop.shelf[item]))
        while layers and layers[0][0] <= day:
            spoilt = min(layers.popleft()[1], float(shop.shelf[item]))
            shop.shelf[item] -= spoilt
            shop.book[item] = max(shop.book[item] - spoilt, 0.0)
            if day >= shop.script.from_day:
                shop.expired += spoilt * float(shop.script.unit_cost[item])


def _use_layers(layers: deque[list[float]], used: float) -> None:
    """Take the oldest first."""
    while layers and used > 0:
        part = min(layers[0][1], used)
        layers[0][1] -= part
        used -= part
        if layers[0][1] <= 1e-12:  # noqa: PLR2004 -- empty
            layers.popleft()


def _count(shop: _Shop, day: int) -> None:
    seen = ~np.isnan(shop.script.counted[day])
    shop.book[seen] = shop.shelf[seen] * shop.script.counted[day][seen]
    shop.counted_on[seen] = day


def _order(shop: _Shop, day: int, policy: Policy) -> None:
    script = shop.script
    bought = [each for each in policy(_sight(shop, day)) if each.packs > 0]
    worth = np.zeros(len(script.suppliers))
    for each in bought:
        offer = script.offers[each.offer]
        worth[offer.supplier] += each.packs * offer.price_at(each.packs)
        arrival = day + int(max(round(script.lead_days[offer.supplier, day]), 1))
        shop.placed.append([each.offer, each.packs, day, arrival])
    if day >= script.from_day:
        shop.orders += int((worth > 0).sum())
        pairs = zip(script.suppliers, worth, strict=True)
        shop.carriage += sum(carriage_on(supplier, float(value)) for supplier, value in pairs)


def _sight(shop: _Shop, day: int) -> Sight:
    waiting = np.zeros(len(shop.script.needs), dtype=np.int64)
    for job, _ in shop.queue:
        waiting[job] += 1
    placed = tuple(
        Placed(offer=offer, packs=packs, day=when, received=arrival if arrival <= day else None)
        for offer, packs, when, arrival in shop.placed
    )
    return Sight(
        day=day,
        on_hand=np.maximum(shop.book, 0.0),
        counted_on=shop.counted_on.copy(),
        waiting=waiting,
        placed=placed,
        true_on_hand=shop.shelf.copy(),
    )


def _work(shop: _Shop, day: int) -> None:
    script, measured = shop.script, day >= shop.script.from_day
    shop.queue = [each for each in shop.queue if not _finish(shop, each[0])]
    for job in np.flatnonzero(script.tickets[day]):
        for _ in range(int(script.tickets[day, job])):
            shop.tickets += measured
            if not _finish(shop, int(job)):
                _look(shop, int(job), day)
                shop.queue.append((int(job), day))
                shop.held_up += measured
                shop.held_cost += measured * float(script.held_cost[job])
    shop.held_days += measured * len(shop.queue)
    shop.held_cost += measured * sum(float(script.held_day_cost[job]) for job, _ in shop.queue)


def _finish(shop: _Shop, job: int) -> bool:
    parts, amounts = shop.parts[job]
    if (shop.shelf[parts] < amounts - 1e-9).any():
        return False
    shop.shelf[parts] -= amounts
    shop.book -= shop.script.recipe[job]
    return True


def _look(shop: _Shop, job: int, day: int) -> None:
    """Whoever lacks a part for a ticket has looked at its shelf: the book is set right."""
    parts, amounts = shop.parts[job]
    short = parts[shop.shelf[parts] < amounts - 1e-9]
    shop.book[short] = shop.shelf[short]
    shop.counted_on[short] = day


def _sell(shop: _Shop, day: int) -> None:
    asked = shop.script.sales[day]
    sold = np.minimum(asked, np.maximum(shop.shelf, 0.0))
    shop.shelf -= sold
    shop.book -= sold
    if day >= shop.script.from_day:
        shop.lost += float((asked - sold) @ shop.script.lost_margin)
    shop.shelf -= np.minimum(shop.script.waste[day], np.maximum(shop.shelf, 0.0))


def _outcome(shop: _Shop) -> Outcome:
    days = len(shop.script.tickets) - shop.script.from_day
    return Outcome(
        days=days,
        tickets=shop.tickets,
        held_up=shop.held_up,
        held_days=shop.held_days,
        held_cost=shop.held_cost,
        lost_margin=shop.lost,
        stock_value=shop.value / days,
        carriage=shop.carriage,
        orders=shop.orders,
        expired=shop.expired,
        holding_rate=shop.script.holding_rate,
    )
