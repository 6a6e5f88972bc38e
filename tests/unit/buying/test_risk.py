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


def pairs(on_hand: float, *coming: OnTheWay, weekly: float = 2.0, paths: int = 400) -> OrderProblem:
    """A pair a week, asked for at one go."""
    item = OrderItem(name="heels", on_hand=np.array([on_hand]), unit_cost=1.0, coming=coming, at_once=2.0)
    supplier = SupplierTerms(name="one", leads=np.array([5.0]), order_days=(0.0,))
    return OrderProblem(items=(item,), use=np.full((paths, 1, 10), weekly), offers=(), suppliers=(supplier,))


def test_an_empty_shelf_is_short_when_the_first_job_comes_and_not_before() -> None:
    outs = runouts(pairs(0.0))
    assert outs.median[0] == pytest.approx(3.5, abs=0.05), "the job comes on any day of the week alike"
    assert (outs.early[0], outs.late[0]) == (pytest.approx(0.7, abs=0.05), pytest.approx(6.3, abs=0.05))
    assert outs.chance[0, 0] == 1.0


def test_a_parcel_is_in_time_for_what_is_asked_for_after_it() -> None:
    """Were use even, an empty shelf would be short before any parcel."""
    outs = runouts(pairs(0.0, OnTheWay(quantity=100.0, arrives=np.array([2.1]))))
    assert outs.chance[0].tolist() == pytest.approx([0.3] * 10, abs=0.01)
    later = runouts(pairs(2.0, OnTheWay(quantity=100.0, arrives=np.array([9.1]))))
    assert later.chance[0].tolist() == pytest.approx([0.0, *[0.3] * 9], abs=0.01)
    full = runouts(pairs(2.0, OnTheWay(quantity=100.0, arrives=np.array([7.0]))))
    assert not full.chance.any(), "a week's end is in time for the next"


def test_what_comes_on_the_first_day_worked_is_in_time_for_the_week() -> None:
    """The shop is shut on Sunday and Monday; the parcel of Tuesday, three days from Saturday, lay there for all work."""
    problem = pairs(0.0, OnTheWay(quantity=1000.0, arrives=np.array([3.0])), weekly=20.0)
    assert not runouts(problem, worked(*["--xxxxx"] * 10, begins=1)).chance.any()
    wednesday = pairs(0.0, OnTheWay(quantity=1000.0, arrives=np.array([4.0])), weekly=2.0)
    assert runouts(wednesday, worked(*["--xxxxx"] * 10, begins=1)).chance[0, 0] == pytest.approx(0.2, abs=0.01)


def test_what_is_overdue_leaves_first_and_is_lacking_now() -> None:
    """A ticket that waited for its part was shared out over the week, and the parcel of Tuesday was in time for it."""
    problem = pairs(0.0, OnTheWay(quantity=100.0, arrives=np.array([2.0])))
    late = replace(problem, items=(replace(problem.items[0], overdue=2.0),))
    assert runouts(late).days.max() == 0.0
    one_more = replace(late, items=(replace(late.items[0], on_hand=np.array([2.0])),), use=problem.use * 2)
    days = runouts(one_more).days
    assert (np.isinf(days).mean(), days.min() > 0) == (pytest.approx(5 / 7, abs=0.01), True)


@given(
    days=st.lists(st.integers(0, 30), min_size=1, max_size=10),
    works=st.lists(st.lists(st.booleans(), min_size=7, max_size=7), min_size=4, max_size=4),
    begins=st.integers(0, 1),
)
def test_what_lies_behind_a_morning_never_shrinks_and_is_used_before_it(
    days: list[int], works: list[list[bool]], begins: int
) -> None:
    calendar = WorkedDays(works=np.array(works), begins=begins)
    mornings = np.sort(np.array(days, dtype=np.float64))
    behind = calendar.behind(mornings)
    assert (np.diff(behind) >= 0).all()
    for day, part in zip(mornings, behind, strict=True):
        inside = begins <= day < begins + 28 and np.array(works)[int(day - begins) // 7].any()
        if inside and part % 7:
            used = calendar.of(np.array([part - 0.001]))[0]
            assert used < day, "what is used by then is used on an earlier day"
