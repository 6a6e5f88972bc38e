"""Placing what is suggested: nothing more is suggested the same minute."""

from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.end_to_end.shop import DATA, EVENING, MORNING, Indoors


def suggested(desk: Indoors) -> list[dict[str, Any]]:
    """Give the lists that reorder suggests."""
    found: list[dict[str, Any]] = desk.facts("reorder")["suppliers"]
    return found


def place_all(desk: Indoors) -> set[str]:
    """Place everything that is suggested; gives the suppliers."""
    wanted = {each["supplier"]: each["lines"] for each in suggested(desk)}
    for supplier, lines in wanted.items():
        desk.says("order", supplier, *(f"{x['material']}@{x['supplier_code']}={x['packs']}" for x in lines))
    return set(wanted)


@pytest.mark.parametrize("now", [EVENING, MORNING, "2026-11-24T16:30:00", "2026-12-01T10:00:00"])
def test_placing_what_is_suggested_leaves_nothing_to_suggest(desk: Indoors, now: str) -> None:
    standing = replace(desk, now=now)
    assert "HIDE" in place_all(standing)
    assert suggested(standing) == []


def test_nothing_is_ordered_again_while_it_is_not_due(desk: Indoors) -> None:
    assert "HIDE" in place_all(desk)
    for day in (25, 26, 27):
        assert "HIDE" not in {each["supplier"] for each in suggested(replace(desk, now=f"2026-11-{day}T10:00:00"))}


@pytest.mark.slow
def test_placing_what_is_suggested_to_the_invented_shop_leaves_nothing_to_suggest(tmp_path: Path) -> None:
    desk = Indoors(tmp_path / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(DATA))
    assert place_all(desk)
    assert suggested(desk) == []


def test_the_run_out_in_a_reason_is_the_one_in_run_outs(desk: Indoors) -> None:
    rows = {row["material"]: row for row in desk.facts("run-outs", "--all")["rows"]}
    lines = [line for each in suggested(desk) for line in each["lines"]]
    assert lines
    for line in lines:
        day = date.fromisoformat(rows[line["material"]]["runs_out"])
        assert line["reason"].startswith(f"Runs out around {day.day} {day:%b %Y}. "), line["material"]


@pytest.mark.parametrize(
    ("now", "days"),
    [
        ("2026-11-24T10:00:00", 3),  # a Tuesday morning
        ("2026-11-24T15:30:00", 4),  # after the cut-off: counts for Wednesday
        ("2026-11-27T15:30:00", 6),  # after Friday's: counts for Monday
        ("2026-11-20T10:00:00", 4),  # three days on is a Monday, when the shop is shut
    ],
)
def test_an_order_is_expected_when_reorder_expects_it(desk: Indoors, now: str, days: int) -> None:
    standing = replace(desk, now=now)
    due = datetime.fromisoformat(now).date() + timedelta(days=days)
    assert standing.facts("order", "quil", "THREAD-BLK=2")["expected"] == due.isoformat()
    again = replace(desk, now=MORNING)
    told = {each["supplier"]: each["expected"] for each in suggested(again)}
    assert again.facts("order", "hide", "BEND=1")["expected"] == told["HIDE"]


def test_an_order_says_what_is_missing_to_free_carriage(desk: Indoors) -> None:
    said = desk.says("order", "quil", "THREAD-BLK=9")
    assert "€15.00 more would make carriage free. To add it: stockroom close-order O-0001" in said
    assert desk.facts("order", "quil", "THREAD-BLK=9")["to_free_carriage"] == "15.00"
    assert "carriage free" not in desk.says("order", "quil", "THREAD-BLK=10")
    assert "carriage free" not in desk.says("order", "hide", "BEND=1")  # never free


def test_closing_an_order_says_what_will_not_come(desk: Indoors) -> None:
    desk.says("order", "quil", "THREAD-BLK=2")
    desk.says("receive", "O-0001", "THREAD-BLK=1")
    assert "Not coming any more: " in desk.says("close-order", "O-0001")
    desk.says("order", "hide", "BEND=1")
    desk.says("receive", "O-0002")
    assert desk("close-order", "O-0002").code != 0


def test_a_site_orders_what_is_suggested_for_it(desk: Indoors) -> None:
    desk.says("sites", "--add", "kiosk")
    ran = desk("order", "hide", "--suggested", "--site", "kiosk")
    assert ran.code != 0
    assert "Nothing is suggested from HIDE now." in ran.err
    assert "stockroom reorder --site kiosk" in ran.err
    assert desk.facts("order", "hide", "--suggested", "--site", "main")["lines"]
