"""Placing what is suggested: nothing more is suggested the same minute."""

from dataclasses import replace
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


@pytest.mark.slow
def test_placing_what_is_suggested_to_the_invented_shop_leaves_nothing_to_suggest(tmp_path: Path) -> None:
    desk = Indoors(tmp_path / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(DATA))
    assert place_all(desk)
    assert suggested(desk) == []
