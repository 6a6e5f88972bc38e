"""The shop's lists changed at the terminal, as an owner would type it."""

from pathlib import Path

import pytest

from tests.end_to_end.shop import Indoors, small_shop


@pytest.fixture
def desk(tmp_path: Path) -> Indoors:
    """The small shop without its past."""
    made = Indoors(tmp_path / "book.sqlite")
    made.says("new-book")
    made.says("load", str(small_shop(tmp_path / "files", history=False)))
    return made


def test_a_material_is_added_changed_and_each_undone(desk: Indoors) -> None:
    added = desk.facts("add", "material", "WAX", "name=Black wax", "family=finish", "unit=g", "--who", "Ada")
    changed = desk.facts("change", "material", "wax", "sell price=6.50", "location=B9")
    assert [(c["column"], c["was"], c["is"]) for c in changed["changed"]] == [
        ("sell price", "", "6.50"),
        ("location", "", "B9"),
    ]
    assert desk.facts("change", "material", "WAX")["rows"][0]["place"] == "B9"
    desk.says("undo", str(changed["document"]))
    assert desk.facts("change", "material", "WAX")["rows"][0]["place"] == ""
    desk.says("undo", str(added["document"]))
    assert desk("change", "material", "WAX").code == 3
    assert desk.facts("check")["faults"] == []


def test_a_recipe_is_changed_line_by_line(desk: Indoors) -> None:
    job = desk.facts("change", "recipe")["entries"][0][0]
    lines = [row["line"] for row in desk.facts("change", "recipe", job)["rows"]]
    changed = desk.facts("change", "recipe", job, lines[0], "amount=3")
    assert {(c["line"], c["column"], c["is"]) for c in changed["changed"]} >= {(lines[0], "amount", "3")}
    material = desk.facts("change", "material")["entries"][0][0]
    desk.facts("add", "recipe", job, "one more", f"material={material}", "amount=1")
    assert [row["line"] for row in desk.facts("change", "recipe", job)["rows"]] == [*lines, "one more"]
    desk.says("remove", "recipe", job, "one more")
    assert [row["line"] for row in desk.facts("change", "recipe", job)["rows"]] == lines
    assert "Say which line" in desk("change", "recipe", job, "amount=1").err
    assert "no line 'nothing'" in desk("change", "recipe", job, "nothing", "amount=1").err
    assert desk.facts("check")["faults"] == []


def test_what_is_wrong_is_said_by_its_column_and_nothing_is_saved(desk: Indoors) -> None:
    refused = desk("add", "material", "WAX", "name=Wax", "family=fin", "unit=quark")
    assert refused.code == 7
    assert "column 'family'" in refused.err
    assert "column 'unit'" in refused.err
    assert "nothing was saved" in refused.err
    assert "Checked only" in desk.says("add", "event", "fair", "2027-05-01", "--check-only")
    assert desk.facts("change", "event")["entries"] == []
