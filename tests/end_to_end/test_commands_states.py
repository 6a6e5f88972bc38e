"""A new owner's first days: an empty book, materials without any past, one week of work, goods entered late."""

import csv
import json
from decimal import Decimal
from pathlib import Path

import pytest

from stockroom.show.tables.schema import LISTS
from tests.end_to_end.shop import Indoors, small_shop

NO_PAST = (
    "The book holds no work to look ahead from yet: load past tickets and sales, or finish and sell for a while.\n"
)
FIRST_TUESDAY = "2026-02-24T10:00:00"

EMPTY: dict[tuple[str, ...], str] = {
    ("shelf",): "On hand on Tue 24 Nov 2026\n\nThe shelf is empty: no material is in the book yet.\n",
    ("tickets",): "No ticket is waiting.\n",
    ("orders",): "Nothing is on order.\n",
    ("documents",): "Nothing was entered yet.\n",
    ("run-outs",): NO_PAST,
    ("jobs-possible",): "No job with a recipe is in the book yet: load jobs and recipes.\n",
    ("reorder",): NO_PAST,
}


@pytest.fixture
def stocked(empty: Indoors, tmp_path: Path) -> Indoors:
    """The catalogue and the opening stock, no work."""
    empty.says("load", str(small_shop(tmp_path / "files", history=False)))
    return empty


@pytest.mark.parametrize("words", EMPTY)
def test_an_empty_book_says_that_it_is_empty(empty: Indoors, words: tuple[str, ...]) -> None:
    said = empty.says(*words).rstrip("\n") + "\n"
    assert said == EMPTY[words]


@pytest.mark.parametrize("name", ["tickets", "orders", "documents", "can-do"])
def test_an_empty_book_answers_programs_with_an_empty_list(empty: Indoors, name: str) -> None:
    assert empty.facts(name) == []


@pytest.mark.parametrize("name", LISTS)
def test_an_empty_book_keeps_to_the_published_schemas(empty: Indoors, name: str) -> None:
    found = empty.facts(name)
    assert (found["list"], found.get("rows", found.get("suppliers"))) == (name, [])


def test_an_empty_book_agrees_with_itself_and_has_nothing_to_undo(empty: Indoors) -> None:
    assert empty.says("check").endswith("Everything agrees.\n")
    ran = empty("undo")
    assert (ran.code, ran.err) == (5, "Error: Nothing was entered yet.\n  Fix: There is nothing to undo.\n")


def test_templates_load_as_they_are_written(empty: Indoors, tmp_path: Path) -> None:
    for suffix in ("csv", "xlsx"):
        empty.says("templates", str(tmp_path / suffix), "--format", suffix)
        assert empty.says("load", str(tmp_path / suffix)) == "No new documents.\n"


def test_a_shop_without_a_past_looks_ahead_to_nothing_and_says_so(stocked: Indoors, tmp_path: Path) -> None:
    for name in ("run-outs", "reorder"):
        assert stocked.says(name, now=FIRST_TUESDAY) == NO_PAST
    assert stocked.says("shelf", "welt") == "No material on the shelf fits what was asked.\n"
    written = stocked.facts("reports", str(tmp_path / "reports"), now=FIRST_TUESDAY)
    assert all(Path(path).stat().st_size > 0 for path in written)


def test_one_week_of_work_is_enough_to_look_ahead(stocked: Indoors, tmp_path: Path) -> None:
    _week(tmp_path)
    stocked.says("load", str(tmp_path / "week"), now=FIRST_TUESDAY)
    rows = {row["material"]: row for row in stocked.facts("run-outs", "--all", now=FIRST_TUESDAY)["rows"]}
    assert set(rows) == {"BEND", "THREAD-BLK", "CEMENT", "TOP-PIN"}
    assert float(rows["BEND"]["weekly_use"]) == pytest.approx(5 * 6.75, rel=0.25)  # five pairs were soled
    assert stocked("jobs-possible", now=FIRST_TUESDAY).code == stocked("reorder", now=FIRST_TUESDAY).code == 0


