from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.buying.problem import OnTheWay, OrderItem, OrderProblem, SupplierTerms
from stockroom.buying.risk import Booked, WorkedDays, held_up, latest_orders, runouts


def steady(on_hand: float, coming: tuple[OnTheWay, ...] = ()) -> OrderProblem:
    """Seven units a week, a unit a day, for ten weeks."""
    item = OrderItem(name="rubber sheet", on_hand=np.array([on_hand]), unit_cost=1.0, coming=coming)
    supplier = SupplierTerms(name="one", leads=np.array([5.0]), order_days=(0.0, 7.0, 14.0, 21.0))
    return OrderProblem(items=(item,), use=np.full((4, 1, 10), 7.0), offers=(), suppliers=(supplier,))


def test_even_use_runs_out_on_the_day_it_is_used_up() -> None:
    outs = runouts(steady(17.5))
    assert outs.median == pytest.approx([17.5])
    assert outs.chance[0].tolist() == [0, 0, 1, 1, 1, 1, 1, 1, 1, 1]


def test_delivery_in_time_moves_the_run_out() -> None:
    outs = runouts(steady(17.5, (OnTheWay(quantity=14.0, arrives=np.array([10.0])),)))
    assert outs.median == pytest.approx([31.5])


def test_late_delivery_does_not_hide_the_gap_before_it() -> None:
    outs = runouts(steady(10.0, (OnTheWay(quantity=50.0, arrives=np.array([13.0])),)))
    assert outs.median == pytest.approx([10.0])


def test_nothing_used_never_runs_out() -> None:
    problem = replace(steady(1.0), use=np.zeros((4, 1, 10)))
    outs = runouts(problem)
    assert np.isinf(outs.median).all()
    assert not outs.chance.any()


def test_uncertain_shelf_spreads_the_run_out() -> None:
    problem = steady(0.0)
    problem = replace(problem, items=(replace(problem.items[0], on_hand=np.array([7.0, 14.0, 21.0, 28.0])),))
    outs = runouts(problem)
    assert outs.early < outs.median < outs.late
    assert outs.chance[0, :4].tolist() == [0.25, 0.5, 0.75, 1.0]


def test_latest_order_day_leaves_the_lead_time() -> None:
    problem = steady(17.5)
    assert latest_orders(problem, runouts(problem), np.array([0])).tolist() == [7.0]
    problem = steady(3.0)
    assert latest_orders(problem, runouts(problem), np.array([0])).tolist() == [0.0]
    problem = replace(steady(3.0), use=np.zeros((4, 1, 10)))
    assert np.isinf(latest_orders(problem, runouts(problem), np.array([0]))).all()


def test_earlier_ticket_takes_the_part() -> None:
    problem = steady(3.0)
    tickets = (
        Booked(name="late", needs=np.array([2.0]), day=2.0),
        Booked(name="early", needs=np.array([2.0]), day=1.0),
    )
    late, early = held_up(problem, tickets)
    assert (late.chance, early.chance) == (1.0, 0.0)
    assert (late.item, early.item) == (0, -1)


def test_ticket_waits_for_the_delivery_it_needs() -> None:
    problem = steady(0.0, (OnTheWay(quantity=5.0, arrives=np.array([1.0, 2.0, 3.0, 9.0])),))
    (found,) = held_up(problem, (Booked(name="boots", needs=np.array([2.0]), day=4.0),))
    assert found.chance == 0.25


def worked(*days: str, begins: int = 0) -> WorkedDays:
    """Weeks of seven letters each, 'x' for a day worked."""
    return WorkedDays(works=np.array([[letter == "x" for letter in week] for week in days]), begins=begins)


@given(
    days=st.lists(st.floats(0, 27.99) | st.just(np.inf), min_size=1, max_size=30),
    works=st.lists(st.lists(st.booleans(), min_size=7, max_size=7), min_size=4, max_size=4),
    begins=st.integers(0, 1),
)
def test_a_shelf_empties_on_a_day_that_is_worked(days: list[float], works: list[list[bool]], begins: int) -> None:
    calendar = WorkedDays(works=np.array(works), begins=begins)
    moments = np.sort(np.array(days))
    found = calendar.of(moments)
    flat = np.array(works).reshape(-1)
    for moment, day in zip(moments, found, strict=True):
        if np.isinf(moment) or not flat[int(moment // 7) * 7 :].any():
            assert np.isinf(day)
        else:
            assert day.is_integer()
            assert flat[int(day) - begins]
            week = flat[int(moment // 7) * 7 :][:7]
            assert not week.any() or int(moment // 7) == (int(day) - begins) // 7, "in the week it is used up in"
    assert (np.diff(found[np.isfinite(found)]) >= 0).all(), "and never sooner for lasting longer"


def test_a_weeks_use_falls_evenly_on_the_days_worked_in_it() -> None:
    week = worked("-xxxx--", begins=1)
    moments = np.array([0.0, 1.7, 1.8, 3.4, 3.6, 5.2, 5.3, 6.99])  # quarters of seven days
    assert week.of(moments).tolist() == [2, 2, 3, 3, 4, 4, 5, 5]


def test_what_would_run_out_in_a_closure_runs_out_after_it() -> None:
    assert worked("xxxxx--", "-------", "--xxx--").of(np.array([9.0, 0.0])).tolist() == [16, 0]
    assert np.isinf(worked("xxxxx--", "-------").of(np.array([9.0]))).all()


def test_the_chance_by_a_weeks_end_does_not_depend_on_the_days_worked() -> None:
    problem = steady(17.5)
    plain, days = runouts(problem), runouts(problem, worked(*["-xxxx--"] * 10))
    assert (plain.chance == days.chance).all()
    assert days.median.tolist() == [14 + 3]


def test_nobody_can_order_before_his_supplier_takes_orders() -> None:
    """The run-outs said 'now' where the order desk said 'by Wednesday'."""
    problem = steady(3.0)
    problem = replace(problem, suppliers=(replace(problem.suppliers[0], order_days=(2.0, 9.0)),))
    assert latest_orders(problem, runouts(problem), np.array([0])).tolist() == [2.0]
