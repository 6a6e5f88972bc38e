"""Published inventory examples, each with its source, held against the shop's own sums.

S&S: L. V. Snyder and Z.-J. M. Shen, Fundamentals of Supply Chain Theory, 2nd ed., Wiley 2019 (the book itself was
not opened; full-precision figures are those of its first author's open companion code, recomputed independently).
"""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from stockroom.buying.basket import basket
from stockroom.buying.cost_table import cost_table
from stockroom.buying.expected_cost import YEAR_DAYS, expected
from stockroom.buying.levels import order_up_to
from stockroom.buying.problem import FloatArray, PackOffer, PriceStep
from tests.reference.test_inventory_basket import even_problem


def held_and_short(chances: FloatArray, amounts: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Unit-days of one day, demand of n units having the chance `chances[n]`."""
    many = len(chances)
    net = -np.arange(float(many)).reshape(1, many, 1)
    found = expected(net, many * chances.reshape(1, many, 1), amounts[None, :])
    return found.held[0, 0], found.short[0, 0]


@pytest.mark.parametrize(
    ("z", "loss"), [(0, 0.3989), (0.5, 0.1978), (1, 0.0833), (1.5, 0.0293), (2, 0.0085), (3, 0.0004)]
)
def test_unit_normal_loss_table(z: float, loss: float) -> None:
    """Four-decimal table found in most textbooks, from memory; demand as 20,000 equally likely quantiles."""
    demand = stats.norm.ppf((np.arange(20_000) + 0.5) / 20_000)
    found = expected(-demand.reshape(1, -1, 1), np.ones((1, demand.size, 1)), np.array([[z]]))
    assert found.short[0, 0, 0] == pytest.approx(loss, abs=7e-5)


def test_loss_of_the_negative_binomial() -> None:
    """S&S appendix C."""
    chances = np.asarray(stats.nbinom.pmf(np.arange(2000), 4, 0.2))
    assert held_and_short(chances, np.array([14.0]))[1][0] == pytest.approx(4.447304632028364, rel=1e-9)


@pytest.mark.parametrize(
    ("holding", "penalty", "chances", "level", "cost"),
    [
        (1, 4, stats.poisson.pmf(np.arange(400), 6), 8, 3.5701077457709416),  # S&S example 4.7
        (200, 270, stats.poisson.pmf(np.arange(400), 18), 19, 786.0884409351115),  # problem 4.8(a)
        (500000, 1000000, np.array([0, 0.25, 0.05, 0.10, 0.20, 0.15, 0.10, 0.10, 0.05]), 5, 1225000),  # problem 4.7(b)
        (0.18, 0.70, stats.poisson.pmf(np.arange(400), 50), 56, 1.797235211809178),  # the companion code
    ],
)
def test_newsvendor_of_whole_numbers(
    holding: float, penalty: float, chances: FloatArray, level: int, cost: float
) -> None:
    held, short = held_and_short(np.asarray(chances), np.arange(120.0))
    each = holding * held + penalty * short
    assert int(each.argmin()) == level
    assert each.min() == pytest.approx(cost, abs=1e-5 * cost)


@pytest.mark.parametrize(
    ("holding", "penalty", "mean", "spread", "periods", "level"),
    [
        (0.18, 0.70, 50, 8, 1, 56.60395592743389),  # S&S example 4.3
        (0.18, 0.70, 50, 8, 5, 264.7668943741548),  # S&S example 4.4: base stock, five periods of protection
        (1, 3, 100, 30, 1, 120.23),  # Porteus 2002, as printed
        (1, 3, 100, 20, 1, 113.49),  # Gallego 1995, as printed
    ],
)
def test_level_of_normal_demand(
    holding: float, penalty: float, mean: float, spread: float, periods: float, level: float
) -> None:
    """The critical ratio is the chance that the level lasts (Arrow, Harris and Marschak 1951)."""
    a, b, c = (np.array([float(each)]) for each in (mean, spread, periods))
    assert order_up_to(a, b, c, penalty / (penalty + holding))[0] == pytest.approx(level, abs=0.006)


def test_safety_stock_of_a_carpet_shop() -> None:
    """Taylor, Introduction to Management Science, ch. 16: 30 a day, spread 5, ten days, 95 %: 26.1 (1.65 for 1.645)."""
    level = order_up_to(np.array([30.0]), np.array([5.0]), np.array([10.0]), 0.95)[0]
    assert level - 300 == pytest.approx(26.1, abs=0.1)


@pytest.mark.parametrize(
    ("fee", "holding", "rate", "year", "lot", "cost"),
    [
        (8, 0.225, 1300, 1, 304.05, 68.4105),  # S&S example 3.1, a year
        (
            12000,
            0.30,
            8000,
            12,
            25298,
            7589.5,
        ),  # Hillier and Lieberman, 7th ed., ch. 19 (speakers), a month, as printed
    ],
)
def test_rhythm_of_published_economic_lots(
    fee: float, holding: float, rate: float, year: int, lot: float, cost: float
) -> None:
    """Our gaps are whole weeks and our candidates few, and the cost of lots is flat: a few per cent above the best."""
    weekly = rate * year * 7 / YEAR_DAYS
    table = cost_table(even_problem([weekly], holding * year / 0.20, fee))
    assert table is not None
    assert table.gap_days[0] == pytest.approx(lot / rate * YEAR_DAYS / year, rel=0.35)
    assert 0.97 <= table.day_cost[0] * YEAR_DAYS / year / cost <= 1.10


def test_lot_bought_with_published_price_breaks() -> None:
    """S&S example 3.6: 1,300 a year, 8 an order, 30 % a year; .75, .72 from 400, .68 from 800: 800, 978.60 a year."""
    problem = even_problem([1300 * 7 / YEAR_DAYS], 0.75, 8)
    steps = (PriceStep(packs=40, price=7.2), PriceStep(packs=80, price=6.8))
    offer = PackOffer(item=0, supplier=0, pack=10.0, price=7.5, breaks=steps)
    items = (replace(problem.items[0], holding_rate=0.30),)
    (line,) = basket(replace(problem, items=items, offers=(offer,))).lines
    price = offer.price_at(line.packs) / 10
    cost = price * 1300 + 8 * 1300 / line.quantity + 0.30 * price * line.quantity / 2
    assert line.quantity >= 800
    assert cost == pytest.approx(978.60, rel=0.01)