def test_work_before_its_goods_shows_below_zero_until_they_are_entered(stocked: Indoors) -> None:
    said = stocked.says("sell", "ZIP-25", "7", "--anyway")
    assert said == (
        "Sold: 7 pieces Boot zip 25 cm for €63.00; -2 pieces left (document 11). The book is below zero: see stockroom shelf.\n"
    )
    shown = stocked.says("shelf", "zip")
    assert "1 material is below zero in the book" in shown
    stocked.says("receive", "--from", "quil", "ZIP-25=5 pieces:21.00")
    assert stocked.shelf("ZIP-25")["on_hand"] == "3"
    assert "below zero" not in stocked.says("shelf", "zip")


def test_a_count_brings_the_book_to_the_shelf(stocked: Indoors) -> None:
    counted = stocked.facts("count", "LACE-90-BLK=0.5 dozen", "--post", "--accept", "LACE-90-BLK")
    (found,) = counted["differences"]
    amounts = {name: found[name]["amount"] + " " + found[name]["unit"] for name in ("found", "book", "difference")}
    assert amounts == {"found": "6 pair", "book": "16 pair", "difference": "-10 pair"}
    assert stocked.shelf("LACE-90-BLK")["on_hand"] == "6"


def test_an_undo_can_be_undone_and_each_restores_exactly(stocked: Indoors) -> None:
    before = stocked.facts("shelf")
    stocked.says("finish", "full", "--size", "EU 47")
    after = stocked.facts("shelf")
    assert after != before
    back = stocked.facts("undo")["document"]
    assert without_aside(stocked.facts("shelf")) == without_aside(before)
    stocked.says("undo", str(back))
    assert stocked.facts("shelf") == after


def test_guarantee_work_uses_materials_and_brings_no_income(stocked: Indoors) -> None:
    stocked.says("finish", "heel", "--with", "top=block")
    again = stocked.facts("guarantee", "1001")
    assert (again["ticket"], again["redo_of"], again["price"]) == ("1002", "1001", "0.00")
    assert again["left"]["TOP-BLOCK"] == {"amount": "6", "unit": "pair"}


def without_aside(found: dict[str, object]) -> str:
    """A finished ticket taken back is booked again: its materials are set aside, and on hand as before."""
    rows = found["rows"]
    assert isinstance(rows, list)
    return json.dumps([(row["material"], row["on_hand"], row["on_order"]) for row in rows])


def _week(folder: Path) -> None:
    """Keep the first five days of the small shop's past."""
    whole = small_shop(folder / "whole") / "past-jobs.csv"
    (folder / "week").mkdir()
    with whole.open(newline="") as opened, (folder / "week" / "past-jobs.csv").open("w", newline="") as kept:
        csv.writer(kept).writerows(list(csv.reader(opened))[:11])


def test_too_little_cash_is_not_taken_for_nothing_needed(desk: Indoors) -> None:
    """The bend runs out within days; a euro buys none."""
    assert desk.facts("reorder")["suppliers"] != []
    said = desk.says("reorder", "--cash", "1")
    words = " ".join(said.split())
    assert words.startswith("Nothing that is worth ordering fits the limits.")
    assert words.endswith("Without what was asked: stockroom reorder")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--from", "quil", "ZIP-25=5 pieces:-21.00"), "ZIP-25: a cost can't be below zero."),
        (("--from", "quil", "ZIP-25=0 pieces:21.00"), "ZIP-25: what arrived must be above zero."),
        (("--from", "quil", "ZIP-25=-5 pieces:21.00"), "ZIP-25: what arrived must be above zero."),
        (("--from", "quil", "ZIP-25=5 pieces:21.00", "--carriage", "-4"), "Carriage and duties can't be below zero."),
        (("O-0001", "ZIP-25=2:-1"), "ZIP-25: a cost can't be below zero."),
        (("O-0001", "--duties", "-4"), "Carriage and duties can't be below zero."),
    ],
)
def test_goods_never_come_for_less_than_nothing(stocked: Indoors, words: tuple[str, ...], said: str) -> None:
    stocked.says("order", "quil", "ZIP-25=2")
    before = stocked.figure()
    refused = stocked("receive", *words)
    assert (refused.code, said in refused.err) == (2, True), refused
    assert stocked.figure() == before


