"""The lists as an owner reads them in a terminal."""

from collections.abc import Callable
from dataclasses import replace
from datetime import date

import pytest

from stockroom.show.formats import Formats
from stockroom.show.layout import Head, TableLine
from stockroom.show.tables.listing import (
    below_zero_note,
    hazards_named,
    reorder_table,
    run_out_note,
    run_out_table,
    sheet_table,
    shelf_table,
    table,
)
from stockroom.stock.quantities import NANO
from tests.unit.show.samples import ORDERS, RUN_OUTS, SHEET, SHELF, TODAY

IRISH = Formats()


def test_shelf_shows_amounts_in_the_materials_own_unit() -> None:
    drawn = shelf_table(SHELF, IRISH, as_of=TODAY, width=120)
    assert drawn.splitlines()[0] == "On hand on Wed 25 Nov 2026"
    assert drawn.splitlines()[4].split() == [
        *("CEM-01", "Contact", "cement,", "all", "purpose,", "slow", "drying"),
        *("3.25", "0.12", "3.13", "5", "l", "B2"),
    ]


def test_stock_below_zero_is_marked_and_explained_in_words() -> None:
    drawn = shelf_table(SHELF, IRISH, as_of=TODAY)
    assert "! -7" in drawn
    assert "! Below zero: the delivery for order P-14 is not entered." in drawn
    assert "! 1 material is below zero in the book" in drawn


def test_unknown_cause_gets_the_usual_one() -> None:
    note = below_zero_note(replace(SHELF[1], cause=""))
    assert note == "! Below zero: a delivery or a count is probably not entered yet."
    assert below_zero_note(SHELF[0]) == ""


def test_booked_tickets_that_need_more_than_there_is_are_named() -> None:
    drawn = shelf_table([replace(SHELF[0], set_aside=4000 * NANO)], IRISH, as_of=TODAY)
    assert "! Open tickets need 0.75 l more than there is." in drawn


@pytest.mark.parametrize(
    ("draw", "sentence"),
    [
        (shelf_table, "The shelf is empty: no material is in the book yet."),
        (run_out_table, "Nothing is expected to run out within the outlook."),
        (reorder_table, "Nothing needs ordering now."),
    ],
)
def test_empty_list_says_so(draw: Callable[..., str], sentence: str) -> None:
    assert sentence in draw([], IRISH, as_of=TODAY)


def test_run_outs_tell_the_range_and_the_tickets() -> None:
    assert run_out_note(RUN_OUTS[0], IRISH) == (
        "In 8 of 10 cases between 22 Dec 2026 and 3 Feb 2027. Tickets at risk: 1042, 1044. "
        "Resoling picks up before the holidays."
    )
    assert run_out_note(RUN_OUTS[1], IRISH) == "Risk of running short within the outlook 3%."
    assert run_out_note(replace(RUN_OUTS[0], latest=None, tickets_at_risk=("7",), why=""), IRISH) == (
        "Could be as early as 22 Dec 2026. Ticket at risk: 7."
    )


def test_run_out_day_known_for_sure_has_no_range() -> None:
    sure = replace(RUN_OUTS[0], earliest=RUN_OUTS[0].runs_out, latest=RUN_OUTS[0].runs_out, tickets_at_risk=(), why="")
    assert run_out_note(sure, IRISH) == ""


def test_many_tickets_at_risk_are_cut_short() -> None:
    row = replace(RUN_OUTS[1], tickets_at_risk=tuple(str(n) for n in range(9)), chance_by_week=())
    assert run_out_note(row, IRISH) == "Tickets at risk: 0, 1, 2, 3, 4, 5 and 3 more."


def test_run_out_without_a_day_says_later() -> None:
    row = run_out_table(RUN_OUTS[1:], IRISH, as_of=TODAY).splitlines()[4]
    assert row.split()[-1] == "later"


