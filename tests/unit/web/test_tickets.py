"""Tickets on the pages: taken in, finished in three taps, changed, taken back, never doubled."""

import re

import pytest
from flask import Flask

from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.bench.tickets import booked
from stockroom.stock.quantities import quantity
from stockroom.web.site import Site
from tests.unit.web.conftest import Visitor, visitor


def there(site: Site, code: str) -> int:
    return next(row.on_hand for row in shelf_rows(site.book) if row.material == code)


def test_a_ticket_is_taken_in_and_finished(owner: Visitor, site: Site) -> None:
    card = owner.does(
        "/tickets/take-in", job="RESOLE", size="EU 42", **{"choice:sole": "leather"}, promised="2026-01-09"
    )
    assert "Ticket 1001 is taken in." in card
    assert "Full resole" in card
    before = there(site, "BEND")
    listed = owner.does("/tickets/finish", number="1001")
    assert "Ticket 1001 is finished" in listed
    assert before - there(site, "BEND") == quantity("10 dm2").nano
    assert booked(site.book) == []


def test_a_usual_job_takes_three_taps(owner: Visitor) -> None:
    first = re.search(r'href="(/jobs/card\?job=HEELS&amp;to=finish)"', owner.reads("/"))
    assert first is not None  # one: the job, on the first page
    card = owner.reads(first[1].replace("&amp;", "&"))
    chosen = re.findall(r'name="(choice:[^"]+)" value="([^"]+)" checked', card)
    assert chosen == [("choice:hold", "glued")]  # what is usual is chosen: no tap; a size would be the second
    assert "Ticket 1001 is finished" in owner.does("/tickets/finish-job", job="HEELS", **dict(chosen))  # the third


def test_a_booked_ticket_takes_one_tap_on_the_first_page(owner: Visitor) -> None:
    owner.does("/tickets/take-in", job="HEELS")
    assert 'name="number" value="1001"' in owner.reads("/")


def test_sizes_asked_for_lately_are_offered_in_order(owner: Visitor) -> None:
    for size in ("EU 42", "EU 38"):
        owner.does("/tickets/finish-job", job="RESOLE", size=size)
    card = owner.reads("/jobs/card?job=RESOLE&to=finish")
    assert re.findall(r'name="size" value="([^"]+)"', card) == ["EU 38", "EU 42"]


def test_another_size_goes_before_the_offered_ones(owner: Visitor) -> None:
    assert "UK 8.5" in owner.does("/tickets/take-in", job="RESOLE", size="EU 42", other_size="uk 8.5")


def test_really_used_amounts_and_another_material_are_drawn(owner: Visitor, site: Site) -> None:
    owner.does("/tickets/take-in", job="RESOLE", size="EU 42", **{"choice:sole": "leather"})
    bend, offcut, filler = (there(site, code) for code in ("BEND", "OFFCUT", "FILLER"))
    owner.does(
        "/tickets/finish", number="1001", **{"used:filler": "40 g", "instead:leather sole": "OFFCUT", "used:cement": ""}
    )
    assert there(site, "BEND") == bend
    assert offcut - there(site, "OFFCUT") == quantity("10 dm2").nano
    assert filler - there(site, "FILLER") == quantity("40 g").nano


def test_a_finish_is_taken_back_on_the_spot(owner: Visitor, site: Site) -> None:
    before = there(site, "TIP")
    page = owner.does("/tickets/finish-job", job="HEELS")
    document = re.search(r'name="document" value="(\d+)"', page)
    assert document is not None
    assert there(site, "TIP") < before
    back = owner.does("/documents/undo", document=document[1], then="/")
    assert there(site, "TIP") == before
    again = re.search(r'name="document" value="(\d+)"', back)
    assert again is not None  # and a mistaken undo is itself taken back
    owner.does("/documents/undo", document=again[1], then="/")
    assert there(site, "TIP") < before


def test_the_same_form_twice_draws_once(owner: Visitor, site: Site) -> None:
    before = there(site, "TIP")
    for _ in range(3):
        owner.does("/tickets/finish-job", job="HEELS", key="the same")
    assert before - there(site, "TIP") == quantity("1 pair").nano


def test_a_form_without_a_mark_is_refused(owner: Visitor) -> None:
    owner.get("/")
    assert owner.post("/tickets/finish-job", job="HEELS", key="").status_code == 400


