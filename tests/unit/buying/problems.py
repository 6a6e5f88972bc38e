"""Small questions for the basket."""

from dataclasses import replace
from itertools import product

import numpy as np

from stockroom.buying.cost_table import CostTable, Plans, cost_table
from stockroom.buying.problem import (
    FloatArray,
    GoingBack,
    Jobs,
    OrderItem,
    OrderProblem,
    PackOffer,
    PriceStep,
    ShelfLot,
    SupplierTerms,
)


def small_ask(seed: int = 0, *, n_items: int = 3, n_suppliers: int = 2, n_paths: int = 40) -> OrderProblem:
    """A few items, jobs that share them, suppliers with carriage; every item has one offer, the first has two."""
    rng = np.random.default_rng(seed)
    n_jobs, n_steps = 2, 16
    needs = np.where(rng.random((n_jobs, n_items)) < 0.7, rng.uniform(0.5, 2.0, (n_jobs, n_items)), 0.0)
    needs[0] = np.maximum(needs[0], 0.5)
    paths = rng.poisson(rng.uniform(0.5, 2.0, n_jobs)[None, :, None], (n_paths, n_jobs, n_steps)).astype(float)
    use = np.einsum("pjw,jm->pmw", paths, needs)
    weekly = use.mean(axis=(0, 2))
    price = rng.uniform(2.0, 8.0, n_items)
    offers = [
        PackOffer(item=i, supplier=i % n_suppliers, pack=float(4 * weekly[i]), price=float(4 * weekly[i] * price[i]))
        for i in range(n_items)
    ]
    if n_suppliers > 1:
        offers.append(PackOffer(item=0, supplier=1, pack=float(3 * weekly[0]), price=float(3.3 * weekly[0] * price[0])))
    suppliers = tuple(
        SupplierTerms(
            name=f"supplier {number}",
            leads=rng.uniform(2.0, 12.0, n_paths),
            carriage=float(rng.uniform(5.0, 12.0)),
            free_over=float(rng.uniform(40.0, 160.0)),
            order_days=tuple(np.arange(0.0, 60.0, 7.0)),
        )
        for number in range(n_suppliers)
    )
    items = tuple(
        OrderItem(name=f"item {i}", on_hand=np.array([weekly[i] * rng.uniform(0.0, 4.0)]), unit_cost=float(price[i]))
        for i in range(n_items)
    )
    jobs = Jobs(
        names=("sole", "heel"),
        needs=needs,
        paths=paths,
        held_cost=np.full(n_jobs, 12.0),
        held_day_cost=np.full(n_jobs, 3.0),
    )
    return OrderProblem(items=items, use=use, offers=tuple(offers), suppliers=suppliers, jobs=jobs)


def stocked(problem: OrderProblem, weeks: float) -> OrderProblem:
    """The same question with so many weeks of use on every shelf."""
    weekly = problem.use.mean(axis=(0, 2)) * 7 / problem.step_days
    items = tuple(replace(each, on_hand=np.array([weeks * weekly[i]])) for i, each in enumerate(problem.items))
    return replace(problem, items=items)


def shared_ask(seed: int, *, n_items: int = 3) -> OrderProblem:
    """Three suppliers with minimum orders who share every item, some with a price break; all takes room and litres."""
    rng = np.random.default_rng([seed, 7])
    problem = small_ask(seed, n_items=n_items, n_suppliers=3)
    offers = []
    for each in problem.offers[:n_items]:
        other = replace(
            each,
            supplier=(each.supplier + 1) % 3,
            pack=each.pack * float(rng.uniform(0.5, 1.5)),
            price=each.price * float(rng.uniform(0.8, 1.4)),
            breaks=(PriceStep(packs=2, price=each.price * 0.75),) if rng.random() < 0.5 else (),
        )
        offers += [each, other]
    weekly = problem.use.mean(axis=(0, 2))
    items = tuple(
        replace(
            each,
            space=float(rng.uniform(0.2, 1.0)),
            flammable=float(rng.choice([0.0, 0.5])),
            on_hand=weekly[i : i + 1] * rng.uniform(0.0, 1.5),
        )
        for i, each in enumerate(problem.items)
    )
    suppliers = tuple(replace(each, least_order=float(rng.choice([0.0, 20.0, 60.0]))) for each in problem.suppliers)
    return replace(problem, items=items, offers=tuple(offers), suppliers=suppliers)


