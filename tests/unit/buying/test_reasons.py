from dataclasses import dataclass, replace

import numpy as np
import pytest

from stockroom.buying.basket import basket
from stockroom.buying.problem import Limits, OnTheWay, OrderProblem, PriceStep, ShelfLot
from stockroom.buying.reasons import LineFacts, brief, lasting, more, reasons, sentence, warning
from stockroom.buying.repricing import reprice
from tests.unit.buying.problems import small_ask, stocked


@dataclass(frozen=True)
class PlainWords:
    def money(self, value: float) -> str:
        return f"{value:.2f}"

    def day(self, days: float) -> str:
        return f"day {days:.0f}"

    def arrival(self, days: float) -> str:
        return f"day {days:.0f}"

    def jobs(self, item: int) -> str:
        return f"jobs of {item}"

    def share(self, value: float) -> str:
        return f"{100 * value:.0f} %"

    def packs(self, offer: int, packs: int) -> str:
        return f"{packs} x offer {offer}"


def given(problem: OrderProblem) -> tuple[LineFacts, ...]:
    return reasons(problem, basket(problem))


def test_every_line_has_its_reason() -> None:
    problem = stocked(small_ask(), 0.5)
    found = basket(problem)
    assert [each.line for each in reasons(problem, found)] == list(found.lines)


def test_reason_says_what_is_risked_without_the_line() -> None:
    for each in given(stocked(small_ask(), 0.3)):
        assert each.chance_left > 0.5
        assert each.chance_with < each.chance_without
        assert each.saves > 10
        assert each.runs_out < 14
        assert each.lasts_until > each.planned
        assert each.comes < each.next_comes <= each.planned_comes


@pytest.mark.parametrize("seed", range(4))
def test_leaving_a_line_out_costs_what_the_changed_basket_does(seed: int) -> None:
    """Both ways of asking plan the supplier's next order anew: else a line pays for a shelf empty until a late one."""
    problem = stocked(small_ask(seed, n_suppliers=1), 4.0)
    found = basket(problem)
    for each in reasons(problem, found):
        packs = {line.offer: line.packs for line in found.lines if line is not each.line}
        assert each.along == pytest.approx(reprice(problem, found, packs).dearer, abs=1e-6)


def test_what_expires_and_how_long_goods_keep_shorten_how_long_a_line_lasts() -> None:
    """Worked by hand: 100 there, 2 used a day, half of it to be used within ten days: 30 are lost, 70 last 35 days."""
    problem = stocked(small_ask(n_suppliers=1), 1.0)
    use = np.full_like(problem.use, 2.0 * problem.step_days)
    item = replace(problem.items[0], on_hand=np.array([100.0]), coming=(), lots=(), shelf_days=None)
    half = (ShelfLot(quantity=50.0, until=10.0), ShelfLot(quantity=50.0, until=np.inf))

    def lasts(more: float, **facts: object) -> float:
        items = (replace(item, **facts), *problem.items[1:])  # type: ignore[arg-type]
        return lasting(replace(problem, use=use, items=items), 0, more)

    assert (lasts(0.0), lasts(40.0)) == (50.0, 70.0)
    assert (lasts(0.0, lots=half), lasts(40.0, lots=half)) == (35.0, 55.0)
    assert lasts(400.0, shelf_days=90.0) == 90.0
    assert lasts(400.0, shelf_days=20.0) == 50.0, "what is there lasts as long as it did"


def test_a_line_says_in_short_what_its_days_and_its_risk_do_not() -> None:
    for each in given(stocked(small_ask(), 0.5)):
        assert brief(each, PlainWords()) == ""
        assert each.risk_if_left == (None if each.too_late else each.chance_left)
        quiet = replace(each, runs_out=np.inf, chance_left=0.0, chance_without=0.0, saves=0.0, along=0.3)
        assert quiet.risk_if_left is None
        assert brief(quiet, PlainWords()) == "Leaving it out would cost 0.30 more in all."
        assert "Leaving it out would cost 0.30 more in all." in sentence(quiet, PlainWords())
        ahead = replace(quiet, ahead=1.0, free_carriage=5.0, packs_alone=None)
        assert brief(ahead, PlainWords()).startswith("Bought ahead: 1.00 dearer than waiting")
        assert brief(replace(quiet, along=0.0, fewest=True), PlainWords()) == "No fewer are sold."


def test_sentence_has_three_facts_with_their_dates_and_the_rest_is_told_when_asked() -> None:
    problem = stocked(small_ask(), 1.0)
    reason = next(each for each in given(problem) if each.line.item == 0)
    said = sentence(reason, PlainWords())
    assert said.startswith(f"Runs out around day {reason.runs_out:.0f}. Ordered only on day {reason.next_day:.0f}, it ")
    assert f"come about day {reason.next_comes:.0f}" in said
    assert said.endswith(f"in delayed work and lost sales. Lasts until about day {reason.lasts_until:.0f}.")
    assert said.count(". ") == 2
    rest = more(reason, PlainWords(), problem)
    assert f"Keeping it until the next planned order comes about day {reason.planned_comes:.0f}" in rest
    assert reason.other is not None
    assert "would cost" in rest


