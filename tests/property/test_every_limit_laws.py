"""Laws of ordering where all comes together: shared items, every kind of limit, and all that an offer may be."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import product
from random import Random

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from stockroom.buying.basket import Basket, basket, room_left
from stockroom.buying.packing import worth
from stockroom.buying.problem import GoingBack, OrderProblem, PackOffer, WhatIf
from stockroom.buying.search import packing
from tests.property.test_buying_laws import PROVEN, limited, seeds, shares
from tests.unit.buying.problems import every_kind

PARTS = st.tuples(shares, shares, shares)
QUICK = settings(max_examples=3, deadline=None)
pytestmark = pytest.mark.usefixtures("few_counts")


def bought(found: Basket, problem: OrderProblem) -> dict[tuple[str, str, float], int]:
    """Packs by item, supplier and pack price: what does not depend on any order of typing."""
    offers = [problem.offers[line.offer] for line in found.lines]
    return {
        (problem.items[o.item].name, problem.suppliers[o.supplier].name, round(o.price, 6)): line.packs
        for o, line in zip(offers, found.lines, strict=True)
    }


def changed(offer: PackOffer, *, price: float = 1.0, pack: float = 1.0) -> PackOffer:
    """The same offer with its money and its amounts multiplied."""
    then = None if offer.then is None else changed(offer.then, price=price, pack=pack)
    breaks = tuple(replace(each, price=each.price * price) for each in offer.breaks)
    back = offer.back and GoingBack(
        until=offer.back.until, cost=offer.back.cost * price / pack, on_approval=offer.back.on_approval
    )
    return replace(offer, price=offer.price * price, pack=offer.pack * pack, breaks=breaks, then=then, back=back)


@given(seed=seeds, parts=PARTS, looser=PARTS)
@QUICK
def test_a_looser_limit_never_gives_a_worse_basket(
    seed: int, parts: tuple[float, float, float], looser: tuple[float, float, float]
) -> None:
    problem = every_kind(seed)
    tight = basket(limited(problem, *parts))
    loose = basket(limited(problem, *np.maximum(parts, looser)))
    assert loose.cost <= tight.cost + PROVEN


@given(seed=seeds, parts=PARTS, skipped=st.sets(st.integers(0, 2), min_size=1))
@QUICK
def test_leaving_a_supplier_out_never_gives_a_better_basket(
    seed: int, parts: tuple[float, float, float], skipped: set[int]
) -> None:
    problem = limited(every_kind(seed), *parts)
    without = WhatIf(skip=frozenset(f"supplier {each}" for each in skipped))
    assert basket(replace(problem, what_if=without)).cost >= basket(problem).cost - PROVEN


@given(seed=seeds, parts=PARTS)
@QUICK
def test_a_basket_is_never_beaten_by_a_part_of_itself(seed: int, parts: tuple[float, float, float]) -> None:
    problem = limited(every_kind(seed), *parts)
    found = basket(problem).found
    assert found is not None
    setting = packing(problem, found.table, found.plans, room_left(problem))
    for kept in product((0, 1), repeat=int((found.choice > 0).sum())):
        part = found.choice.copy()
        part[np.flatnonzero(found.choice)] *= np.array(kept, dtype=np.int64)
        assert worth(setting, part) - found.table.cycle(found.plans) >= found.cost - PROVEN


def permuted(problem: OrderProblem, items: Sequence[int], suppliers: Sequence[int], drawn: Random) -> OrderProblem:
    """The same question typed in another order."""
    place, number = {old: new for new, old in enumerate(items)}, {old: new for new, old in enumerate(suppliers)}

    def moved(offer: PackOffer) -> PackOffer:
        then = None if offer.then is None else moved(offer.then)
        return replace(offer, item=place[offer.item], supplier=number[offer.supplier], then=then)

    assert problem.jobs is not None
    return replace(
        problem,
        items=tuple(problem.items[n] for n in items),
        use=problem.use[:, items],
        offers=tuple(map(moved, drawn.sample(problem.offers, len(problem.offers)))),
        suppliers=tuple(problem.suppliers[n] for n in suppliers),
        jobs=replace(problem.jobs, needs=problem.jobs.needs[:, items]),
    )


@given(
    seed=seeds, parts=PARTS, items=st.permutations(range(4)), suppliers=st.permutations(range(3)),
    drawn=st.randoms(use_true_random=False),
)  # fmt: skip
@QUICK
def test_the_order_of_typing_changes_nothing(
    seed: int, parts: tuple[float, float, float], items: list[int], suppliers: list[int], drawn: Random
) -> None:
    problem = limited(every_kind(seed), *parts)
    other = permuted(problem, items, suppliers, drawn)
    found, again = basket(problem), basket(other)
    assert again.cost == pytest.approx(found.cost, abs=PROVEN)
    assert bought(again, other) == bought(found, problem)


@given(seed=seeds, parts=PARTS)
@QUICK
def test_in_another_currency_the_same_packs_are_bought(seed: int, parts: tuple[float, float, float]) -> None:
    problem, rate = limited(every_kind(seed), *parts), 4.0
    assert problem.jobs is not None
    assert problem.limits.cash is not None
    other = replace(
        problem,
        items=tuple(
            replace(each, unit_cost=each.unit_cost * rate, lost_margin=each.lost_margin * rate)
            for each in problem.items
        ),
        offers=tuple(changed(each, price=rate) for each in problem.offers),
        suppliers=tuple(
            replace(
                each,
                carriage=each.carriage * rate,
                least_order=each.least_order * rate,
                free_over=None if each.free_over is None else each.free_over * rate,
            )
            for each in problem.suppliers
        ),
        jobs=replace(
            problem.jobs, held_cost=problem.jobs.held_cost * rate, held_day_cost=problem.jobs.held_day_cost * rate
        ),
        limits=replace(problem.limits, cash=problem.limits.cash * rate),
    )
    found, again = basket(problem), basket(other)
    assert again.cost == pytest.approx(rate * found.cost, abs=rate * PROVEN)
    assert [(each.offer, each.packs) for each in again.lines] == [(each.offer, each.packs) for each in found.lines]


@given(seed=seeds, parts=PARTS, item=st.integers(0, 3), unit=st.sampled_from([0.001, 1000.0]))
@QUICK
def test_in_another_unit_the_same_packs_are_bought(
    seed: int, parts: tuple[float, float, float], item: int, unit: float
) -> None:
    problem = limited(every_kind(seed), *parts)
    assert problem.jobs is not None
    units = np.where(np.arange(4) == item, unit, 1.0)
    other = replace(
        problem,
        items=tuple(
            replace(
                each,
                on_hand=each.on_hand * by,
                unit_cost=each.unit_cost / by,
                space=each.space / by,
                flammable=each.flammable / by,
                lots=tuple(replace(lot, quantity=lot.quantity * by) for lot in each.lots),
            )
            for each, by in zip(problem.items, units.tolist(), strict=True)
        ),
        use=problem.use * units[:, None],
        offers=tuple(changed(each, pack=float(units[each.item])) for each in problem.offers),
        jobs=replace(problem.jobs, needs=problem.jobs.needs * units),
    )
    found, again = basket(problem), basket(other)
    assert again.cost == pytest.approx(found.cost, abs=PROVEN)
    assert [(each.offer, each.packs) for each in again.lines] == [(each.offer, each.packs) for each in found.lines]


@given(seed=seeds, parts=PARTS, dearer=st.floats(1.01, 2.0), slower=st.floats(0.0, 9.0))
@example(seed=1, parts=(0.0, 0.25, 0.0), dearer=1.03125, slower=0.0)  # two orders that are both too small at any price
@QUICK
def test_a_further_supplier_who_is_dearer_and_slower_makes_nothing_worse(
    seed: int, parts: tuple[float, float, float], dearer: float, slower: float
) -> None:
    problem = limited(every_kind(seed), *parts)
    like = problem.suppliers[0]
    further = replace(like, name="further", leads=like.leads + slower, carriage=dearer * like.carriage)
    his = [replace(changed(each, price=dearer), supplier=3) for each in problem.offers if each.supplier == 0]
    his = [replace(each, then=each.then and replace(each.then, supplier=3)) for each in his]
    wider = replace(problem, suppliers=(*problem.suppliers, further), offers=(*problem.offers, *his))
    assert basket(wider).cost <= basket(problem).cost + PROVEN
