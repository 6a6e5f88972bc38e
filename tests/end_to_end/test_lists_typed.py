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


def test_an_offer_with_a_price_to_come_is_one_line_and_says_what_stays_until_then(desk: Indoors) -> None:
    before = desk.says("change", "offer").splitlines()
    said = desk.says("change", "offer", "QUIL", "THREAD-BLK", "price=9.90", "valid from=1.2.")
    assert "Until then, what holds since" in said
    after = desk.says("change", "offer").splitlines()
    assert len(after) == len(before)
    (changed,) = set(after) - set(before)
    assert "THREAD-BLK" in changed
    assert changed.endswith("(otherwise from 1 Feb 2027 on)")
    shown = desk.says("change", "offer", "QUIL", "THREAD-BLK")
    assert "From 1 Feb 2027 on:\nprice = 9.90" in shown
    assert shown.count("material = THREAD-BLK") == 1


def test_a_day_of_a_list_needs_no_year_and_may_be_in_words(desk: Indoors) -> None:
    desk.says("add", "closure", "24.12.")
    assert [key[0] for key in desk.facts("change", "closure")["entries"] if "12-24" in key[0]] == ["2026-12-24"]


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


def test_a_shop_is_begun_by_names_and_its_first_count_is_the_opening_stock(tmp_path: Path) -> None:
    desk = Indoors(tmp_path / "book.sqlite")
    desk.says("new-book")
    desk.says("add", "supplier", "name=Larkfield Example", "lead days=4")
    desk.says("add", "material", "name=Contact cement", "family=cement", "unit=ml")
    desk.says("add", "offer", "supplier=larkfield example", "material=Contact cement", "pack=1000", "price=14.50")
    desk.says("add", "job", "name=Sole stuck back", "price=9", "usual a week=5")
    desk.says("add", "recipe", "Sole stuck back", "glue", "material=contact cement", "amount=6")
    desk.says("add", "recipe", "sole stuck back", "more", "material=CONTACT-CEMENT", "amount=1")
    rows = desk.facts("change", "recipe", "Sole stuck back")["rows"]
    assert [row["line"] for row in rows] == ["glue", "more"], "a line added by the job's name keeps the others"
    assert "post-count --opening" in desk.says("count", "contact cement=300 ml", "--post")
    assert desk.facts("post-count", "--opening")["materials"] == 1
    assert [row["on_hand"] for row in desk.facts("shelf")["rows"]] == ["300"]
    taken = desk.facts("take-in", "Sole stuck back", "--promised", "friday", now="2026-11-24T10:00")
    assert taken["promised"] == "2026-11-27", "the Friday after that Tuesday"
    assert desk("take-in", "Sole stuck back", "--promised", "someday").code == 2
    assert "glue" in desk.says("use", taken["ticket"], "GLUE")
    assert desk("post-count", "--opening", "--confirmed").code == 2
    assert desk.facts("check")["faults"] == []
