"""How cautious to be: what a year of orders comes to if a delayed job were counted at more or less than it costs."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from stockroom.buying.basket import basket
from stockroom.buying.expected_cost import YEAR_DAYS
from stockroom.buying.long_run import long_run
from stockroom.buying.problem import FloatArray, Jobs, OrderProblem
from stockroom.buying.shelf_futures import penalties

LESS, MORE = (0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001), (2.0, 5.0)  # steps from the shop's own, outwards
APART = 0.02  # part by which what is ordered, what is paid or what a year costs differs between two points
MOST = 2.0  # times what a year costs at the shop's own figures: nobody wants to go further
SAMPLE = 150  # futures that the year is worked out on
TIME_LIMIT = 3.0  # seconds for today's basket at one step


@dataclass(frozen=True, slots=True, kw_only=True)
class CautionPoint:
    """A year at one degree of caution; money in the shop's unit, at the shop's own figures whatever the caution.

    `times` is how many times as dear a job held up is counted. `delays` is what held-up work and lost sales cost.
    """

    times: float
    today: float  # goods value of the orders suggested now
    stock: float  # mean value of stock
    held_up: float  # jobs a year
    keeping: float
    carriage: float
    delays: float

    @property
    def cost(self) -> float:
        """All of it, a year."""
        return self.keeping + self.carriage + self.delays

    @property
    def paid(self) -> float:
        """What is paid to keep jobs from being held up: stock and carriage, a year."""
        return self.keeping + self.carriage


def frontier(problem: OrderProblem, steps: Sequence[float] | None = None) -> tuple[CautionPoint, ...]:
    """Work out a year at several degrees of caution, and the orders of today at each.

    Parameters
    ----------
    problem : OrderProblem
        As of today.
    steps : sequence of float, optional
        How many times as dear a delayed job is counted; where none are given, the shop's own and those about it that
        differ in what is ordered or in money, as far as a year costs twice as much.

    Notes
    -----
    The year is that of the steady order cycles which orders are compared by (`order_cycle.cycle`): each supplier at the
    gap and each item at the level that are cheapest, at average use. Points of one problem compare with each other;
    a year in the shop has its seasons and its luck.
    """
    if steps is not None:
        return tuple(_point(problem, each) for each in steps)
    own = _point(problem, 1.0)
    return (*reversed(_outwards(problem, own, LESS)), own, *_outwards(problem, own, MORE))


def _outwards(problem: OrderProblem, own: CautionPoint, steps: Sequence[float]) -> list[CautionPoint]:
    """Go from the shop's own figures step by step, leaving out what changes next to nothing."""
    found = [own]
    for times in steps:
        point = _point(problem, times)
        if _apart(point, found[-1]):
            found.append(point)
        if point.cost > MOST * own.cost:
            break
    return found[1:]


def _apart(one: CautionPoint, other: CautionPoint) -> bool:
    """Whether two points differ in what is ordered or in money."""
    pairs = ((one.today, other.today), (one.paid, other.paid), (one.cost, other.cost))
    return any(abs(a - b) > APART * max(a, b) for a, b in pairs)


def _point(problem: OrderProblem, times: float) -> CautionPoint:
    asked, own = _dearer(problem, times, problem.jobs), penalties(problem)
    counted = penalties(_dearer(problem, 0.0, _one_each(problem.jobs))).once
    figures, cycles = long_run(asked, sample=SAMPLE)
    stock = held_up = keeping = carriage = delays = 0.0
    for number, cycle in cycles.items():
        items = np.flatnonzero(figures.home == number)
        if not len(items):
            continue
        worth = cycle.stock * figures.price[items]
        rates = np.array([problem.items[each].holding_rate for each in items])
        stock, keeping = stock + float(worth.sum()), keeping + float(worth @ rates)
        carriage += YEAR_DAYS * cycle.carriage
        held_up += YEAR_DAYS * float(counted[items] @ cycle.once)
        delays += YEAR_DAYS * float(own.once[items] @ cycle.once + own.daily[items] @ cycle.short)
    return CautionPoint(
        times=times,
        today=basket(asked, time_limit=TIME_LIMIT).value,
        stock=stock,
        held_up=held_up,
        keeping=keeping,
        carriage=carriage,
        delays=delays,
    )


def _dearer(problem: OrderProblem, times: float, jobs: Jobs | None) -> OrderProblem:
    """Multiply the cost of delayed jobs and of lost sales by a factor."""
    items = tuple(replace(each, lost_margin=each.lost_margin * times) for each in problem.items)
    if jobs is not problem.jobs or jobs is None:
        return replace(problem, items=items, jobs=jobs)
    dear = replace(jobs, held_cost=jobs.held_cost * times, held_day_cost=jobs.held_day_cost * times)
    return replace(problem, items=items, jobs=dear)


def _one_each(jobs: Jobs | None) -> Jobs | None:
    """Count every job held up as one, and its days as nothing: what is short is then told in jobs."""
    if jobs is None:
        return None
    none: FloatArray = np.zeros_like(jobs.held_cost)
    return replace(jobs, held_cost=none + 1.0, held_day_cost=none)
