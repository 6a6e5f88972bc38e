"""Orders on the pages: the desk, changed packs, placing, documents, receiving."""

import gzip
import re
from html import unescape
from typing import Any

import pytest
from flask import Flask

from stockroom.flows.bench.shelf import open_orders
from stockroom.flows.book.opening import change_settings
from stockroom.flows.loading import lists
from stockroom.web.background import Beside
from stockroom.web.pages.orders import COVER_DAYS
from stockroom.web.result_cache import look
from stockroom.web.site import Site
from tests.unit.web.conftest import NOON, Visitor, visitor
from tests.unit.web.test_tickets import there

CEMENT = {"line": "NORTH CEMENT N-CEMENT"}


@pytest.fixture
def worker() -> Beside:
    return Beside(threaded=False)


class Idle(Beside):
    """A worker that never gets to its work."""

    __slots__ = ("asked",)

    def start(self, name: str, _work: Any) -> bool:
        self.asked = [*getattr(self, "asked", []), name]
        return False


@pytest.fixture
def placed(owner: Visitor) -> Visitor:
    page = owner.does("/orders/place", packs="2", **CEMENT)
    assert "Order O-0001 is placed." in page
    return owner


def test_a_placed_order_can_be_copied_saved_and_printed(placed: Visitor) -> None:
    page = placed.reads("/orders/card?number=O-0001")
    assert "tin of 5 l" in page
    assert "data-copy" in page
    for form, begins in (
        ("text", b"Order O-0001"),
        ("csv", b"\xef\xbb\xbf"),
        ("xlsx", b"PK"),
        ("eml", b"To: orders@north.example"),
    ):
        answer = placed.get(f"/orders/document?number=O-0001&as={form}")
        assert answer.status_code == 200
        assert answer.data.startswith(begins) or form == "csv"
        assert "attachment" in answer.headers["Content-Disposition"]


def test_a_placed_order_is_a_link_to_an_email_and_a_print_page(placed: Visitor) -> None:
    page = unescape(placed.reads("/orders/card?number=O-0001"))
    assert 'href="mailto:orders@north.example?subject=Order%20O-0001' in page
    sheet = placed.reads("/orders/print?number=O-0001")
    for part in ("N-CEMENT", "tin of 5 l", "€95.00", "flammable"):
        assert part in sheet


def test_several_orders_are_placed_at_once_all_or_none_and_never_twice(owner: Visitor, site: Site) -> None:
    lines, key = ["NORTH CEMENT N-CEMENT", "NORTH TIP N-TIP"], "mine"
    owner.get("/")
    refused = owner.post("/orders/place", line=lines, packs=["0", "1"], key=key)
    assert refused.status_code == 400
    assert open_orders(site.book, NOON) == []
    for _ in range(2):
        owner.does("/orders/place", line=lines, packs=["2", "0"], key=key)
    assert [each.order.supplier for each in open_orders(site.book, NOON)] == ["NORTH"]


def test_all_that_was_ordered_has_come(placed: Visitor, site: Site) -> None:
    before = there(site, "CEMENT")
    assert "Order O-0001: closed." in placed.does("/orders/receive", number="O-0001")
    assert there(site, "CEMENT") - before == 10_000 * 10**9
    assert open_orders(site.book, NOON) == []


def test_agreed_carriage_is_entered_and_said_to_the_owner_and_money_never_to_the_bench(
    guarded: Flask,
) -> None:
    owner, bench = visitor(guarded, "owner"), visitor(guarded, "bench")
    for number, who in (("O-0001", owner), ("O-0002", bench)):
        owner.does("/orders/place", packs="2", **CEMENT)
        said = who.does("/orders/receive", number=number)
        assert f"Order {number}: closed." in said
        assert ("Carriage of €9.00 is entered as agreed." in said) == (who is owner)


