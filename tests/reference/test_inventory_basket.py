"""The basket's own sums against closed forms of the textbooks, where one shop's case is simple enough to have one."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from stockroom.buying.basket import basket
from stockroom.buying.cost_table import CostTable, cost_table
from stockroom.buying.expected_cost import YEAR_DAYS, expected
from stockroom.buying.long_run import lasting, lasting_prices
from stockroom.buying.problem import Jobs, OrderItem, OrderProblem, PackOffer, PriceStep, SupplierTerms
from tests.reference.textbook import count_loss, economic_lot, joint_replenishment, lot_with_breaks, newsvendor_counts


def even_problem(rates: list[float], price: float, fee: float) -> OrderProblem:
    """Even use, deliveries after a week sharp, carriage on every order: the economic-lot setting."""
    n_paths, n_steps = 4, 40
    use = np.broadcast_to(np.array(rates)[None, :, None], (n_paths, len(rates), n_steps)).copy()
    items = tuple(OrderItem(name=str(i), on_hand=np.array([rate]), unit_cost=price) for i, rate in enumerate(rates))
    supplier = SupplierTerms(
        name="one", leads=np.full(n_paths, 7.0), carriage=fee, order_days=tuple(np.arange(0.0, 250.0, 7.0))
    )
    offers = tuple(PackOffer(item=i, supplier=0, pack=rate / 7, price=price * rate / 7) for i, rate in enumerate(rates))
    jobs = Jobs(
        names=tuple(str(i) for i in range(len(rates))),
        needs=np.eye(len(rates)),
        paths=use.copy(),
        held_cost=np.full(len(rates), 12.0),
        held_day_cost=np.full(len(rates), 3.0),
    )
    return OrderProblem(items=items, use=use, offers=offers, suppliers=(supplier,), jobs=jobs)


def costs_of(problem: OrderProblem) -> CostTable:
    """The table of a problem that has offers."""
    table = cost_table(problem)
    assert table is not None
    return table


@pytest.mark.parametrize(("fee", "price"), [(2.0, 10.0), (9.0, 10.0), (9.0, 40.0)])
def test_rhythm_is_the_economic_lot(fee: float, price: float) -> None:
    # Harris 1913: gap sqrt(2 K / (h d)), cost sqrt(2 K h d); candidates are whole weeks, and the square-root
    # cost is so flat that the nearest candidate costs at most a few per cent more
    rate, holding = 7.0, 0.20 * price / YEAR_DAYS
    lot = economic_lot(fee, holding, rate / 7)
    table = costs_of(even_problem([rate], price, fee))
    untils = table.untils[0]
    nearest = untils[np.argmin(np.abs(np.log(untils * (rate / 7) / lot.quantity)))]
    assert table.gap_days[0] == pytest.approx(nearest, rel=0.35)
    assert lot.cost * 0.97 <= table.day_cost[0] <= lot.cost * 1.10


def test_items_of_a_supplier_share_one_rhythm() -> None:
    # Silver 1976 with no line fee: every item each time, gap sqrt(2 A / sum(h d))
    rates, price, fee = [7.0, 14.0, 3.5], 12.0, 9.0
    holding = 0.20 * price / YEAR_DAYS
    joint = joint_replenishment(fee, np.full(3, 1e-9), np.full(3, holding), np.array(rates) / 7)
    table = costs_of(even_problem(rates, price, fee))
    assert table.day_cost[0] == pytest.approx(joint.cost, rel=0.10)
    assert table.gap_days[0] == pytest.approx(joint.gap, rel=0.35)


def test_order_of_a_certain_future_lasts_to_the_next_order_exactly() -> None:
    # with even use and sharp deliveries there is nothing to be safe against
    problem = even_problem([7.0], 10.0, 9.0)
    (line,) = basket(problem).lines
    (order,) = basket(problem).orders
    # on hand a week's use, gone when the order comes; it must last until the next one has come
    assert line.quantity == pytest.approx(order.next_day, abs=3.5)


def test_expected_days_are_the_loss_function() -> None:
    # one step of one day: unit-days short of an amount are the Poisson loss function (S&S appendix C, n(18; 15))
    chances = stats.poisson.pmf(np.arange(60), 15)
    net = -np.arange(60.0).reshape(1, 60, 1)
    found = expected(net, 60 * chances.reshape(1, 60, 1), np.array([[0.0, 18.0]]))
    assert found.short[0, 0, 1] == pytest.approx(0.5176095282584724, rel=1e-9)
    assert found.held[0, 0, 1] == pytest.approx(3.5176095282584723, rel=1e-9)
    assert found.short[0, 0, 1] == pytest.approx(count_loss(18, chances))


def test_best_amount_of_the_curve_is_the_newsvendors() -> None:
    # S&S example 4.7: holding 1, penalty 4, Poisson(6) -> 8 at 3.5701
    chances = stats.poisson.pmf(np.arange(60), 6)
    amounts = np.arange(20.0)[None, :]
    found = expected(-np.arange(60.0).reshape(1, 60, 1), 60 * chances.reshape(1, 60, 1), amounts)
    cost = found.held[0, 0] + 4 * found.short[0, 0]
    best = newsvendor_counts(1, 4, chances)
    assert (int(np.argmin(cost)), cost.min()) == pytest.approx((best.level, best.cost))
    assert cost.min() == pytest.approx(3.5701077457709416, rel=1e-6)


def with_break(price: float, fee: float, step: PriceStep) -> OrderProblem:
    """A unit a day in packs of one, cheaper from so many on."""
    problem = even_problem([7.0], price, fee)
    return replace(problem, offers=(replace(problem.offers[0], breaks=(step,)),))


BREAKS = [
    (fee, PriceStep(packs=packs, price=round(10.0 * (1 - off), 4)))
    for fee in (0.5, 2.0, 9.0)
    for packs in (20, 60, 150)
    for off in (0.01, 0.05, 0.15)
]


@pytest.mark.parametrize(("fee", "step"), BREAKS)
def test_price_of_what_is_left_over_is_that_of_the_best_lot_with_breaks(fee: float, step: PriceStep) -> None:
    # Snyder and Shen 2019, 3.4: all-units discount; the best lot says whether the break is worth its stock. The cost
    # of lots is flat and our gaps are whole weeks: where both prices come within 1 % of each other, either will do
    price, rate, holding = 10.0, 1.0, 0.20 / YEAR_DAYS
    best = lot_with_breaks(fee, holding, rate, [(0.0, price), (float(step.packs), step.price)])
    plain = economic_lot(fee, holding * price, rate)
    problem = with_break(price, fee, step)
    table = costs_of(problem)
    (unit,) = lasting_prices(problem, table.gap_days)
    taken = best.quantity >= step.packs
    close = abs(lot_at(step, fee, holding, rate) - (plain.cost + price * rate)) < 0.01 * price
    assert (unit < price) == taken or close
    # never dearer than a unit at the single price, nor cheaper than the break
    assert step.price <= unit <= price
    # and what the best lot costs a unit beyond carriage and the stock of a plain lot; carriage is the order's, shared
    # with its other lines, so what a larger lot saves of it is not counted to the line
    carriage = fee * (rate / plain.quantity - rate / best.quantity)
    least = min(price, best.cost / rate - plain.cost / rate)
    assert 0.99 * least <= unit <= 1.01 * (least + max(carriage, 0.0))


# use a year, cost of an order, holding rate, price by least lot, best lot
PUBLISHED = [
    (1300, 8, 0.30, {0: 0.75, 400: 0.72, 800: 0.68}, 800),  # Snyder and Shen 2019, example 3.6: 978.60 a year
    (182500, 2250, 0.25, {0: 1490, 1200: 1220, 2400: 1100}, 2400),  # their problem 3.12 a: 201,251,093.75
    (800, 60, 0.30, {0: 53, 50: 51.5, 100: 49.5, 200: 48, 500: 47}, 200),  # a textbook's exercise: 40,080
]


@pytest.mark.parametrize(("year", "fee", "holding", "prices", "best"), PUBLISHED)
def test_usual_lot_is_the_best_of_published_price_breaks(
    year: float, fee: float, holding: float, prices: dict[int, float], best: int
) -> None:
    """The gap between orders is that of the lot without breaks; the price, what is kept beyond such a lot counted in."""
    (first, *steps) = prices.items()
    breaks = tuple(PriceStep(packs=packs, price=price) for packs, price in steps)
    offer = PackOffer(item=0, supplier=0, pack=1.0, price=first[1], breaks=breaks)
    problem = even_problem([year * 7 / YEAR_DAYS], first[1], fee)
    problem = replace(problem, items=(replace(problem.items[0], holding_rate=holding),), offers=(offer,))
    rate, plain = year / YEAR_DAYS, economic_lot(fee, holding * first[1], year).quantity
    unit, lot = lasting(problem, offer, rate, plain / rate)
    assert lot == best
    kept = holding * (best - np.ceil(plain - 1e-9)) / (2 * year)
    assert unit == pytest.approx(prices[best] * (1 + kept))


def lot_at(step: PriceStep, fee: float, holding: float, rate: float) -> float:
    """Cost per day of the cheapest lot that takes the break."""
    return lot_with_breaks(fee, holding, rate, [(0.0, 1e6), (float(step.packs), step.price)]).cost


@pytest.mark.parametrize(("fee", "step"), BREAKS)
def test_lot_bought_with_a_break_is_the_textbooks(fee: float, step: PriceStep) -> None:
    # the same; a bought lot lasts until a later order day, so its cost, not its size, is held to the best
    price, rate, holding = 10.0, 1.0, 0.20 / YEAR_DAYS
    breaks = [(0.0, price), (float(step.packs), step.price)]
    best = lot_with_breaks(fee, holding, rate, breaks)
    (line,) = basket(with_break(price, fee, step)).lines
    paid = step.price if line.packs >= step.packs else price
    cost = paid * rate + fee * rate / line.packs + holding * paid * line.packs / 2
    assert cost <= best.cost * 1.01
    assert line.packs <= 1.6 * best.quantity + 7


def test_a_break_does_not_overbuy() -> None:
    # five packs have the lower price; ten pairs a week in packs of twenty, nothing gained by more than that
    rng = np.random.default_rng(1)
    use = rng.poisson(10.0, (200, 1, 40)).astype(float)
    jobs = Jobs(names=("heel",), needs=np.ones((1, 1)), paths=use, held_cost=np.array([12.0]), held_day_cost=np.ones(1))
    offer = PackOffer(item=0, supplier=0, pack=20.0, price=11.66, breaks=(PriceStep(packs=5, price=10.60),))
    problem = OrderProblem(
        items=(OrderItem(name="heel tops", on_hand=np.array([15.0]), unit_cost=11.66 / 20),),
        use=use,
        offers=(offer,),
        suppliers=(
            SupplierTerms(name="one", leads=rng.uniform(4.0, 10.0, 200), order_days=tuple(np.arange(0.0, 260.0, 7.0))),
        ),
        jobs=jobs,
    )
    (line,) = basket(problem).lines
    (plain,) = basket(replace(problem, offers=(replace(offer, breaks=()),))).lines
    assert plain.packs < 5
    assert line.packs == 5
