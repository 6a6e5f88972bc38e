"""Published inventory examples, each with its source; digits beyond the printed ones come from code written for the book.

S&S: L. V. Snyder and Z.-J. M. Shen, Fundamentals of Supply Chain Theory, 2nd ed., Wiley 2019 (the book itself was
not opened; full-precision figures are those of its first author's open companion code, recomputed independently).
"""

import numpy as np
import pytest
from scipy import stats

from stockroom.buying import levels, points, schedules
from stockroom.buying.problem import FloatArray


def poisson(mean: float, top: int = 400) -> FloatArray:
    return np.asarray(stats.poisson.pmf(np.arange(top), mean))


@pytest.mark.parametrize(
    ("z", "loss"), [(0, 0.3989), (0.5, 0.1978), (1, 0.0833), (1.5, 0.0293), (2, 0.0085), (3, 0.0004)]
)
def test_unit_normal_loss_table(z: float, loss: float) -> None:
    # four-decimal table found in most textbooks, from memory; each value recomputed
    assert levels.normal_loss(z, 0.0, 1.0) == pytest.approx(loss, abs=5e-5)


def test_loss_functions_of_the_book() -> None:
    # S&S appendix C examples
    assert levels.normal_loss(1.3, 0.0, 1.0) == pytest.approx(0.04552796208651397, rel=1e-9)
    assert levels.normal_loss(18.6, 15.0, 3.0) == pytest.approx(0.1683073521514889, rel=1e-9)
    assert levels.count_loss(18, poisson(15)) == pytest.approx(0.5176095282584724, rel=1e-9)
    binomial = np.asarray(stats.nbinom.pmf(np.arange(2000), 4, 0.2))
    assert levels.count_loss(14, binomial) == pytest.approx(4.447304632028364, rel=1e-9)
    assert levels.normal_loss(-1.3, 0.0, 1.0) == pytest.approx(levels.normal_loss(1.3, 0.0, 1.0) + 1.3)  # identity


def test_economic_lots() -> None:
    # S&S example 3.1 and problem 3.1
    lot = levels.economic_lot(8, 0.225, 1300)
    assert (lot.quantity, lot.cost) == pytest.approx((304.0467800264368, 68.41052550594829))
    assert levels.lot_cost(250, 8, 0.225, 1300) == pytest.approx(69.725)
    lot = levels.economic_lot(2250, 275, 182500)
    assert (lot.quantity, lot.cost) == pytest.approx((1728.109844993551, 475230.2073732266))


def test_economic_lots_with_backorders() -> None:
    # S&S example 3.8
    lot = levels.economic_lot(8, 0.225, 1300, backorder=5)
    assert (lot.quantity, lot.shortfall, lot.cost) == pytest.approx(
        (310.81255515896464, 0.0430622009569378, 66.92136355097325)
    )
    # Hillier and Lieberman, Introduction to Operations Research, 7th ed., ch. 19 (television speakers), as printed
    lot = levels.economic_lot(12000, 0.30, 8000)
    assert (round(lot.quantity), round(lot.quantity / 8000, 1)) == (25298, 3.2)
    assert lot.cost == pytest.approx(7589.5, abs=0.05)
    lot = levels.economic_lot(12000, 0.30, 8000, backorder=1.1)
    assert (round(lot.quantity), round(lot.quantity * lot.shortfall)) == (28540, 6116)
    assert lot.cost == pytest.approx(6727.3, abs=0.05)


def test_lots_with_price_breaks() -> None:
    # S&S examples 3.6 (all units) and 3.7 (incremental); problem 3.12
    breaks = [(0, 0.75), (400, 0.72), (800, 0.68)]
    whole = levels.lot_with_breaks(8, 0.3, 1300, breaks)
    assert (whole.quantity, whole.cost) == pytest.approx((800, 978.60))
    part = levels.lot_with_breaks(8, 0.3, 1300, breaks, incremental=True)
    assert (part.quantity, part.cost) == pytest.approx((304.04678003, 1043.41052551))
    breaks = [(0, 1490), (1200, 1220), (2400, 1100)]
    whole = levels.lot_with_breaks(2250, 0.25, 182500, breaks)
    assert (whole.quantity, whole.cost) == pytest.approx((2400, 201251093.75))
    part = levels.lot_with_breaks(2250, 0.25, 182500, breaks, incremental=True)
    assert (part.quantity, part.cost) == pytest.approx((28553.06065428, 208678591.67992835))