def test_an_order_partly_received_says_what_is_still_to_come(stocked: Indoors) -> None:
    stocked.says("order", "quil", "ZIP-25=2", "POLISH-BLK=1")
    stocked.says("receive", "O-0001", "ZIP-25=1", "POLISH-BLK=1")
    said = stocked.says("orders")
    assert "2 x ZIP-25 (Q-Z25) €42.00, 5 pieces outstanding" in said
    assert "1 x POLISH-BLK (Q-PB) €18.00, all of it received" in said


def test_goods_without_an_order_are_said_as_they_were_understood(stocked: Indoors) -> None:
    assert "  5 pieces ZIP-25 for €21.00" in stocked.says("receive", "--from", "quil", "ZIP-25=5 pieces:21.00")


@pytest.mark.parametrize(
    ("words", "said", "fix"),
    [
        (("--from", "quil", "ZIP-25=5:21.00"), "has no unit, and without an order", "ZIP-25=5 piece:21.00."),
        (("O-0001", "ZIP-25=2.5"), "'2.5' is not an amount with a unit.", "Write it like '2.5 dm2' or '1 pair'."),
    ],
)
def test_a_bare_number_is_never_guessed_to_be_packs_or_pieces(
    stocked: Indoors, words: tuple[str, ...], said: str, fix: str
) -> None:
    stocked.says("order", "quil", "ZIP-25=2")
    before = stocked.figure()
    refused = stocked("receive", *words)
    assert (refused.code, said in refused.err, fix in refused.err) == (2, True, True), refused
    assert stocked.figure() == before


def test_a_day_with_dots_is_a_day(stocked: Indoors) -> None:
    assert stocked.facts("take-in", "heel", "--promised", "2.12.2026")["promised"] == "2026-12-02"
    entered = stocked.facts("take-in", "heel", "--at", f"{stocked.now[8:10]}.{stocked.now[5:7]}.{stocked.now[:4]}")
    assert entered["taken_in"].startswith(stocked.now[:10])


def test_agreed_carriage_is_entered_once_and_said(stocked: Indoors) -> None:
    carriage = stocked.facts("order", "quil", "ZIP-25=2", "POLISH-BLK=1")["carriage"]
    said = stocked.says("receive", "O-0001", "ZIP-25=1")
    assert f"Carriage of €{carriage} is entered as agreed on the order." in said
    assert "Carriage" not in stocked.says("receive", "O-0001")
    stocked.says("order", "quil", "ZIP-25=2")
    assert stocked.facts("receive", "O-0002", "--carriage", "0")["carriage_as_agreed"] is None
    stocked.figure()


def test_what_is_suggested_is_placed_whole_and_once(desk: Indoors) -> None:
    wanted = desk.facts("reorder")["suppliers"][0]
    packs = {(line["material"], line["packs"]) for line in wanted["lines"]}
    placed = desk.facts("order", wanted["supplier"], "--suggested", "--once", "Tuesday's order")
    assert {(line["material"], line["packs"]) for line in placed["lines"]} == packs
    assert sum(Decimal(line["cost"]) for line in placed["lines"]) == Decimal(wanted["goods"])
    again = desk.facts("order", wanted["supplier"], "--suggested", "--once", "Tuesday's order")
    assert again == placed, "though it is no longer suggested"
    assert [order["order"] for order in desk.facts("orders")] == [placed["order"]]
