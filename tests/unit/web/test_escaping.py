"""Script in every text field: kept as typed, shown as text, run by nobody."""

from dataclasses import replace

import pytest

from stockroom.store import catalogue
from stockroom.web.background import Beside
from stockroom.web.site import Site
from tests import build
from tests.unit.web.conftest import Visitor

EVIL = "<script>alert('x')</script>\"'><img src=x onerror=alert(1)>"
ADDRESSES = (
    "/", "/tickets", "/jobs", "/jobs/card?job=HEELS", "/jobs/card?job=RESOLE&to=take-in", "/counter", "/shelf",
    "/shelf/material?code=LACE-BLACK", "/run-outs?all=1", "/orders", "/orders/desk", "/orders/without",
    "/orders/desk/supplier?supplier=NORTH", "/count", "/usage", "/hazards", "/labels", "/settings", "/more", "/saved",
)  # fmt: skip


@pytest.fixture
def worker() -> Beside:
    return Beside(threaded=False)


@pytest.fixture
def evil(site: Site, owner: Visitor) -> Visitor:
    with site.book.writing() as session:
        marked = [replace(m, name=EVIL, note=EVIL, place=EVIL, colour=EVIL) for m in build.materials()]
        catalogue.save_materials(session, marked)
        catalogue.save_jobs(session, [replace(job, name=EVIL) for job in build.jobs()])
        renamed = [replace(s, name=EVIL, note=EVIL, email=EVIL) for s in build.suppliers()]
        catalogue.save_suppliers(session, renamed)
        catalogue.save_offers(session, [replace(o, pack_name=EVIL) for o in build.offers()])
        catalogue.save_shop(session, replace(catalogue.read_shop(session), name=EVIL))
    return owner


def harmless(page: str) -> bool:
    return "<script>alert" not in page and "<img src=x" not in page


@pytest.mark.parametrize("address", ADDRESSES)
def test_names_and_notes_from_files_are_shown_as_text(evil: Visitor, address: str) -> None:
    page = evil.reads(address)
    assert harmless(page)
    assert "&lt;script&gt;" in page


def test_what_is_typed_at_the_bench_is_shown_as_text(owner: Visitor) -> None:
    page = owner.does("/tickets/take-in", job="HEELS", note=EVIL)
    assert harmless(page)
    assert "&lt;script&gt;" in page


@pytest.mark.parametrize(
    ("address", "fields"),
    [
        ("/tickets/take-in", {"job": EVIL}),
        ("/tickets/take-in", {"job": "RESOLE", "size": EVIL}),
        ("/tickets/take-in", {"job": "HEELS", f"choice:{EVIL}": EVIL}),
        ("/tickets/take-in", {"job": "HEELS", "promised": EVIL}),
        ("/tickets/take-in", {"job": "HEELS", "price": EVIL}),
        ("/tickets/finish", {"number": EVIL}),
        ("/tickets/finish-job", {"job": "HEELS", f"used:{EVIL}": "3 g"}),
        ("/counter/sell", {"material": EVIL}),
        ("/counter/sell", {"material": "POLISH", "amount": EVIL}),
        ("/orders/place", {"line": f"NORTH {EVIL}", "packs": "1"}),
        ("/orders/receive", {"number": EVIL}),
        ("/count/bin", {"material": "FILLER", "aid": EVIL, "sheet": EVIL, "answer:amount": EVIL}),
        ("/settings", {"set:locale": EVIL}),
        ("/settings/passcode", {"role": EVIL, "passcode": EVIL}),
        ("/documents/undo", {"document": EVIL}),
    ],
)
def test_a_refusal_repeats_what_was_typed_as_text(owner: Visitor, address: str, fields: dict[str, str]) -> None:
    answer = owner.post(address, **fields)
    assert answer.status_code == 400
    assert harmless(answer.text)


@pytest.mark.parametrize(
    "address",
    [
        "/tickets?q=",
        "/shelf?q=",
        "/shelf/material?code=",
        "/orders/card?number=",
        "/tickets/card?number=",
        "/count/sheet?sheet=",
        "/count/place?place=",
        "/jobs/card?job=",
    ],
)
def test_what_is_asked_for_comes_back_as_text(owner: Visitor, address: str) -> None:
    assert harmless(owner.client.get(address + EVIL.replace("#", "")).text)


def test_a_written_off_reason_and_a_delivery_note_are_text(owner: Visitor) -> None:
    assert harmless(owner.does("/counter/write-off", material="FILLER", amount="10 g", kind="waste", reason=EVIL))
    received = owner.does(
        "/orders/without", supplier="NORTH", reference=EVIL, material="FILLER", amount="1 kg", cost="11.50", carriage=""
    )
    assert harmless(received)
