from dataclasses import replace

import numpy as np

from stockroom.buying.basket import basket
from stockroom.buying.expected_cost import windows
from stockroom.buying.problem import Jobs, OrderItem, OrderProblem, PackOffer, SupplierTerms
from stockroom.buying.shelf_futures import futures, relief


def pair(missing: float) -> OrderProblem:
    """A job of two parts; the first is `missing` units behind and comes from far away, the second from next door."""
    use = np.full((8, 2, 12), 7.0)
    items = (
        OrderItem(name="far", on_hand=np.array([-missing]), unit_cost=1.0),
        OrderItem(name="near", on_hand=np.array([3.0]), unit_cost=1.0),
    )
    suppliers = (
        SupplierTerms(name="far away", leads=np.full(8, 60.0), order_days=tuple(np.arange(0.0, 70.0, 7.0))),
        SupplierTerms(
            name="next door", leads=np.full(8, 2.0), carriage=150.0, order_days=tuple(np.arange(0.0, 70.0, 7.0))
        ),
    )
    offers = (PackOffer(item=0, supplier=0, pack=7.0, price=7.0), PackOffer(item=1, supplier=1, pack=7.0, price=7.0))
    jobs = Jobs(
        names=("resole",),
        needs=np.ones((1, 2)),
        paths=np.full((8, 1, 12), 7.0),
        held_cost=np.array([0.0]),
        held_day_cost=np.array([3.0]),
    )
    return OrderProblem(items=items, use=use, offers=offers, suppliers=suppliers, jobs=jobs)


def test_no_part_is_let_off_while_all_can_come_in_time() -> None:
    problem = pair(0.0)
    problem = replace(problem, items=(replace(problem.items[0], on_hand=np.array([100.0])), problem.items[1]))
    assert relief(problem) == {}


def test_job_waiting_for_a_far_part_lets_the_near_one_off() -> None:
    found = relief(pair(50.0))
    assert set(found) == {1}
    assert not found[1][:, :8].any()  # waiting in any case for the first sixty days
    assert (found[1][:, 9:] == 1).all()


def test_no_dear_carriage_is_paid_for_a_job_that_must_wait_anyway() -> None:
    doomed, fine = pair(50.0), pair(50.0)
    fine = replace(fine, items=(replace(fine.items[0], on_hand=np.array([200.0])), fine.items[1]))
    assert 1 in {line.item for line in basket(fine).lines}
    assert 1 not in {line.item for line in basket(doomed).lines}


def test_an_order_that_waits_out_a_closure_leaves_the_shelf_to_last_longer() -> None:
    """What is bought now must last until the next order has come, and that one lies with a supplier who is shut."""
    item = OrderItem(name="glue", on_hand=np.array([10.0]), unit_cost=1.0)
    days = (0.0, 7.0, 14.0)
    supplier = SupplierTerms(name="one", leads=np.full(8, 3.0), order_days=days)
    ask = OrderProblem(items=(item,), use=np.full((8, 1, 10), 1.0), offers=(), suppliers=(supplier,))
    plain, shut = (
        windows(each, np.array(days[1:]), futures(ask))
        for each in (supplier, replace(supplier, delays=(0.0, 14.0, 7.0)))
    )
    np.testing.assert_allclose(plain.nexts[:, 0], [10.0, 17.0])
    np.testing.assert_allclose(shut.nexts[:, 0], [24.0, 24.0])
    np.testing.assert_allclose(shut.first, plain.first)