def test_what_runs_out_before_the_order_comes_is_flagged_with_what_can_be_done() -> None:
    problem = stocked(small_ask(), 0.0)
    fast = replace(problem.suppliers[1], leads=problem.suppliers[0].leads / 10)
    problem = replace(problem, suppliers=(problem.suppliers[0], fast))
    told = {each.line.item: each for each in given(problem) if each.line.supplier == 0}
    assert told
    for item, each in told.items():
        assert each.too_late
        said = warning(each, PlainWords(), problem)
        assert said.startswith(f"Runs out before this order can come (about day {each.comes:.0f}).")
        assert said.endswith(f"Until then, promise fewer of: jobs of {item}.")
        assert ("supplier 1 could send 1 x offer 3 by about day" in said) == (item == 0)
        assert "risk of" not in sentence(each, PlainWords())


def test_what_comes_in_time_is_not_flagged() -> None:
    problem = stocked(small_ask(), 3.0)
    late = replace(problem, suppliers=tuple(replace(each, order_days=(0.0, 21.0, 42.0)) for each in problem.suppliers))
    told = given(late)
    assert told
    assert not any(warning(each, PlainWords(), late) for each in told)


def test_a_line_that_is_cut_by_a_limit_is_not_bought_ahead() -> None:
    problem = stocked(small_ask(n_suppliers=1), 0.0)
    free = basket(problem)
    tight = replace(problem, limits=Limits(cash=0.6 * free.value))
    for each in reasons(tight, basket(tight)):
        assert not each.bought_ahead
        assert each.saves > 0


def test_line_bought_ahead_says_so() -> None:
    problem = stocked(small_ask(2, n_suppliers=1), 0.0)
    plain = basket(replace(problem, suppliers=(replace(problem.suppliers[0], free_over=None),)))
    problem = replace(problem, suppliers=(replace(problem.suppliers[0], free_over=plain.value * 1.05),))
    ahead = [each for each in given(problem) if each.bought_ahead]
    assert ahead
    assert all("the order reaches free carriage" in sentence(each, PlainWords()) for each in ahead)
    assert ahead[0].free_carriage == pytest.approx(problem.suppliers[0].carriage)


def test_dearer_offer_is_dearer_in_all() -> None:
    problem = stocked(small_ask(), 0.3)
    reason = next(each for each in given(problem) if each.line.item == 0)
    assert reason.other is not None
    assert reason.other.offer != reason.line.offer
    assert np.isfinite(reason.other.dearer)


def test_goods_on_order_are_named_beside_the_date() -> None:
    problem = stocked(small_ask(), 0.3)
    for days, words in ((30.0, "; what is on order should come about day 30."), (0.5, " even with what is on order.")):
        part = OnTheWay(quantity=0.1, arrives=np.full(problem.n_paths, days))
        items = tuple(replace(each, coming=(part,)) for each in problem.items)
        asked = replace(problem, items=items)
        said = [sentence(each, PlainWords()) for each in given(asked)]
        assert said
        assert all(words in each for each in said)


def test_a_price_break_that_carries_a_line_is_named() -> None:
    problem = stocked(small_ask(n_suppliers=1), 0.0)
    packs = {each.line.offer: each.line.packs for each in given(problem)}
    offers = tuple(
        replace(each, breaks=(PriceStep(packs=packs[index] + 1, price=each.price * 0.8),))
        for index, each in enumerate(problem.offers)
    )
    cheaper = replace(problem, offers=offers)
    told = given(cheaper)
    assert all(each.bargain is not None for each in told)
    for each in told:
        usual = problem.offers[each.line.offer].price
        begins = packs[each.line.offer] + 1
        price = f"From {begins} x offer {each.line.offer} on, each costs {usual * 0.8:.2f} instead of {usual:.2f}."
        assert price in sentence(each, PlainWords())


def test_a_price_break_reached_anyway_is_not_the_reason() -> None:
    problem = stocked(small_ask(n_suppliers=1), 0.0)
    offers = tuple(replace(each, breaks=(PriceStep(packs=1, price=each.price * 0.99),)) for each in problem.offers)
    assert all(each.bargain is None for each in given(replace(problem, offers=offers)))


def test_a_price_break_is_no_reason_where_as_many_would_be_bought_without_it() -> None:
    problem = stocked(small_ask(n_suppliers=1), 0.0)
    plain = {each.line.offer: each.line.packs for each in given(problem)}
    assert max(plain.values()) > 1
    offers = tuple(
        replace(each, breaks=(PriceStep(packs=max(plain[n], 1), price=each.price * 0.97),))
        for n, each in enumerate(problem.offers)
    )
    assert all(each.bargain is None for each in given(replace(problem, offers=offers)))