def test_price_breaks_homework() -> None:
    # a worked textbook problem with printed totals: demand 800, order 60, holding 30 %
    breaks = [(0, 53.0), (50, 51.5), (100, 49.5), (200, 48.0), (500, 47.0)]
    best = levels.lot_with_breaks(60, 0.30, 800, breaks)
    assert (best.quantity, best.cost) == pytest.approx((200, 40080), abs=0.1)


def test_newsvendor_normal() -> None:
    # S&S example 4.3
    best = levels.newsvendor(0.18, 0.70, 50, 8)
    assert (best.level, best.cost) == pytest.approx((56.60395592743389, 1.9976051931766445))
    # S&S example 4.4: base stock, lead time 4, so five periods of protection
    best = levels.newsvendor(0.18, 0.70, 50, 8, periods=5)
    assert (best.level, best.cost) == pytest.approx((264.7668943741548, 4.466781004149578))
    # Porteus 2002 (newsboy, N(100, 30), price 4, cost 1), as printed
    best = levels.newsvendor(1, 3, 100, 30)
    assert best.level == pytest.approx(120.23, abs=0.006)
    assert best.cost == pytest.approx(38.13, abs=0.006)
    # Gallego 1995 (N(100, 20)), as printed
    best = levels.newsvendor(1, 3, 100, 20)
    assert (best.level, best.cost) == pytest.approx((113.49, 25.42), abs=0.006)


def test_newsvendor_whole_numbers() -> None:
    # S&S example 4.7, problems 4.8(a) and 4.7(b); Poisson(50) from the companion code
    best = levels.newsvendor_counts(1, 4, poisson(6))
    assert (best.level, best.cost) == pytest.approx((8, 3.5701077457709416), abs=2e-6)
    assert levels.counts_cost(5, 1, 4, poisson(6)) == pytest.approx(6.590296024616343)
    best = levels.newsvendor_counts(200, 270, poisson(18))
    assert (best.level, best.cost) == pytest.approx((19, 786.0884409351115))
    best = levels.newsvendor_counts(500000, 1000000, np.array([0, 0.25, 0.05, 0.10, 0.20, 0.15, 0.10, 0.10, 0.05]))
    assert (best.level, best.cost) == pytest.approx((5, 1225000))
    best = levels.newsvendor_counts(0.18, 0.70, poisson(50))
    assert (best.level, best.cost) == pytest.approx((56, 1.797235211809178))


def test_reorder_point_and_lot_normal() -> None:
    # S&S example 5.1: exact cost, and the best point for a lot
    at_level = points.normal_position_cost(0.225, 7.5, 1300 / 12, 150 / np.sqrt(12))
    cost = points.point_lot_cost(points.PointAndLot(point=126.8, lot=328.5), 8, 1300, at_level)
    assert cost == pytest.approx(78.07116250928294, rel=1e-5)
    cost = points.point_lot_cost(points.PointAndLot(point=100, lot=250), 8, 1300, at_level)
    assert cost == pytest.approx(87.346478028174985, rel=1e-5)
    for lot, point in {318: 127.7880348669655, 150: 147.1949581740714, 750: 99.85377339616528}.items():
        assert points.point_for(lot, at_level, 0, 300) == pytest.approx(point, rel=1e-4)


def test_reorder_point_and_lot_poisson() -> None:
    # S&S example 5.8 and problem 5.2
    def cost(point: int, lot: int, figures: tuple[float, float, float, float, float]) -> float:
        holding, penalty, fee, rate, lead = figures
        chances = poisson(rate * lead)
        return points.point_lot_counts_cost(
            point, lot, fee, rate, lambda level: levels.counts_cost(level, holding, penalty, chances)
        )

    example = (20.0, 150.0, 100.0, 1.5, 2.0)
    assert cost(3, 5, example) == pytest.approx(107.92358063314975)
    assert cost(8, 12, example) == pytest.approx(242.5281637662021)
    best = min((cost(point, lot, example), point, lot) for point in range(8) for lot in range(1, 12))
    assert best[1:] == (3, 5)
    assert cost(6, 7, (4.0, 28.0, 4.0, 12.0, 0.5)) == pytest.approx(28.241312842169155)


def test_fitting_point_and_lot() -> None:
    # Nahmias and Olsen, Production and Operations Analysis, a shop's mustard (printed answers from memory, recomputed)
    rule = points.point_and_lot(50, 2, 25, 200, (100, 25))
    assert (rule.lot, rule.point) == pytest.approx((111, 143), abs=0.6)
    # S&S example 5.2
    rule = points.point_and_lot(8, 0.225, 7.5, 1300, (1300 / 12, 150 / np.sqrt(12)))
    assert rule.lot == pytest.approx(318.5901810768729, rel=1e-3)
    assert rule.point == pytest.approx(213.97044213580244, rel=1e-3)


