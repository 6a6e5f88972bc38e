"""Offcuts and loans as an owner types them: asked at finishing, cut to the cent, counted, undone."""

from decimal import Decimal
from pathlib import Path

from tests.end_to_end.shop import Indoors

SOLE = ("finish", "full", "--size", "EU 42", "--with", "sole=bend")


def stored(desk: Indoors, *sizes: str) -> None:
    desk.says("add", "material", "code=OFF-BEND", "name=Bend offcuts", "family=offcuts", "unit=dm2")
    for size in sizes:
        desk.says("offcut", "BEND", "OFF-BEND", size, "--from-sheet")


def worth(desk: Indoors, folder: Path) -> Decimal:
    """Give what all that is on the shelf is worth, by the list of stock."""
    return Decimal(desk.facts("stock-list", str(folder / "list.html"))["value"])


def test_finishing_asks_what_to_cut_from_and_draws_what_it_said(desk: Indoors, tmp_path: Path) -> None:
    stored(desk, "60 x 40 cm", "12 x 10 cm")
    asked = desk(*SOLE)
    assert asked.code == 5
    assert "can be cut from offcut 1 (60 × 40 cm): from the offcut €" in asked.err
    assert ", from the sheet €" in asked.err
    assert "Say which: --offcut 1 (of which " in asked.err
    before = worth(desk, tmp_path)
    done = desk.facts(*SOLE, "--offcut", "1:none")
    assert done["offcuts"] == [{"number": 1, "left": ""}]
    assert any(line["material"] == "OFF-BEND" for line in done["used"])
    assert [each["number"] for each in desk.facts("offcuts")] == [2]
    desk.says("undo", str(done["document"]))
    assert worth(desk, tmp_path) == before
    plain = desk.facts(*SOLE, "--offcut", "none")
    assert any(line["material"] == "BEND" for line in plain["used"])
    assert desk(*SOLE, "--offcut", "2").code == 5, "a pair does not fit 12 x 10 cm"
    assert desk(*SOLE, "--offcut", "x").code == 2


def test_a_repeated_finish_is_not_asked_again(desk: Indoors) -> None:
    stored(desk, "60 x 40 cm", "60 x 40 cm")
    first = desk.facts(*SOLE, "--offcut", "1", "--once", "A")
    again = desk.facts(*SOLE, "--offcut", "1", "--once", "A")
    assert (again["new"], again["document"]) == (False, first["document"])
    ticket = desk.facts("take-in", "full", "--size", "EU 40", "--with", "sole=bend")["ticket"]
    assert desk("finish", ticket).code == 5
    assert desk("finish", ticket, "--offcut", "2").code == 0


def test_offcuts_are_trimmed_and_counted_by_their_numbers(desk: Indoors) -> None:
    stored(desk, "60 x 40 cm", "30 x 20 cm", "20 x 20 cm")
    assert "15 × 20" not in desk.says("offcuts")
    desk.says("trim-offcut", "3", "20 x 15 cm", "--reason", "a hole")
    assert "3: 20 × 15 cm" in desk.says("offcuts", "bend")
    counted = desk.facts("count-offcuts", "off-bend", "--missing", "2")
    assert (counted["found"], counted["missing"]) == ([1, 3], [2])
    assert "Written off as missing" not in desk.says("count-offcuts", "off-bend", "1", "3")
    assert desk("count-offcuts", "off-bend").code == 2
    assert desk("count-offcuts", "off-bend", "9").code == 5
    desk.says("undo", str(counted["written_off"]))
    assert [each["number"] for each in desk.facts("offcuts")] == [1, 2, 3]
    assert "Everything agrees." in desk.says("check")


def test_what_is_lent_is_overdue_and_comes_back(desk: Indoors) -> None:
    lent = desk.facts("lend", "ZIP-25", "2 piece", "--days", "2", "--at", "2026-11-20")
    assert lent["due"] == "2026-11-22"
    assert "2 days overdue" in desk.says("lent")
    assert desk.facts("lent-back", str(lent["document"]), "1 piece")["out"]["amount"] == "1"
    assert desk("lent-back", str(lent["document"]), "5 piece").code == 5
    desk.says("lent-back", str(lent["document"]), "--lost")
    assert desk.says("lent") == "Nothing is lent out.\n"
    assert "Everything agrees." in desk.says("check")


def test_the_outline_of_the_soles_changes_what_a_sheet_gives(desk: Indoors) -> None:
    usual = desk.facts("cut-or-buy", "bend")["yield"]["layout"]
    desk.says("outline", "--size", "285 x 105 mm", "--fill", "95")
    assert desk.facts("cut-or-buy", "bend")["yield"]["layout"] > usual
    assert "your own outline" in desk.says("outline")
    desk.says("outline", "--usual")
    assert desk.facts("cut-or-buy", "bend")["yield"]["layout"] == usual
