"""What the rows of the lists say of themselves."""

from dataclasses import replace
from datetime import datetime

from stockroom.stock.lists import CountSheet, ReorderLine, ReorderList, RunOutRow, SheetLine, ShelfRow, cautions
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, UNITS

GLUE = ShelfRow(material="GLUE", name="Cement", unit=UNITS["l"], on_hand=800 * NANO, set_aside=900 * NANO)


def test_free_stock_is_what_booked_tickets_leave() -> None:
    assert GLUE.free == -100 * NANO


def test_only_the_book_itself_can_be_below_zero() -> None:
    assert not GLUE.below_zero
    assert replace(GLUE, on_hand=-1).below_zero


def test_run_out_chance_is_that_of_the_last_week() -> None:
    row = RunOutRow(material="A", name="A", unit=UNITS["m"], free=0, weekly_use=1.0, chance_by_week=(0.1, 0.4))
    assert row.chance == 0.4
    assert replace(row, chance_by_week=()).chance == 0.0


def test_reorder_totals_add_up() -> None:
    line = ReorderLine(
        supplier="S", supplier_code="1", material="A", name="A", unit=UNITS["m"], packs=3, pack=2 * NANO, cost=1250
    )
    order = ReorderList(supplier="S", name="S", lines=(line, replace(line, cost=50)), carriage=700)
    assert line.amount == 6 * NANO
    assert (order.goods, order.total) == (1300, 2000)


def test_count_sheet_walks_places_in_order_with_numbers_as_numbers_and_unplaced_last() -> None:
    lines = tuple(
        SheetLine(material=f"M{n}", name="", unit=UNITS["m"], place=place)
        for n, place in enumerate(["B1", "", "A10", "a2", "Bench", "A10"])
    )
    sheet = CountSheet(shop="X", key="K", made=datetime(2026, 1, 5), lines=lines)
    assert list(sheet.by_place) == ["a2", "A10", "B1", "Bench", ""]
    assert [line.material for line in sheet.by_place["A10"]] == ["M2", "M5"]


def test_sheet_is_blind_only_without_any_book_figure() -> None:
    line = SheetLine(material="A", name="A", unit=UNITS["m"])
    sheet = CountSheet(shop="X", key="K", made=datetime(2026, 1, 5), lines=(line,))
    assert sheet.blind
    assert not replace(sheet, lines=(line, replace(line, book=0))).blind


def test_cautions_say_what_usual_hazard_codes_mean() -> None:
    """H225: CLP regulation, table 2.6.2; H319: the same regulation. An unusual code is shown as it is."""
    cement = Material(
        code="C", name="Cement", family="cement", unit=UNITS["l"], flammable=True, hazards=("H225", "H319", "H371")
    )
    assert cautions(cement) == (
        "flammable: check local rules and your insurer",
        "H225 highly flammable liquid and vapour",
        "H319 causes serious eye irritation",
        "H371",
    )
    assert cautions(replace(cement, flammable=False, hazards=())) == ()