def test_goods_without_an_order_need_a_unit(owner: Visitor) -> None:
    owner.get("/")
    line = {"material": "cork", "amount": "2", "cost": "23.00"}
    answer = owner.post("/orders/without", supplier="NORTH", reference="L 77", carriage="4", **line)
    assert (answer.status_code, "not an amount with a unit" in answer.text) == (400, True)


def test_a_part_came_with_its_lot_and_another_price(placed: Visitor, site: Site) -> None:
    before = there(site, "CEMENT")
    line = {
        "material": "CEMENT",
        "code": "N-CEMENT",
        "packs": "1",
        "amount": "",
        "cost": "45",
        "lot": "7",
        "expiry": "2027-01-01",
    }
    page = placed.does("/orders/receive", number="O-0001", part="1", carriage="3,50", **line)
    assert "part received" in page
    assert "charged €45.00, ordered at €43.00" in page
    assert there(site, "CEMENT") - before == 5_000 * 10**9


def test_a_part_without_any_line_is_asked_about(placed: Visitor) -> None:
    line = {"material": "CEMENT", "code": "N-CEMENT", "packs": "", "amount": "", "cost": "", "lot": "", "expiry": ""}
    assert placed.post("/orders/receive", number="O-0001", part="1", **line).status_code == 400


def test_rows_of_unequal_length_are_no_order(owner: Visitor) -> None:
    owner.get("/")
    rows = {"line": ["NORTH CEMENT N-CEMENT"], "packs": ["1", "2"]}
    assert owner.post("/orders/place", **rows).status_code == 400


def test_the_rest_will_not_come(placed: Visitor, site: Site) -> None:
    assert "What is outstanding above would not come any more." in placed.reads("/orders/card?number=O-0001")
    assert "Not coming any more: 10 l of Contact cement." in placed.does("/orders/end", number="O-0001")
    assert open_orders(site.book, NOON) == []


def test_goods_come_that_nobody_ordered(owner: Visitor, site: Site) -> None:
    before = there(site, "FILLER")
    owner.does(
        "/orders/without", supplier="NORTH", reference="L 77", carriage="4",
        material=["cork", ""], amount=["2 kg", ""], cost=["23.00", ""],
    )  # fmt: skip
    assert there(site, "FILLER") - before == 2000 * 10**9


def test_an_order_below_the_suppliers_least_is_refused(owner: Visitor) -> None:
    owner.get("/")
    answer = owner.post("/orders/place", line="NORTH FILLER N-FILLER", packs="1")
    assert answer.status_code == 400
    assert "takes no order under €30.00" in answer.text


def test_the_desk_shows_why_and_what_it_costs(owner: Visitor) -> None:
    for _ in range(3):
        owner.does("/tickets/finish-job", job="HEELS", **{"used:tips": "19 pairs"})
    owner.does("/tickets/take-in", job="HEELS")
    page = owner.reads("/orders/desk")
    assert "Suggested orders" in page
    assert "Worked out" in page


def test_changed_packs_change_cost_carriage_and_risk_at_once(owner: Visitor) -> None:
    for _ in range(3):
        owner.does("/tickets/finish-job", job="HEELS", **{"used:tips": "19 pairs"})
    owner.reads("/orders/desk")
    few = owner.post("/orders/desk/sums", packs="2", **CEMENT).get_json()
    many = owner.post("/orders/desk/sums", packs="6", **CEMENT).get_json()
    his, line = few["orders"]["NORTH"], few["lines"]["NORTH CEMENT N-CEMENT"]
    assert (his["goods"], his["carriage"], his["total"]) == ("€86.00", "€9.00", "€95.00")
    assert his["notes"].startswith("€114.00 more would make carriage free. ▲ Flammable stock: 3.5 l here")
    assert few["all"]["total"] == "€95.00"
    assert few["all"]["notes"].startswith("It is expected to cost ")
    assert "the suggested orders" in few["all"]["notes"]
    dear = many["orders"]["NORTH"]
    assert (dear["goods"], dear["carriage"]) == ("€234.00", "€0.00")  # the break at three packs, and free carriage
    assert list(few["lines"]) == ["NORTH CEMENT N-CEMENT"]
    assert line["chance"].endswith("%")
    least = owner.post("/orders/desk/sums", line="NORTH TIP N-TIP", packs="1").get_json()
    assert least["lines"]["NORTH TIP N-TIP"]["fault"] == "at least 2 packs"


