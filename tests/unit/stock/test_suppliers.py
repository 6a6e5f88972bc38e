from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from stockroom.stock.orders import OrderLine
from stockroom.stock.quantities import UNITS
from stockroom.stock.suppliers import Supplier, current, unit_costs
from tests import build

OFFERS = {(o.material, o.valid_from): o for o in build.offers()}


def test_a_price_break_counts_from_its_number_of_packs() -> None:
    tin = OFFERS["CEMENT", build.START]
    assert [tin.cost(packs) for packs in (1, 2, 3, 4)] == [4300, 8600, 11700, 15600]


def test_goods_priced_by_weight_cost_by_the_packs_weight() -> None:
    bend = OFFERS["BEND", build.START]
    assert bend.cost(2) == 2 * 10660  # 6.5 kg at 16.40


def test_a_price_per_weight_rounds_once_for_the_line() -> None:
    nails = build.offer("NORTH", "FILLER", "0.125 kg", 333, priced_per=build.amount("1 kg"))
    assert [nails.cost(packs) for packs in (1, 2, 3)] == [42, 83, 125]  # 41.625, 83.25, 124.875


def test_the_newest_price_in_force_counts_and_old_ones_are_kept() -> None:
    tins = [o for o in build.offers() if o.material == "CEMENT"]
    assert [o.price for o in current(tins, date(2025, 6, 1))] == [4100]
    assert [o.price for o in current(tins, date(2026, 6, 1))] == [4300]
    assert current(tins, date(2024, 6, 1)) == []


def test_an_order_line_knows_what_is_still_to_come() -> None:
    line = OrderLine(
        material="TIP",
        supplier_code="N",
        packs=2,
        pack=build.amount("1 gross"),
        cost=1,
        received=build.nano("100 piece"),
    )
    assert (line.expected, line.outstanding) == (build.nano("288 piece"), build.nano("188 piece"))


@pytest.mark.parametrize(("goods", "carriage", "missing"), [(0, 900, 15000), (14999, 900, 1), (15000, 0, 0)])
def test_carriage_is_free_from_a_sum_on(goods: int, carriage: int, missing: int) -> None:
    supplier = Supplier(code="NORTH", name="Northgate (invented)", lead_days=3, carriage=900, carriage_free_over=15000)
    assert (supplier.carriage_of(goods), supplier.to_free_carriage(goods)) == (carriage, missing)
    never = replace(supplier, carriage_free_over=None)
    assert (never.carriage_of(goods), never.to_free_carriage(goods)) == (900, 0)


def test_a_usual_cost_for_many_together_is_shared_by_them() -> None:
    tacks = build.material("TACK", usual_cost=420, usual_cost_for=1000)
    assert unit_costs([tacks], []) == {"TACK": Fraction(42, 100)}


def test_a_jars_price_is_said_by_the_millilitre() -> None:
    jar = build.material("CREAM", "piece", bridge="1 piece = 50 ml", sell_price=650)
    assert jar.price_elsewhere == (UNITS["ml"], Fraction(13))
    loose = build.material("CREAM", "ml", bridge="1 piece = 50 ml", sell_price=13)
    assert loose.price_elsewhere == (UNITS["piece"], Fraction(650))
    assert build.material("CREAM", "piece", bridge="1 piece = 50 ml").price_elsewhere is None
