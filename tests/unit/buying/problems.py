"""Small questions for the basket."""

from dataclasses import replace

import numpy as np

from stockroom.buying.problem import Jobs, OrderItem, OrderProblem, PackOffer, PriceStep, SupplierTerms


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
