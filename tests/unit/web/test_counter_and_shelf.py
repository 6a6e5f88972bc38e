"""The counter and the shelf on the pages."""

import re

import pytest

from stockroom.web.site import Site
from tests.unit.web.conftest import Visitor
from tests.unit.web.test_tickets import there


def test_a_sale_takes_one_tap(owner: Visitor, site: Site) -> None:
    before = there(site, "POLISH")
    page = owner.does("/counter/sell", material="POLISH", amount="1")
    assert "Sold: Shoe polish · €6.50" in page
    assert before - there(site, "POLISH") == 10**9


def test_another_price_is_taken(owner: Visitor) -> None:
    assert "€5.00" in owner.does("/counter/sell", material="POLISH", amount="1", price="5")


def test_only_what_is_for_sale_is_offered(owner: Visitor) -> None:
    page = owner.reads("/counter")
    assert "Shoe polish" in page
    assert "Heel tip" not in page


@pytest.mark.parametrize("kind", ["waste", "expiry", "own-use"])
def test_something_is_written_off(owner: Visitor, site: Site, kind: str) -> None:
    before = there(site, "FILLER")
    owner.does("/counter/write-off", material="FILLER", amount="50 g", kind=kind)
    assert before - there(site, "FILLER") == 50 * 10**9


def test_a_write_off_says_why(owner: Visitor) -> None:
    owner.get("/")
    assert owner.post("/counter/write-off", material="FILLER", amount="50 g", kind="magic").status_code == 400


def test_the_shelf_is_narrowed_by_what_is_typed(owner: Visitor) -> None:
    page = owner.reads("/shelf?q=laces+brown")
    assert "LACE-BROWN" in page
    assert "LACE-BLACK" not in page


def test_the_shelf_is_narrowed_by_what_else_people_call_a_thing(owner: Visitor) -> None:
    page = owner.reads("/shelf?q=glue")
    assert "Contact cement" in page
    assert "glue, neoprene" in page, "so that it is seen why it was found"
    assert "Shoe polish" not in page
    assert "glue, neoprene" in owner.reads("/shelf/material?code=CEMENT")


@pytest.mark.parametrize("scan", ["CEMENT", "http%3A%2F%2Fbench%3A8420%2Fshelf%2Fmaterial%3Fcode%3DCEMENT"])
def test_a_scanned_label_opens_its_material(owner: Visitor, scan: str) -> None:
    assert owner.get(f"/shelf?q={scan}").headers["Location"] == "/shelf/material?code=CEMENT"


def test_a_material_shows_its_past_offers_uses_and_cautions(owner: Visitor) -> None:
    owner.does("/tickets/finish-job", job="HEELS")
    page = owner.reads("/shelf/material?code=CEMENT")
    assert "North findings" in page
    assert "Full resole" in page
    assert "highly flammable" in page
    assert re.search(r"job use <a href=\"/tickets/card\?number=1001\">", page)
    assert 'role="img" aria-label="On hand in l"' in page
    assert "<figcaption>Contact cement" in page


def test_the_bench_sees_no_purchase_prices(guarded: object) -> None:
    from tests.unit.web.conftest import visitor

    bench = visitor(guarded, "bench")  # type: ignore[arg-type]
    assert "Offers" not in bench.reads("/shelf/material?code=CEMENT")


def test_labels_carry_name_unit_place_and_code(owner: Visitor) -> None:
    page = owner.reads("/labels?place=A3")
    assert page.count("<svg") == 1
    assert "Heel tip" in page
    assert "A3 · pair" in page
    assert owner.reads("/labels").count("<svg") == 11
    assert owner.reads("/labels?code=TIP&skip=5").count('<li aria-hidden="true">') == 5


def test_a_labels_code_is_the_material_or_its_page(owner: Visitor) -> None:
    """Written out again by segno itself: the same text gives the same picture."""
    from stockroom.web.pages.labels import picture

    assert str(picture("TIP")) in owner.reads("/labels?code=TIP")


def test_cautions_add_up_flammable_litres(owner: Visitor) -> None:
    assert "3.5 l of at most 50 l" in owner.reads("/hazards")


def test_more_than_there_is_is_asked_about_and_entered_when_it_is_meant(owner: Visitor, site: Site) -> None:
    before = there(site, "POLISH")
    owner.get("/counter")
    asked = owner.post("/counter/sell", material="POLISH", amount="100")
    assert asked.status_code == 409
    assert "100 pieces of POLISH would leave, where the book has 18 pieces." in asked.text
    assert 'action="/counter/sell"' in asked.text
    assert 'name="amount" value="100"' in asked.text
    assert there(site, "POLISH") == before
    owner.does("/counter/sell", material="POLISH", amount="100", sure="yes")
    assert before - there(site, "POLISH") == 100 * 10**9


def test_a_form_sent_again_with_another_amount_is_not_taken_for_the_first(owner: Visitor, site: Site) -> None:
    owner.does("/counter/sell", material="POLISH", amount="1", key="mine")
    before = there(site, "POLISH")
    refused = owner.post("/counter/sell", material="POLISH", amount="2", key="mine")
    assert refused.status_code == 400
    assert "The same key was used for another entry: document" in refused.text
    owner.does("/counter/sell", material="POLISH", amount="1", key="mine")
    assert there(site, "POLISH") == before


def test_a_shelf_price_changes_from_a_day_on(owner: Visitor) -> None:
    page = owner.does("/counter/shelf-price", material="POLISH", price="7.20", since="2027-01-04")
    assert "€7.20 from 4 Jan 2027" in page
    assert 'action="/counter/shelf-price"' in owner.reads("/shelf/material?code=POLISH")
    assert 'action="/counter/shelf-price"' not in owner.reads("/shelf/material?code=CEMENT"), "for the bench only"
