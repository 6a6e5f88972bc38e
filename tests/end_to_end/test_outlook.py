"""The outlook through the command line: why a shelf runs low, which tickets wait, and past weeks back-tested."""

import json
import re
from pathlib import Path

import pytest

from stockroom.errors import RefusedError
from tests.end_to_end.shop import EVENING, Indoors


def test_a_shelf_below_zero_says_why_it_looks_empty(desk: Indoors) -> None:
    for number in range(8):  # 54 dm2 of bend, of which there are 50
        desk.says("finish", "full", "--size", "EU 42", "--with", "sole=bend", "--once", f"k{number}")
    row = next(row for row in desk.facts("run-outs")["rows"] if row["material"] == "BEND")
    assert row["why"].startswith("The book is below zero: enter the missing delivery, or count")
    assert row["days_left"] == 0


def test_goods_overdue_are_named_with_their_order(desk: Indoors) -> None:
    placed = desk.facts("order", "hide", "BEND=1", now="2026-11-24T10:00:00")
    row = next(r for r in desk.facts("run-outs", "--all", now="2026-12-04T10:00:00")["rows"] if r["material"] == "BEND")
    assert f"Waits for order {placed['order']}" in row["why"]
    assert "late" in row["why"]


def test_each_ticket_shows_its_chance_of_being_held_up(desk: Indoors) -> None:
    for number in range(9001, 9010):
        promised = ("--size", "EU 42", "--promised", "2026-12-02", "--number", str(number))
        desk.says("take-in", "full", *promised, "--with", "sole=bend")
    risks = {each["ticket"]: each for each in desk.facts("tickets", "--risk")}
    # The bend on the rack is enough for seven: the last of nine can't be done, the first surely can.
    assert risks["9009"]["held_up"] > 0.9
    assert risks["9009"]["missing"] == "BEND"
    assert risks["9001"]["held_up"] < 0.1
    assert "short of Sole bend (BEND)" in desk.says("tickets", "--risk")


def test_past_weeks_replayed_give_a_verdict_a_chart_and_figures(desk: Indoors, tmp_path: Path) -> None:
    said = desk.says("back-test", "--weeks", "6", str(tmp_path / "out"), now=EVENING)
    assert said.startswith("6 weeks back-tested, ordering with only what was known then. Stockroom:")
    figures = json.loads((tmp_path / "out" / "back-test.json").read_text("utf-8"))
    assert [way["name"] for way in figures["ways"]] == ["Stockroom", "A fortnight's cover", "Order-up-to rule"]
    for way in figures["ways"]:
        assert way["tickets"] == 60  # two a day, five days a week
        assert sum(way["held_up_by_week"]) == way["held_up"]
        assert len(way["stock_value_by_week"]) == len(figures["weeks"]) == 6
    # The goods of these weeks lay there from the start, and the book ends as they end: ordering for the time after
    # can only cost, and the verdict says so.
    assert [way["held_up"] for way in figures["ways"]] == [0, 0, 0]
    assert "a year more than the better plain rule" in figures["verdict"]
    assert figures["real"]["deliveries"] == 0
    assert (tmp_path / "out" / "back-test.png").read_bytes().startswith(b"\x89PNG")


def test_a_back_test_is_the_same_each_time_and_leaves_the_book_alone(desk: Indoors) -> None:
    before = desk.figure()
    first, second = (desk.facts("back-test", "--weeks", "4", now=EVENING) for _ in range(2))
    assert first == second
    assert desk.figure() == before


def test_weeks_before_anything_was_known_are_refused(desk: Indoors) -> None:
    ran = desk("back-test", "--weeks", "52", now=EVENING)
    assert ran.code == RefusedError.exit_code
    assert "nothing could be known then" in ran.err
    most = int(re.search(r"Back-test (\d+) weeks at most", ran.err)[1])  # type: ignore[index]
    assert desk("back-test", "--weeks", str(most), now=EVENING).code == 0
    assert desk("back-test", "--weeks", str(most + 1), now=EVENING).code == RefusedError.exit_code


@pytest.mark.parametrize("words", [("back-test", "--weeks", "4"), ("back-test",)])
def test_an_empty_book_has_nothing_to_back_test(empty: Indoors, words: tuple[str, ...]) -> None:
    ran = empty(*words)
    assert ran.code == RefusedError.exit_code
    assert "holds no work" in ran.err
    assert "go back 8 weeks at least" in ran.err, "fewer weeks would not do"