def test_a_line_is_drawn_as_long_as_it_lasts(owner: Visitor) -> None:
    """What is there, then what is ordered, never beyond the picture; more packs never shorten it."""
    page = owner.post("/orders/desk", line=["NORTH CEMENT N-CEMENT", "NORTH TIP N-TIP"], packs=["2", "2"]).text
    drawn = re.findall(
        r'<rect width="(\d+)" height="8"/><rect class="ordered" data-cover x="(\d+)" width="(\d+)"', page
    )
    assert len(drawn) == len(re.findall(r'data-part="lasts"', page)) > 0
    for stock, start, ordered in (map(int, each) for each in drawn):
        assert stock == start
        assert 0 <= stock + ordered <= COVER_DAYS
    covers = [
        owner.post("/orders/desk/sums", line="NORTH TIP N-TIP", packs=packs).get_json()["lines"]["NORTH TIP N-TIP"][
            "cover"
        ]
        for packs in ("0", "2", "20", "900")
    ]
    assert covers == sorted(covers)


def test_what_was_changed_stays_on_the_desk_whatever_is_suggested(owner: Visitor) -> None:
    line, other = "NORTH CEMENT N-CEMENT", "NORTH TIP N-TIP"
    owner.get("/orders/desk")
    page = owner.post("/orders/desk", line=[line, other], packs=["7", "0"]).text
    assert re.search(r'value="NORTH CEMENT N-CEMENT"><input name="packs"[^>]* value="7"[^>]* data-own', page)
    assert "As changed: goods" in page
    assert owner.post("/orders/desk", line="NORTH CEMENT N-OTHER", packs="1").status_code == 400
    assert owner.post("/orders/desk", line="NORTH", packs="1").status_code == 400


def test_orders_within_so_much_cash(owner: Visitor, site: Site) -> None:
    owner.reads("/orders/desk?cash=150,00")
    seen = site.keeper.seen("orders within 150.00", NOON)
    assert seen.result is not None
    assert seen.result.problem.what_if.cash == 150.0
    assert 'name="cash" value="150,00"' in owner.reads("/orders/desk?cash=150,00")
    for wrong in ("much", "-5"):
        assert owner.get(f"/orders/desk?cash={wrong}").status_code == 400


def test_a_line_says_why_it_is_there(owner: Visitor) -> None:
    why = "/orders/desk/why?line=NORTH+CEMENT+N-CEMENT"
    page = owner.reads(why)
    assert "It is not suggested now." in page
    part = owner.reads(f"{why}&part=1&packs=3")
    assert "with 3 packs" in part
    assert "<html" not in part


def test_pages_are_packed_for_whoever_can_read_them_so(owner: Visitor) -> None:
    for address, begins in (("/", b"<!doctype html>"), ("/static/bench.css", b"/* The bench's look")):
        with owner.client.get(address, headers={"Accept-Encoding": "gzip"}) as packed:
            assert packed.headers["Content-Encoding"] == "gzip"
            assert gzip.decompress(packed.data).startswith(begins)
        with owner.client.get(address) as plain:
            assert plain.data.startswith(begins)


def test_more_on_the_way_never_raises_the_chance_of_running_out(site: Site, owner: Visitor) -> None:
    from stockroom.flows.ordering.place import OrderedPacks
    from stockroom.flows.ordering.preview import order_sum

    for n in range(6):
        owner.does(
            "/tickets/finish-job", job="HEELS", happened=f"2026-01-0{n % 2 + 5}T1{n}:00:00", **{"used:tips": "9 pairs"}
        )
    seen = look(site.keeper, NOON)
    assert seen.result is not None
    asked = [
        order_sum(seen.result.plan, "NORTH", [OrderedPacks(material="TIP", packs=n, supplier_code="N-TIP")])
        for n in (2, 3, 8)
    ]
    chances = [each.lines[0].chance for each in asked]
    assert None not in chances
    assert chances == sorted(chances, key=lambda chance: -(chance or 0.0))
    assert (chances[0] or 0.0) <= (asked[0].lines[0].without or 0.0)


