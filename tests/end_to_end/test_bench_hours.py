"""Slips of a stranger at the bench and the counter, typed and read once more: each says the way out."""

import pytest

from tests.end_to_end.shop import Indoors


@pytest.fixture
def desk(request: pytest.FixtureRequest) -> Indoors:
    """The small shop in a file: what is read here does not hang on the database."""
    given = request.getfixturevalue("copied")
    return Indoors(given("sqlite", request.getfixturevalue("small")))


def test_several_tickets_are_finished_at_once_or_none(desk: Indoors) -> None:
    for number in ("3001", "3002"):
        desk.says("take-in", "heel", "--number", number)
    refused = desk("finish", "3001", "2400")
    assert refused.code != 0
    assert "2400" in refused.err
    assert {each["ticket"] for each in desk.facts("tickets")} == {"3001", "3002"}, "none was finished"
    assert "of one ticket at a time" in desk("finish", "3001", "3002", "--price", "9").err
    assert "goes in quotes" in desk("finish", "heel", "tops").err
    said = desk.says("finish", "3001", "3002", "--once", "AB")
    assert said.count("finished: HEEL-L") == 2
    assert desk.says("finish", "3001", "3002", "--once", "AB").count("nothing changed") == 2
    assert desk.facts("tickets") == []


def test_a_sale_says_whose_goods_it_takes(desk: Indoors) -> None:
    there = int(desk.shelf("LACE-90-BLK")["on_hand"])
    desk.says("take-in", "heel", "--number", "3003", "--add", f"LACE-90-BLK={there} pair")
    assert "ticket" not in desk.says("sell", "POLISH-BLK")
    said = desk.says("sell", "LACE-90-BLK", "1")
    assert f"leaves {there - 1} pairs of LACE-90-BLK for ticket 3003, which needs {there} pairs" in said
    assert "3003" not in desk.says("sell", "LACE-90-BLK", "1"), "it was short already"
    desk.says("take-in", "heel", "--number", "3004", "--add", "ZIP-25=1 piece")
    zips = int(desk.shelf("ZIP-25")["on_hand"])
    facts = desk.facts("sell", f"ZIP-25={zips}", "POLISH-BLK=1")
    assert ["3004" in each for each in facts["remarks"]] == [True]
    assert "3003" not in desk.says("write-off", "LACE-90-BLK", "1")


def test_a_recount_posted_at_once_says_that_it_is_posted(desk: Indoors) -> None:
    desk("count", "ZIP-25=2", "--sheet", "A", "--post")
    said = desk.says("count", "ZIP-25=2", "--sheet", "A", "--post", "--accept", "ZIP-25")
    assert "(posted)" in said
    assert "count again" not in said


def test_the_only_open_sheet_is_posted_by_itself(desk: Indoors) -> None:
    assert "No count waits" in desk("post-count").err
    book = desk.shelf("LACE-90-BLK")["on_hand"]
    desk.says("count", f"LACE-90-BLK={book}", "--sheet", "A")
    assert desk.says("post-count").startswith("Document ")
    desk.says("count", f"LACE-90-BLK={book}", "--sheet", "B")
    desk.says("count", "POLISH-BLK=5", "--sheet", "C")
    refused = desk("post-count")
    assert "Several counts wait" in refused.err
    assert "'B', 'C'" in refused.err


def test_a_usual_cost_says_for_how_much_it_is(desk: Indoors) -> None:
    said = desk.says("change", "material", "CEMENT", "usual cost=0.03")
    assert "usual cost (per ml): 0.02 → 0.03" in said
    more = desk.says("change", "material", "CEMENT", "usual cost=25", "usual cost for=1000")
    assert "usual cost (per 1000 ml): 0.03 → 25" in more


def test_flammables_are_set_beside_the_limit_at_every_step(desk: Indoors) -> None:
    placed = desk.says("order", "HIDE", "CEMENT=2")
    assert "2 l to come" in placed
    assert "of at most 50 l. Local rules and the safety data sheet go first." in placed
    desk.says("settings", "flammable_limit_l=1")
    number = desk.facts("orders")[0]["order"]
    came = desk.says("receive", number)
    assert "2.2 l here and 0 l to come" in came
    assert "over the limit of 1 l you set" in came
    assert "Flammable" not in desk.says("order", "HIDE", "TOP-PIN=1")
    assert "air the room" in desk.says("take-in", "heel", "--number", "3005")
