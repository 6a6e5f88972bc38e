"""The basket's own sums against closed forms of the textbooks, where one shop's case is simple enough to have one."""

import numpy as np
import pytest
from scipy import stats

from stockroom.buying.basket import basket
from stockroom.buying.expected_cost import YEAR_DAYS, expected
from stockroom.buying.problem import Jobs, OrderItem, OrderProblem, PackOffer, SupplierTerms
from stockroom.buying.supplier_costs import supplier_costs
from tests.reference.textbook import count_loss, economic_lot, joint_replenishment, newsvendor_counts


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


@pytest.mark.parametrize(("fee", "price"), [(2.0, 10.0), (9.0, 10.0), (9.0, 40.0)])
def test_rhythm_is_the_economic_lot(fee: float, price: float) -> None:
    # Harris 1913: gap sqrt(2 K / (h d)), cost sqrt(2 K h d); candidates are whole weeks, and the square-root
    # cost is so flat that the nearest candidate costs at most a few per cent more
    rate, holding = 7.0, 0.20 * price / YEAR_DAYS
    lot = economic_lot(fee, holding, rate / 7)
    (costs,) = supplier_costs(even_problem([rate], price, fee))
    nearest = costs.untils[np.argmin(np.abs(np.log(costs.untils * (rate / 7) / lot.quantity)))]
    assert costs.cycle.gap_days == pytest.approx(nearest, rel=0.35)
    assert lot.cost * 0.97 <= costs.cycle.day_cost <= lot.cost * 1.10


def test_items_of_a_supplier_share_one_rhythm() -> None:
    # Silver 1976 with no line fee: every item each time, gap sqrt(2 A / sum(h d))
    rates, price, fee = [7.0, 14.0, 3.5], 12.0, 9.0
    holding = 0.20 * price / YEAR_DAYS
    joint = joint_replenishment(fee, np.full(3, 1e-9), np.full(3, holding), np.array(rates) / 7)
    (costs,) = supplier_costs(even_problem(rates, price, fee))
    assert costs.cycle.day_cost == pytest.approx(joint.cost, rel=0.10)
    assert costs.cycle.gap_days == pytest.approx(joint.gap, rel=0.35)


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
