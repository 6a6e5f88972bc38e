"""What a line's reason says is what was computed, and no more than can be read: laws over many small questions."""

from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.buying.basket import Basket, basket
from stockroom.buying.expected_cost import windows
from stockroom.buying.long_run import long_run, order_gaps
from stockroom.buying.problem import Limits, OrderProblem
from stockroom.buying.reasons import LineFacts, more, reasons, sentence, warning
from stockroom.buying.shelf_futures import StockFutures, futures
from tests.unit.buying.problems import shared_ask, small_ask, stocked

CENT = 0.005


@dataclass
class Heard:
    """Words that remember the figures they were asked for, and refuse a day that is none."""

    days: list[float] = field(default_factory=list)
    money_said: list[float] = field(default_factory=list)
    shares: list[float] = field(default_factory=list)
    packs_said: list[tuple[int, int]] = field(default_factory=list)

    def money(self, value: float) -> str:
        self.money_said.append(value)
        return f"{value:.2f}"

    def day(self, days: float) -> str:
        assert np.isfinite(days), "a date without a day"
        self.days.append(days)
        return f"day {days:.0f}"

    def arrival(self, days: float) -> str:
        return self.day(days)

    def jobs(self, item: int) -> str:
        return f"jobs {item}"

    def share(self, value: float) -> str:
        assert 0.0 <= value <= 1.0
        self.shares.append(value)
        return f"{100 * value:.0f} per cent"

    def packs(self, offer: int, packs: int) -> str:
        self.packs_said.append((offer, packs))
        return f"{packs} x {offer}"


def _asked(seed: int) -> OrderProblem:
    """Questions of several kinds: full and empty shelves, shared items and breaks, limits, an announced price."""
    rng = np.random.default_rng([seed, 3])
    problem = shared_ask(seed) if seed % 2 else stocked(small_ask(seed), float(rng.uniform(0.0, 3.0)))
    if seed % 3 == 0:
        rising = tuple(replace(o, then=replace(o, price=o.price * 1.2), changes=6.0) for o in problem.offers)
        problem = replace(problem, offers=rising)
    return replace(problem, limits=Limits(cash=float(rng.uniform(60, 200)))) if seed % 5 == 0 else problem


SEEDS = st.integers(0, 400)


def _told(problem: OrderProblem) -> tuple[Basket, tuple[LineFacts, ...]]:
    found = basket(problem)
    return found, reasons(problem, found)


@settings(max_examples=4, deadline=None)
@given(seed=SEEDS)
def test_a_reason_is_three_facts_at_most_and_each_date_is_a_day(seed: int) -> None:
    problem = _asked(seed)
    for each in _told(problem)[1]:
        heard = Heard()
        said = sentence(each, heard)
        assert 1 <= said.count(". ") + said.endswith(".") <= 3
        more(each, heard, problem)
        warning(each, heard, problem)
        assert "around" not in said or heard.days
        assert warning(each, heard, problem).count(". ") <= 2


def _shelf(problem: OrderProblem, each: LineFacts) -> tuple[StockFutures, np.ndarray, np.ndarray, np.ndarray]:
    """The line's item, arrivals of an order now and of the next one, and the days of each step between them."""
    supplier = problem.suppliers[each.line.supplier]
    shelves = futures(problem, np.array([each.line.item]))
    untils = order_gaps(supplier, problem.review_days, 0.8 * problem.use.shape[2] * problem.step_days)
    span = windows(supplier, untils, shelves)
    return shelves, span.first, span.nexts, span.weights


@settings(max_examples=4, deadline=None)
@given(seed=SEEDS)
def test_a_chance_said_is_the_part_of_the_futures_that_are_short(seed: int) -> None:
    """Counted future by future, apart from the table."""
    problem = _asked(seed)
    found, told = _told(problem)
    assert found.found is not None
    for each in told:
        shelves, _, nexts, _ = _shelf(problem, each)
        plan = found.found.plans[int(np.flatnonzero(found.found.table.suppliers == each.line.supplier)[0])]
        without, planned = (shelves.net_by(nexts[wait])[0] for wait in (0, plan.wait))
        assert each.chance_left == pytest.approx(np.mean(without < 0), abs=1e-12)
        assert each.chance_without == pytest.approx(np.mean(planned < 0), abs=1e-12)
        assert each.chance_with == pytest.approx(np.mean(planned + each.line.quantity < 0), abs=1e-12)
        heard = Heard()
        sentence(each, heard)
        more(each, heard, problem)
        assert set(heard.shares) <= {each.chance_left, each.chance_without, each.chance_with}


@settings(max_examples=4, deadline=None)
@given(seed=SEEDS)
def test_money_said_of_waiting_is_what_the_futures_come_to(seed: int) -> None:
    """Units newly short, and unit-days short, until the next order comes: with the line and without it.

    Where another supplier can bridge the wait, no more than that is said.
    """
    problem = _asked(seed)
    figures, _ = long_run(problem)
    for each in _told(problem)[1]:
        item = each.line.item
        shelves, first, nexts, weights = _shelf(problem, each)
        net, opening, closing = (
            shelves.net_within(since=first)[0],
            shelves.net_by(first)[0],
            shelves.net_by(nexts[0])[0],
        )
        relieved = figures.relief.get(item, np.ones_like(net))
        short = []
        for amount in (0.0, each.line.quantity):
            fresh = np.maximum(np.maximum(-closing - amount, 0.0) - np.maximum(-opening - amount, 0.0), 0.0)
            fresh = np.where(nexts[0] <= first, 0.0, fresh)
            days = (np.maximum(-net - amount, 0.0) * weights[0] * relieved).sum(axis=1)
            short.append(figures.penalty.once[item] * fresh.mean() + figures.penalty.daily[item] * days.mean())
        if len({offer.supplier for offer in problem.offers if offer.item == item}) == 1:
            assert each.saves == pytest.approx(short[0] - short[1], rel=1e-6, abs=1e-6)
        else:
            assert -1e-6 <= each.saves <= short[0] + 1e-6
        if each.saves > CENT and not each.bought_ahead and each.chance_left > CENT:
            heard = Heard()
            sentence(each, heard)
            assert each.saves in heard.money_said


@settings(max_examples=4, deadline=None)
@given(seed=SEEDS)
def test_a_break_is_named_only_where_fewer_packs_would_not_reach_it(seed: int) -> None:
    """Without its breaks the offer would be bought in fewer packs than the break needs, or not at all."""
    problem = shared_ask(seed)
    found, told = _told(problem)
    assert found.found is not None
    for each in told:
        if each.bargain is None:
            continue
        offer = problem.offers[each.line.offer]
        assert each.line.packs >= each.bargain.packs
        assert each.bargain.price == offer.price_at(each.line.packs) < each.bargain.usual
        plain = tuple(replace(o, breaks=()) if n == each.line.offer else o for n, o in enumerate(problem.offers))
        without = {line.offer: line.packs for line in basket(replace(problem, offers=plain)).lines}
        assert without.get(each.line.offer, 0) < each.bargain.packs


@settings(max_examples=4, deadline=None)
@given(seed=SEEDS)
def test_a_rise_named_is_one_that_is_announced_and_spares_what_the_table_says(seed: int) -> None:
    problem = _asked(3 * seed)
    for each in _told(problem)[1]:
        if each.rise is not None:
            offer = problem.offers[each.line.offer]
            assert offer.then is not None
            assert each.rise.price == offer.then.price_at(each.line.packs) > each.rise.now
            assert CENT < each.rise.spared <= (each.rise.price - each.rise.now) * each.line.packs + CENT
