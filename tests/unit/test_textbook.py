"""The textbook solvers that the basket is held against, on published examples.

S&S: L. V. Snyder and Z.-J. M. Shen, Fundamentals of Supply Chain Theory, 2nd ed., Wiley 2019 (the book itself was
not opened; full-precision figures are those of its first author's open companion code, recomputed independently).
"""

import numpy as np
import pytest
from scipy import stats

from tests.reference import textbook


def test_economic_lots() -> None:
    # S&S example 3.1 and problem 3.1
    lot = textbook.economic_lot(8, 0.225, 1300)
    assert (lot.quantity, lot.cost) == pytest.approx((304.0467800264368, 68.41052550594829))
    assert textbook.lot_cost(250, 8, 0.225, 1300) == pytest.approx(69.725)
    lot = textbook.economic_lot(2250, 275, 182500)
    assert (lot.quantity, lot.cost) == pytest.approx((1728.109844993551, 475230.2073732266))


def test_lots_with_price_breaks() -> None:
    # S&S example 3.6 (all units); problem 3.12; a worked problem with printed totals: demand 800, order 60, holding 30 %
    whole = textbook.lot_with_breaks(8, 0.3, 1300, [(0, 0.75), (400, 0.72), (800, 0.68)])
    assert (whole.quantity, whole.cost) == pytest.approx((800, 978.60))
    whole = textbook.lot_with_breaks(2250, 0.25, 182500, [(0, 1490), (1200, 1220), (2400, 1100)])
    assert (whole.quantity, whole.cost) == pytest.approx((2400, 201251093.75))
    breaks = [(0, 53.0), (50, 51.5), (100, 49.5), (200, 48.0), (500, 47.0)]
    best = textbook.lot_with_breaks(60, 0.30, 800, breaks)
    assert (best.quantity, best.cost) == pytest.approx((200, 40080), abs=0.1)


def test_newsvendor_of_whole_numbers() -> None:
    # S&S example 4.7
    chances = np.asarray(stats.poisson.pmf(np.arange(400), 6))
    best = textbook.newsvendor_counts(1, 4, chances)
    assert (best.level, best.cost) == pytest.approx((8, 3.5701077457709416), abs=2e-6)
    assert textbook.counts_cost(5, 1, 4, chances) == pytest.approx(6.590296024616343)


def test_joint_replenishment() -> None:
    # Silver 1976; Silver, Pyke and Peterson 1998, p. 428
    silver = textbook.joint_replenishment(
        10, np.array([1.87, 5.27, 7.94, 8.19, 8.87]), np.full(5, 0.2), np.array([1736.0, 656, 558, 170, 142])
    )
    assert silver.every == (1, 1, 1, 3, 3)
    assert (silver.gap, silver.cost) == pytest.approx((0.2813771490671472, 218.68632025498687))