def test_something_else_is_added_from_all_a_supplier_offers(owner: Visitor) -> None:
    page = owner.reads("/orders/desk/supplier?supplier=NORTH")
    assert page.count('name="packs"') == 9
    assert owner.get("/orders/desk/supplier?supplier=NOBODY").status_code == 400


def test_the_outlook_says_when_it_is_stale(owner: Visitor, site: Site) -> None:
    first = look(site.keeper, NOON)
    assert first.result is not None
    assert first.fresh
    site.keeper.beside = Idle()
    owner.does("/tickets/finish-job", job="HEELS")
    seen = look(site.keeper, NOON)
    assert not seen.fresh
    assert seen.behind == 1
    assert "1 document has been entered since." in owner.reads("/run-outs")
    assert set(site.keeper.beside.asked) == {"outlook"}


def test_a_changed_price_makes_the_outlook_stale_too(site: Site) -> None:
    from dataclasses import replace

    from stockroom.flows.book.opening import state
    from stockroom.store import catalogue
    from tests import build

    before = state(site.book, NOON)
    assert state(site.book, NOON) == before
    with site.book.writing() as session:
        catalogue.save_offers(session, [replace(o, price=o.price + 1) for o in build.offers()])
    assert state(site.book, NOON) != before


def test_an_outlook_that_fails_says_so(owner: Visitor, site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    from stockroom.errors import RefusedError

    def fail(*_: object, **__: object) -> None:
        raise RefusedError("The past is unclear.", fix="Load it again.")

    monkeypatch.setattr("stockroom.flows.ordering.plan.plan_order", fail)
    assert "The past is unclear. Load it again." in owner.reads("/run-outs")


def test_what_counts_taught_has_its_page(owner: Visitor) -> None:
    assert "The counts propose no change." in owner.reads("/usage")


def test_goods_say_that_tax_is_added_where_the_shop_bears_it(owner: Visitor, site: Site) -> None:
    hint = "the tax on it is added to the cost"
    assert hint not in owner.reads("/orders/without")
    change_settings(site.book, {"tax_registered": "no"})
    assert hint in owner.reads("/orders/without")


def test_margins_and_workbook_are_made_beside_the_pages(owner: Visitor) -> None:
    owner.does("/tickets/finish-job", job="HEELS")
    page = owner.reads("/margins?period=2026-01")
    assert "Heel tips" in page
    assert "€9.92" in page  # 12.00 with 21 % of tax in it
    row = re.search(r"Heel tips</th>(.*?)</tr>", page, re.DOTALL)
    assert row is not None
    income, materials, fee, post, margin = (
        int(text.replace(".", "")) for text in re.findall(r">€([\d.]+)<", row[1])[:5]
    )
    assert income - materials - fee - post == margin, "each thing subtracted stands in its column, as printed"
    assert "Download the workbook of Jan 2026" in owner.reads("/workbook?period=2026-01")
    assert owner.get("/workbook/file?period=2026-01").data.startswith(b"PK")
    assert owner.get("/margins?period=soon").status_code == 400


def test_events_ahead_stand_beside_what_runs_out(owner: Visitor, site: Site) -> None:
    event = {"name": "staff shoes", "day": "2026-02-10", "job": "HEELS", "jobs": "40"}
    lists.save(site.book, lists.LISTS["events"], [event], NOON)
    page = owner.reads("/run-outs")
    assert "Events ahead" in page
    assert re.search(r"<b>staff shoes</b>: 40 more: ", page)
