"""A simulated year of buying with price breaks: the basket against buying for need only, and always up to the next break.

Both plain rules are common practice, no source. The same futures, shelves and deliveries for all.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from stockroom.buying.basket import basket
from stockroom.buying.problem import (
    Jobs,
    OnTheWay,
    OrderItem,
    OrderProblem,
    PackOffer,
    PriceStep,
    SupplierTerms,
)
from stockroom.buying.scenario import KnownThen, Purchase, Scenario, rehearse

WEEKS, N_PATHS, LEAD = 52, 40, 5.0
RATES = np.array([3.0, 6.0, 10.0, 1.0])  # a week
PACKS = np.array([5.0, 10.0, 20.0, 2.0])
PRICES = np.array([16.9, 13.0, 11.7, 28.5])  # per pack
UNIT = PRICES / PACKS
SUPPLIER = SupplierTerms(name="one", leads=np.array([LEAD]), carriage=6.0, free_over=80.0)


def offers(packs: int, off: float) -> tuple[PackOffer, ...]:
    """Cheaper by a share from so many packs on."""
    return tuple(
        PackOffer(
            item=i,
            supplier=0,
            pack=float(PACKS[i]),
            price=float(price),
            breaks=(PriceStep(packs=packs, price=price * (1 - off)),),
        )
        for i, price in enumerate(PRICES)
    )


def year(seed: int, offered: tuple[PackOffer, ...]) -> Scenario:
    """Jobs of one part each, as many a week as its rate says."""
    rng = np.random.default_rng([seed, 11])
    days, n = WEEKS * 7, len(RATES)
    return Scenario(
        needs=np.eye(n),
        recipe=np.eye(n),
        tickets=rng.poisson(RATES / 7, (days, n)),
        sales=np.zeros((days, n)),
        waste=np.zeros((days, n)),
        counted=np.full((days, n), np.nan),
        opening=3.0 * RATES,
        lead_days=np.full((1, days), LEAD),
        offers=offered,
        suppliers=(SUPPLIER,),
        unit_cost=UNIT,
        shelf_days=np.full(n, np.inf),
        lost_margin=np.zeros(n),
        held_cost=np.full(n, 12.0),
        held_day_cost=np.full(n, 3.0),
    )


def bought(scenario: Scenario, known: KnownThen, offered: tuple[PackOffer, ...]) -> list[Purchase]:
    """Give what the basket buys, told the true rates."""
    n = len(RATES)
    paths = np.random.default_rng(known.day).poisson(RATES[:, None], (N_PATHS, n, 40)).astype(float)
    coming: list[list[OnTheWay]] = [[] for _ in range(n)]
    for each in known.placed:
        if each.received is None:
            offer = offered[each.offer]
            due = np.array([max(each.day + LEAD - known.day, 0.0)])
            coming[offer.item].append(OnTheWay(quantity=each.packs * offer.pack, arrives=due))
    items = tuple(
        OrderItem(
            name=str(i),
            on_hand=np.array([known.on_hand[i] - known.waiting[i]]),
            unit_cost=float(UNIT[i]),
            coming=tuple(coming[i]),
        )
        for i in range(n)
    )
    jobs = Jobs(
        names=tuple("abcd"),
        needs=np.eye(n),
        paths=paths,
        held_cost=scenario.held_cost,
        held_day_cost=scenario.held_day_cost,
    )
    supplier = replace(SUPPLIER, order_days=tuple(np.arange(0.0, 260.0, 7.0)))
    problem = OrderProblem(items=items, use=paths, offers=offered, suppliers=(supplier,), jobs=jobs)
    return [Purchase(offer=line.offer, packs=line.packs) for line in basket(problem).lines]


def cost_of(seed: int, offered: tuple[PackOffer, ...], rule: str) -> float:
    """Cost of a year with its goods, what is left at the end taken back at the lower price."""
    scenario = year(seed, offered)
    spent = 0.0
    gained = np.zeros(len(RATES))
    plain = tuple(replace(each, breaks=()) for each in offered)

    def policy(known: KnownThen) -> Sequence[Purchase]:
        nonlocal spent
        lines = bought(scenario, known, offered if rule == "basket" else plain)
        if rule == "next break":
            lines = [replace(each, packs=max(each.packs, offered[each.offer].breaks[0].packs)) for each in lines]
        for each in lines:
            spent += each.packs * offered[each.offer].price_at(each.packs)
            gained[each.offer] += each.packs * offered[each.offer].pack
        return lines

    outcome = rehearse(scenario, policy)
    left = scenario.opening + gained - scenario.tickets.sum(axis=0)
    low = np.array([each.breaks[0].price / each.pack for each in offered])
    return outcome.annual_cost + spent - float(left @ low)


@pytest.mark.parametrize(("packs", "off"), [(4, 0.06), (10, 0.03), (10, 0.15)])
def test_year_with_breaks_is_never_dearer_than_need_only_or_always_to_the_break(packs: int, off: float) -> None:
    seeds = range(2)
    cost = {
        rule: float(np.mean([cost_of(seed, offers(packs, off), rule) for seed in seeds]))
        for rule in ("basket", "need only", "next break")
    }
    assert cost["basket"] <= min(cost["need only"], cost["next break"])
