"""What an owner asks beside the suggested orders: a basket of his own, and how cautious to be."""

import re
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from stockroom.flows.book.opening import open_book
from stockroom.web.app import make_app
from stockroom.web.background import Beside
from stockroom.web.server import LOOPBACK, make_site
from tests.end_to_end.shop import Indoors, small_shop


@pytest.fixture
def desk(tmp_path: Path) -> Indoors:
    desk = Indoors(tmp_path / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(small_shop(tmp_path / "files")))
    return desk


def test_a_changed_basket_is_priced_beside_the_suggested_one(desk: Indoors, tmp_path: Path) -> None:
    lines = [line for each in desk.facts("reorder")["suppliers"] for line in each["lines"]]
    first = lines[0]
    by_code = desk.facts("reorder", "--edit", f"{first['supplier_code']}=0")
    assert desk.facts("reorder", "--edit", f"{first['material']}=0") == by_code
    changed = by_code["worth"]["changed"]
    assert float(changed["dearer"]) >= 0
    assert float(changed["risk"]) >= float(changed["risk_suggested"])
    told = desk.says("reorder", "--edit", f"{first['material']}=0")
    assert told.startswith("Orders as changed")
    assert "all in all" in told
    file = tmp_path / "mine.csv"
    file.write_text(
        "Code,Their code,Packs\n" + "".join(f"{x['material']},{x['supplier_code']},{x['packs']}\n" for x in lines)
    )
    same = desk.facts("reorder", "--edit", str(file))["worth"]["changed"]
    assert float(same["dearer"]) == 0


def test_of_one_material_more_fewer_and_none_are_priced_as_a_changed_basket_is(desk: Indoors) -> None:
    (line, *_) = (line for each in desk.facts("reorder")["suppliers"] for line in each["lines"])
    (told,) = desk.facts("reorder", "--why", line["material"])["materials"]
    assert told["suggested"][0]["reason"] == line["reason"]
    assert 0 in [each["packs"] for each in told["instead"]]
    for each in told["instead"]:
        changed = desk.facts("reorder", "--edit", f"{line['material']}={each['packs']}")["worth"]["changed"]
        assert each["dearer"] == changed["dearer"]
    assert float(told["instead"][0]["dearer"]) >= 0, "the suggestion is the best there is"
    assert desk.facts("reorder", "--why", line["supplier_code"])["materials"] == [told]  # as his invoice calls it
    said = desk.says("reorder", "--why", line["name"])
    assert said.startswith(f"{line['name']} ({line['material']})\n  On hand ")
    assert "None would cost" in said


def test_of_a_material_that_is_not_suggested_is_said_what_buying_it_now_would_cost(desk: Indoors) -> None:
    suggested = {line["material"] for each in desk.facts("reorder")["suppliers"] for line in each["lines"]}
    other = next(each["material"] for each in desk.facts("shelf")["rows"] if each["material"] not in suggested)
    said = desk.says("reorder", "--why", other)
    assert "It is not suggested now." in said
    assert "in all." in said or "No supplier offers it." in said


def test_the_short_list_says_what_the_long_one_reasons(desk: Indoors) -> None:
    short, long = desk.says("reorder"), desk.says("reorder", "--why")
    assert "Ordered only on" in long
    assert "Ordered only on" not in short
    assert len(short.splitlines()) < 0.7 * len(long.splitlines())
    for line in (line for each in desk.facts("reorder")["suppliers"] for line in each["lines"]):
        assert line["warning"].split(" (")[0] in " ".join(short.split())
        assert not line["cautions"] or line["name"] in short.partition("With hazards: ")[2]


def test_a_limit_is_filled_with_the_most_urgent_first_at_the_command_line_and_the_page(desk: Indoors) -> None:
    free = desk.facts("reorder")
    whole = sum(float(each["total"]) for each in free["suppliers"])
    limit = f"{whole * 0.6:.2f}"
    told = desk.facts("reorder", "--cash", limit, "--most-urgent-first")
    urgent = {(x["material"], x["packs"]) for each in told["suppliers"] for x in each["lines"]}
    assert 0 < sum(float(each["total"]) for each in told["suppliers"]) <= float(limit)
    assert float(told["worth"]["changed"]["dearer"]) >= 0, "the suggestion is the best there is"
    assert desk.says("reorder", "--cash", limit, "--most-urgent-first").startswith("The most urgent first")
    assert desk.says("reorder", "--most-urgent-first").startswith("No limit is in the way: as suggested")

    book = open_book(str(desk.place))
    site = make_site(book, LOOPBACK, Beside(threaded=False))
    client = make_app(replace(site, now=lambda: datetime.fromisoformat(desk.now))).test_client()
    page = client.get(f"/orders/desk?cash={limit}").text
    book.close()
    assert "Two ways to fill the limit" in page
    form = page[page.index("the most urgent first</th>") :]
    lines, packs = (re.findall(rf'name="{name}" value="([^"]*)"', form) for name in ("line", "packs"))
    shown = {(line.split(" ")[1], int(count)) for line, count in zip(lines, packs, strict=True) if count != "0"}
    assert shown == urgent


def test_what_is_no_basket_is_refused_with_what_to_do(desk: Indoors, tmp_path: Path) -> None:
    bad = tmp_path / "bad.csv"
    bad.write_text("Material,Count\nX,1\n")
    assert "has no column 'Code', 'Packs'" in desk("reorder", "--edit", str(bad)).err
    bad.write_text("Code,Packs\nTOP-PIN,2.5\n")
    assert "Row 2: '2.5' is no number of packs." in desk("reorder", "--edit", str(bad)).err
    assert "'TOP-PIN=x' is not a line." in desk("reorder", "--edit", "TOP-PIN=x").err
    assert "can't be changed further" in desk("reorder", "--edit", str(bad), "--edit", "TOP-PIN=1").err


def test_stock_against_delays_shows_where_the_shop_stands(desk: Indoors) -> None:
    found = desk.facts("stock-or-delays")
    assert 1.0 in [each["times"] for each in found["points"]]
    delayed = [each["delayed_jobs"] for each in found["points"]]
    assert delayed[0] > delayed[-1] >= 0
    assert "> 1 x" in desk.says("stock-or-delays")


def test_what_a_delayed_job_costs_follows_from_what_the_owner_knows(desk: Indoors) -> None:
    found = desk.facts("stock-or-delays", "--leave", "2.5", "--worth", "60")
    assert found["cost_of_delayed_job"] == "15.00"
    assert found["words"].endswith("stockroom settings cost_of_delayed_job=15.00")
    assert "Of ten customers, 0 to 10 can leave." in desk("stock-or-delays", "--leave", "11", "--worth", "60").err
    assert "go together" in desk("stock-or-delays", "--leave", "2").err


def test_the_year_ahead_is_told_by_month_and_drawn(desk: Indoors, tmp_path: Path) -> None:
    drawn = tmp_path / "year.png"
    told = desk.says("year-ahead", "--chart", str(drawn))
    assert "Goods and carriage by the month they come in" in told
    assert "in eight futures of ten between" in " ".join(told.split())
    assert drawn.read_bytes().startswith(b"\x89PNG")