def test_an_entry_kept_on_a_phone_happened_when_it_was_made(owner: Visitor, site: Site) -> None:
    owner.does("/tickets/take-in", job="HEELS")
    owner.does("/tickets/finish", number="1001", happened="2026-01-06T11:30:00")
    assert "11:30" in owner.reads("/tickets/card?number=1001")


def test_a_phone_whose_clock_runs_ahead_enters_now(owner: Visitor) -> None:
    owner.does("/tickets/finish-job", job="HEELS", happened="2031-01-01T00:00:00")
    assert "6 Jan 2026 12:00" in owner.reads("/tickets/card?number=1001")


def test_going_below_zero_is_said_at_once(owner: Visitor) -> None:
    page = owner.does("/tickets/finish-job", job="HEELS", **{"used:tips": "100 pairs"})
    assert "below zero" in page
    assert "below zero" in owner.reads("/").casefold()


def test_a_cancelled_ticket_is_free(owner: Visitor, site: Site) -> None:
    owner.does("/tickets/take-in", job="HEELS")
    assert "is cancelled" in owner.does("/tickets/cancel", number="1001")
    assert booked(site.book) == []


def test_work_is_done_again_under_guarantee(owner: Visitor, site: Site) -> None:
    owner.does("/tickets/finish-job", job="HEELS")
    before = there(site, "TIP")
    owner.does("/tickets/redo", number="1001")
    assert there(site, "TIP") < before


@pytest.mark.parametrize("wanted", ["1001", "heel", "HEELS"])
def test_tickets_are_found_by_what_they_say(owner: Visitor, wanted: str) -> None:
    owner.does("/tickets/take-in", job="HEELS")
    owner.does("/tickets/take-in", job="RESOLE", size="EU 42")
    page = owner.reads(f"/tickets?q={wanted}")
    assert "1001" in page
    assert "1002" not in page


def test_a_finished_ticket_is_found_by_its_number(owner: Visitor) -> None:
    owner.does("/tickets/finish-job", job="HEELS")
    assert "finished" in owner.reads("/tickets?q=1001")


def test_what_is_wrong_is_said_with_what_to_do(owner: Visitor) -> None:
    owner.get("/")
    answer = owner.post("/tickets/finish-job", job="RESOLE")
    assert answer.status_code == 400
    assert "Full resole needs the shoe size." in answer.text


def test_one_shoe_draws_half(owner: Visitor, site: Site) -> None:
    before = there(site, "TIP")
    owner.does("/tickets/finish-job", job="HEELS", shoes="1")
    assert before - there(site, "TIP") == quantity("1 piece").nano


def test_a_price_may_carry_the_currencys_sign(owner: Visitor) -> None:
    assert "€9.50" in owner.does("/tickets/take-in", job="HEELS", price="€9,50")


def test_the_last_documents_are_listed_and_taken_back(owner: Visitor, site: Site) -> None:
    before = there(site, "TIP")
    owner.does("/tickets/finish-job", job="HEELS", note="rush")
    page = owner.reads("/documents")
    assert "finish 1001" in page
    assert "rush" in page
    document = re.search(r'name="document" value="(\d+)"', page)
    assert document is not None
    assert f"undone by {int(document[1]) + 1}" in owner.does("/documents/undo", document=document[1])
    assert there(site, "TIP") == before


def test_the_bench_takes_back_only_what_is_done_there(guarded: Flask, site: Site) -> None:
    bench, owner = visitor(guarded, "bench"), visitor(guarded, "owner")
    bench.does("/tickets/finish-job", job="HEELS")
    owner.does("/orders/place", line="NORTH CEMENT N-CEMENT", packs="2")
    finished, placed = 3, 4
    assert bench.post("/documents/undo", document=str(placed)).status_code == 400
    assert bench.post("/documents/undo", document=str(finished)).status_code == 303
    assert bench.post("/documents/undo", document="99").status_code == 400


def test_a_job_says_what_each_number_of_shoes_is_charged(owner: Visitor) -> None:
    page = owner.reads("/jobs/card?job=HEELS")
    charged = re.findall(r'name="shoes" value="(\d)"[^>]*><span>([^<]+)</span>', page)
    prices = {int(shoes): float(said.rpartition("€")[2]) for shoes, said in charged}
    assert prices[4] == 2 * prices[2]
    for shoes, price in prices.items():
        said = owner.does("/tickets/take-in", job="HEELS", shoes=str(shoes))
        number = re.findall(r"Ticket (\d+) is taken in", said)[-1]
        assert f"€{price:.2f}" in owner.reads(f"/tickets/card?number={number}")