def test_point_and_level() -> None:
    # S&S example 4.7: (4, 10), Poisson(6)
    chances = poisson(6)

    def cost(point: int, level: int) -> float:
        return points.point_level_counts_cost(point, level, 5, chances, lambda y: levels.counts_cost(y, 1, 4, chances))

    assert cost(4, 10) == pytest.approx(8.034111561471642)
    assert cost(6, 18) == pytest.approx(10.193798671644046)
    assert min((cost(s, top), s, top) for s in range(2, 8) for top in range(s + 1, 14))[1:] == (4, 10)


@pytest.mark.parametrize(
    ("mean", "point", "level", "printed"),
    [
        (10, 6, 40, 35.022), (15, 10, 49, 42.698), (20, 14, 62, 49.173), (25, 19, 56, 54.262), (30, 23, 66, 57.819),
        (35, 28, 77, 61.215), (40, 33, 87, 64.512), (45, 37, 97, 67.776), (50, 42, 108, 70.975), (55, 47, 118, 74.149),
        (60, 52, 129, 77.306), (65, 56, 75, 78.518), (70, 62, 81, 79.037), (75, 67, 86, 79.554), (21, 15, 65, 50.406),
        (22, 16, 68, 51.632), (23, 17, 52, 52.757), (24, 18, 54, 53.518), (51, 43, 110, 71.611), (52, 44, 112, 72.246),
        (59, 51, 126, 76.679), (61, 52, 131, 77.929), (63, 54, 73, 78.287), (64, 55, 74, 78.402),
    ],
)  # fmt: skip
def test_table_of_zheng_and_federgruen(mean: int, point: int, level: int, printed: float) -> None:
    # Zheng and Federgruen 1991, Operations Research 39(4), 654-665: h 1, p 9, K 64, as encoded in the companion code's tests
    chances = poisson(mean)
    cost = points.point_level_counts_cost(point, level, 64, chances, lambda y: levels.counts_cost(y, 1, 9, chances))
    assert cost == pytest.approx(printed, abs=6e-4)


def test_safety_stock() -> None:
    # Taylor, Introduction to Management Science, ch. 16 (inputs read, printed results from memory and recomputed)
    assert 1.65 * levels.safety_sigma(10, 0, 30, 5) == pytest.approx(26.1, abs=0.05)
    sigma = levels.safety_sigma(10, 3, 30, 5)
    assert sigma == pytest.approx(91.379, abs=0.001)
    assert 300 + 1.65 * sigma == pytest.approx(450.8, abs=0.2)


def test_dynamic_lots() -> None:
    # S&S example 3.9, problems 3.27 and 3.29
    schedule = schedules.wagner_whitin([90, 120, 80, 70], [500] * 4, 2)
    assert schedule == schedules.Schedule(orders=(210, 0, 150, 0), cost=1380)
    schedule = schedules.wagner_whitin([150, 100, 80, 200], [120] * 4, 0.8)
    assert schedule.orders == (150, 180, 0, 200)
    assert schedule.cost == pytest.approx(424)
    schedule = schedules.wagner_whitin([730, 580, 445, 650, 880], [100] * 5, 0.1)
    assert schedule.orders == (1310, 0, 1095, 0, 880)
    assert schedule.cost == pytest.approx(423)
    # Wagner and Whitin 1958, twelve months; the schedule has ties
    demand = [69, 29, 36, 61, 61, 26, 34, 67, 45, 67, 79, 56]
    fees = [85, 102, 102, 101, 98, 114, 105, 86, 119, 110, 98, 114]
    assert schedules.wagner_whitin(demand, fees, 1).cost == pytest.approx(864)
    # Hillier and Lieberman, airplane example (millions)
    assert schedules.wagner_whitin([3, 2, 3, 2], [2] * 4, 0.2).cost == pytest.approx(4.8)


def test_joint_replenishment() -> None:
    # Silver 1976; Silver, Pyke and Peterson 1998, p. 428
    silver = schedules.joint_replenishment(
        10, np.array([1.87, 5.27, 7.94, 8.19, 8.87]), np.full(5, 0.2), np.array([1736.0, 656, 558, 170, 142])
    )
    assert silver.every == (1, 1, 1, 3, 3)
    assert (silver.gap, silver.cost) == pytest.approx((0.2813771490671472, 218.68632025498687))
    four = schedules.joint_replenishment(40, np.full(4, 15.0), np.full(4, 0.24), np.array([86000.0, 12500, 1400, 3000]))
    assert four.every == (1, 1, 4, 3)
    assert (four.gap, four.cost) == pytest.approx((0.07617340262784976, 2067.650840930354))
