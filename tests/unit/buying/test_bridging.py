"""What a quick supplier can bridge until a slow one delivers."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.buying.basket import basket
from stockroom.buying.bridging import bridged
from stockroom.buying.cost_table import CyclePlan, cost_table
from stockroom.buying.expected_cost import short_before, windows
from stockroom.buying.long_run import long_run, untils_of
from stockroom.buying.order_cycle import OrderCycle, unpaid_carriage
from stockroom.buying.problem import FloatArray, Jobs, OrderItem, OrderProblem, PackOffer, SupplierTerms
from stockroom.buying.shelf_futures import futures

DAYS, SLOW_DAYS, QUICK_DAYS = 182, 21.0, 3.0


def slow_and_quick(*, on_hand: float, dearer: float = 1.2, carriage: float = 0.0) -> OrderProblem:
    """Ten a week of one thing: cheap and in three weeks, or dearer and in three days; both take orders every week."""
    use = np.full((1, 1, DAYS), 10.0 / 7)
    order_days = tuple(np.arange(0.0, 140.0, 7.0))
    return OrderProblem(
        items=(OrderItem(name="sheet", on_hand=np.array([on_hand]), unit_cost=1.0),),
        use=use,
        offers=(
            PackOffer(item=0, supplier=0, pack=10.0, price=10.0),
            PackOffer(item=0, supplier=1, pack=5.0, price=5.0 * dearer),
        ),
        suppliers=(
            SupplierTerms(name="slow", leads=np.array([SLOW_DAYS]), order_days=order_days),
            SupplierTerms(name="quick", leads=np.array([QUICK_DAYS]), order_days=order_days, carriage=carriage),
        ),
        jobs=Jobs(
            names=("sole",),
            needs=np.ones((1, 1)),
            paths=use,
            held_cost=np.array([12.0]),
            held_day_cost=np.array([3.0]),
        ),
        step_days=1.0,
    )


def costed(problem: OrderProblem, offer: int, amounts: list[float]) -> tuple[FloatArray, FloatArray]:
    """Cost of what is short without and with another supplier, for the first next order day."""
    known, number = long_run(problem), problem.offers[offer].supplier
    shelves = futures(problem, np.array([problem.offers[offer].item]))
    span = windows(problem.suppliers[number], untils_of(problem, number), shelves)
    alone = short_before(shelves, span.first, known[0].of(np.array([problem.offers[offer].item])))
    return alone, bridged(problem, known, np.array([offer]), shelves, (span, np.array([amounts])))[0, 0]


def test_what_is_short_until_a_slow_order_comes_costs_what_a_quick_one_costs_more() -> None:
    """By hand: 20 on hand last to day 14; the slow order comes on day 21, the quick one on day 10, 7 + 3.

    Of the 10 that are used between day 14 and 21 two packs of 5 are bought, each unit .20 dearer: 2.00. With nothing
    bought of the slow one, 20 are short when his next order comes on day 28: four packs, 4.00.
    """
    alone, there = costed(slow_and_quick(on_hand=20.0), 0, [0.0, 10.0, 20.0])
    assert alone[0] > 100
    assert there == pytest.approx([4.0, 2.0, 2.0])


def test_what_is_short_before_the_quick_order_comes_is_lost() -> None:
    """10 on hand last to day 7: three days pass before anybody's goods can come; by day 21 twenty are wanted."""
    alone, there = costed(slow_and_quick(on_hand=10.0), 0, [20.0])
    late = 3 * 10.0 / 7  # short on day 10: 12 each, and 3 a day for a day and a half on the mean
    assert there[0] == pytest.approx(late * (12 + 3 * 1.5) + 0.2 * 20.0)
    assert there[0] < alone[0]


def test_an_order_that_is_not_placed_anyway_pays_carriage() -> None:
    """Nothing usually comes from the quick one here: all of it. Ordered from every four weeks: three weeks in four."""
    problem = slow_and_quick(on_hand=20.0, carriage=30.0)
    assert costed(problem, 0, [20.0])[1] == pytest.approx([2.0 + 30.0])
    monthly = OrderCycle(gap_days=28.0, day_cost=1.0, level=np.array([50.0]))
    assert unpaid_carriage(problem.suppliers[1], monthly, 7.0) == pytest.approx(30.0 * 0.75)


def test_the_cheap_supplier_is_bought_from_though_another_delivers_sooner() -> None:
    """Two weeks lie there: bought of the slow one, whose goods come in three, and not of the dear one week by week."""
    lines = basket(slow_and_quick(on_hand=25.0)).lines
    assert {line.supplier for line in lines} == {0}


def test_nobody_else_bridges_nothing() -> None:
    problem = slow_and_quick(on_hand=20.0)
    _, there = costed(replace(problem, offers=problem.offers[:1]), 0, [0.0, 10.0])
    assert np.isinf(there).all()


@given(
    on_hand=st.floats(0.0, 60.0), dearer=st.floats(1.0, 3.0), more=st.floats(0.0, 1.0), carriage=st.floats(0.0, 40.0)
)
def test_bridging_costs_no_less_where_it_is_dearer_and_no_more_where_more_lies_there(
    on_hand: float, dearer: float, more: float, carriage: float
) -> None:
    amounts = [0.0, 10.0, 20.0, 50.0]
    _, there = costed(slow_and_quick(on_hand=on_hand, dearer=dearer), 0, amounts)
    assert (np.diff(there) <= 1e-9).all()  # nor where more is bought
    assert (costed(slow_and_quick(on_hand=on_hand, dearer=dearer + more), 0, amounts)[1] >= there - 1e-9).all()
    assert (
        costed(slow_and_quick(on_hand=on_hand, dearer=dearer, carriage=carriage), 0, amounts)[1] >= there - 1e-9
    ).all()
    assert (costed(slow_and_quick(on_hand=on_hand + 10 * more, dearer=dearer), 0, amounts)[1] <= there + 1e-9).all()


@pytest.mark.parametrize("carriage", [0.0, 30.0])
def test_waiting_for_a_quick_supplier_pays_the_carriage_that_bridging_with_him_does(carriage: float) -> None:
    """Else an order with the slow one were charged for a bridge that ordering nothing had for nothing.

    With 20 on hand, 20 are short when what is ordered of the slow one next week comes: 4.00 as above, and the part of
    the quick one's carriage that isn't paid anyway. He has a thing of his own, so he is ordered from now and then.
    """
    problem = slow_and_quick(on_hand=20.0, carriage=carriage)
    own = OrderItem(name="thread", on_hand=np.array([200.0]), unit_cost=0.1)
    problem = replace(
        problem,
        items=(*problem.items, own),
        use=np.repeat(problem.use, 2, axis=1),
        offers=(*problem.offers, PackOffer(item=1, supplier=1, pack=10.0, price=1.0)),
        jobs=replace(problem.jobs, needs=np.ones((1, 2))) if problem.jobs else None,
    )
    table, seldom = cost_table(problem), 1 - 7.0 / long_run(problem)[1][1].gap_days
    assert table is not None
    waiting = table.costs((CyclePlan(now=False, wait=0), CyclePlan(now=False, wait=0)))[0, 0]
    assert (seldom > 0) == (carriage > 0)
    assert waiting == pytest.approx(4.0 + carriage * seldom)