def test_a_material_takes_a_line_of_the_reorder_list_with_its_days_and_the_risk() -> None:
    first = replace(
        ORDERS[0].lines[0],
        runs_out=date(2027, 1, 8),
        lasts_until=date(2028, 3, 1),
        risk_if_left=0.21,
        better_price_from=1,
    )
    late = replace(ORDERS[0].lines[1], runs_out=date(2026, 11, 26), warning="Runs out before this order can come.")
    asked = replace(ORDERS[0], lines=(first, late), next_day=date(2026, 12, 3), next_comes=date(2026, 12, 7))
    lines = reorder_table([asked], IRISH, as_of=TODAY, width=120).splitlines()
    assert lines[2:5] == [
        "Northgate Findings (NORTH): order by Thu 26 Nov 2026, expected Mon 30 Nov 2026",
        "Goods €107.50, carriage €8.95 (free over €150.00), total €116.45 before tax.",
        "Risk: of running short by Mon 7 Dec 2026, when an order of Thu 3 Dec 2026 would come.",
    ]
    assert lines[7].split()[-5:] == ["26", "Nov", "too", "late", "–"]  # the most urgent stands first
    assert lines[8] == "    ! Runs out before this order can come."
    assert lines[9].split() == [*("1", "*", "tin", "of", "5", "l", "Contact", "cement"), *("€62.50", "8", "Jan", "21%"), "Mar", "2028"]  # fmt: skip
    assert lines[-1] == "* So many because a pack is cheaper then."


def test_what_carries_a_hazard_is_named_under_the_short_list() -> None:
    assert hazards_named(ORDERS) == "With hazards: Contact cement."
    assert hazards_named([replace(ORDERS[0], lines=ORDERS[0].lines[1:])]) == ""


def test_reorder_list_gives_packs_reason_caution_and_totals() -> None:
    drawn = reorder_table(ORDERS, IRISH, as_of=TODAY, width=100, why=True)
    assert "Northgate Findings (NORTH): order by Thu 26 Nov 2026, expected Mon 30 Nov 2026" in drawn
    assert "    Runs out about 8 Jan; without it four resoles would wait." in drawn
    assert "    Hazard: flammable: check local rules and your insurer" in drawn
    assert "10 pairs" in drawn
    assert "Goods €107.50, carriage €8.95 (free over €150.00), total €116.45 before tax." in drawn


def test_reason_reads_as_a_sentence() -> None:
    line = replace(ORDERS[0].lines[1], reason="lasts about 4 weeks")
    assert "    Lasts about 4 weeks." in reorder_table(
        [replace(ORDERS[0], lines=(line,))], IRISH, as_of=TODAY, why=True
    )


def test_order_below_the_suppliers_minimum_is_said() -> None:
    small = replace(ORDERS[0], minimum_order=20000)
    assert "Below the minimum order of €200.00." in reorder_table([small], IRISH, as_of=TODAY, width=None)


def test_count_sheet_is_blind_unless_the_book_is_asked_for() -> None:
    assert "Book" not in sheet_table(SHEET, IRISH)
    opened = replace(SHEET, lines=tuple(replace(line, book=NANO * 1000) for line in SHEET.lines))
    assert "Book" in sheet_table(opened, IRISH)


@pytest.mark.parametrize("width", [80, 60, 40])
def test_lists_keep_to_the_page(width: int) -> None:
    for drawn in (
        shelf_table(SHELF, IRISH, as_of=TODAY, width=max(width, 60)),
        run_out_table(RUN_OUTS, IRISH, as_of=TODAY, width=80),
        reorder_table(ORDERS, IRISH, as_of=TODAY, width=width),
        sheet_table(SHEET, IRISH, width=max(width, 50)),
    ):
        assert max(len(line) for line in drawn.splitlines()) <= max(width, 80)


def test_any_list_can_be_drawn() -> None:
    drawn = table("Late orders", [Head(text="Order")], [TableLine(cells=("P-1",))])
    assert drawn == "Late orders\n\nOrder\n-----\nP-1\n"