def weighed(problem: OrderProblem, seed: int) -> OrderProblem:
    """The same question with packs that weigh something, and a least weight with some suppliers."""
    rng = np.random.default_rng([seed, 11])
    offers = tuple(replace(each, weight=float(rng.uniform(0.5, 3.0))) for each in problem.offers)
    suppliers = tuple(replace(each, least_weight=float(rng.choice([0.0, 2.0, 6.0]))) for each in problem.suppliers)
    return replace(problem, offers=offers, suppliers=suppliers)


def partly_shared(seed: int, share: float) -> OrderProblem:
    """The same question with so much of the second offers left: some suppliers then share nothing with anyone."""
    rng, problem = np.random.default_rng([seed, 13]), weighed(shared_ask(seed), seed)
    kept = [each for n, each in enumerate(problem.offers) if n % 2 == 0 or rng.random() < share]
    return replace(problem, offers=tuple(kept))


def every_kind(seed: int, *, n_items: int = 4) -> OrderProblem:
    """Three suppliers who share items, with all that an offer or a shelf may be.

    Least orders and weights, breaks, multiples, goods on approval and for return, announced prices, lots that expire.
    """
    rng, problem = np.random.default_rng([seed, 17]), weighed(shared_ask(seed, n_items=n_items), seed)

    def offer(each: PackOffer) -> PackOffer:
        kind = rng.integers(5)
        if kind == 0:
            return replace(each, multiple=2)
        if kind == 1:
            return replace(each, back=GoingBack(until=40.0, cost=0.2 * each.price / each.pack, on_approval=True))
        if kind == 2:
            return replace(each, back=GoingBack(until=30.0, cost=0.05 * each.price / each.pack))
        if kind == 3:
            dearer = tuple(replace(step, price=1.15 * step.price) for step in each.breaks)
            return replace(each, then=replace(each, price=1.15 * each.price, breaks=dearer), changes=12.0)
        return each

    def item(each: OrderItem) -> OrderItem:
        whole = float(each.on_hand[0])
        lots = (ShelfLot(quantity=whole / 2, until=9.0), ShelfLot(quantity=whole / 2, until=50.0))
        return replace(each, lots=lots, shelf_days=90.0) if rng.random() < 0.5 else each

    return replace(problem, offers=tuple(map(offer, problem.offers)), items=tuple(map(item, problem.items)))


def best_of_plans(problem: OrderProblem, table: CostTable, plans: Plans, room: FloatArray) -> float:
    """Least cost under these plans over every pack count of every item, one by one; the long-run cost taken off."""
    costs, rows = table.costs(plans), np.arange(len(table.items))[:, None]
    each = np.meshgrid(*(np.flatnonzero(np.isfinite(row)) for row in costs), indexing="ij")
    choices = (rows, np.array(each).reshape(len(rows), -1))
    total, uses = costs[choices].sum(axis=0), table.uses[:, choices[0], choices[1]].sum(axis=1)
    fits = np.ones(len(total), dtype=np.bool_)
    for slot, number in enumerate(table.suppliers):
        terms, mine = problem.suppliers[number], table.slot[choices] == slot
        goods, weight = ((of[choices] * mine).sum(axis=0) for of in (table.spend, table.weights))
        fits &= (goods == 0) | ((goods >= terms.least_order - 1e-9) & (weight >= terms.least_weight - 1e-9))
        free_over = np.inf if terms.free_over is None else terms.free_over
        fee = np.where((goods > 0) & (goods < free_over - 1e-9), terms.carriage, 0.0)
        total += fee
        uses[0] += fee
    fits &= (uses <= room[:, None] + 1e-9).all(axis=0)
    return float(total[fits].min(initial=np.inf)) - table.cycle(plans)


def brute_force(problem: OrderProblem, room: FloatArray) -> float:
    """Least cost over every plan of every supplier and every pack count of every item, one by one."""
    table = cost_table(problem)
    assert table is not None
    every = product(*(table.plans(slot) for slot in range(len(table.suppliers))))
    return min(best_of_plans(problem, table, plans, room) for plans in every)
