from collections import defaultdict
from datetime import date, timedelta

import numpy as np
import pytest

from stockroom.demo import owner
from stockroom.demo.catalogue import MATERIALS, SHELF
from stockroom.demo.dice import Dice
from stockroom.demo.seasons import OPEN
from stockroom.demo.shelves import Shelves
from stockroom.demo.trade import SUPPLIERS
from stockroom.stock.calendar import monday

DAY = date(2025, 6, 3)


def _shelves(weekly: int, on_hand: int) -> Shelves:
    """Fill every bin alike, in shown units."""
    shelves = Shelves()
    for material in MATERIALS:
        shelves.bring(material.code, on_hand * material.unit.nano)
        for n in range(1, 45):
            shelves.weekly_use[material.code][monday(DAY) - timedelta(days=7 * n)] = weekly * material.unit.nano
    return shelves


def test_full_shelves_order_nothing_and_empty_ones_order_whole_packs() -> None:
    assert owner.order_from("TOCK", DAY, _shelves(2, 500), defaultdict(int)) == []
    lines = owner.order_from("TOCK", DAY, _shelves(2, 0), defaultdict(int))
    assert lines
    assert all(line.packs >= 1 and line.cost > 0 for line in lines)


def test_what_is_on_order_is_not_ordered_again() -> None:
    shelves = _shelves(2, 0)
    coming = {code: 500 * material.unit.nano for code, material in SHELF.materials.items()}
    assert owner.order_from("TOCK", DAY, shelves, coming) == []


def test_an_order_below_the_suppliers_minimum_waits() -> None:
    shelves = _shelves(0, 0)
    shelves.weekly_use.clear()
    for material in MATERIALS:
        shelves.book[material.code] = 1
    shelves.book["TOP-WIDE"] = -1  # six euros' worth, where the supplier wants forty
    assert owner.order_from("TOCK", DAY, shelves, defaultdict(int)) == []


def test_goods_arrive_when_both_shop_and_supplier_work() -> None:
    dice = Dice(np.random.default_rng(2))
    shelves = _shelves(3, 0)
    lines = owner.order_from("BRIN", date(2025, 7, 23), shelves, defaultdict(int))
    order = owner.place("PO-1", "BRIN", lines, date(2025, 7, 23))
    for _ in range(200):
        for parcel in owner.split_up(order, dice):
            assert OPEN.is_open(parcel.arrives)
            assert not date(2025, 8, 5) <= parcel.arrives <= date(2025, 8, 16)  # the shop's own summer
            assert parcel.arrives > order.placed.date()


@pytest.mark.parametrize(("goods", "carriage"), [(14_999, 890), (15_000, 0)])
def test_carriage_is_free_from_the_suppliers_threshold_on(goods: int, carriage: int) -> None:
    tock = next(supplier for supplier in SUPPLIERS if supplier.code == "TOCK")
    assert tock.carriage_of(goods) == carriage


def test_hides_are_measured_on_arrival_and_paid_as_measured() -> None:
    dice = Dice(np.random.default_rng(2))
    shelves = _shelves(3, 0)
    line = next(x for x in owner.order_from("BRIN", DAY, shelves, defaultdict(int)) if x.material == "HIDE-BLK")
    drawn = [owner.measured(line, dice) for _ in range(50)]
    assert len({nano for nano, _ in drawn}) > 3
    for nano, cost in drawn:
        assert nano == pytest.approx(line.expected, rel=0.12)
        assert cost / nano == pytest.approx(line.cost / line.expected, rel=0.001)
