"""Offcuts and what is lent out, on the pages."""

import re

from stockroom.flows.bench import lending, offcuts
from stockroom.flows.loading import lists
from stockroom.flows.ordering.place import OrderedPacks, place_order, receive_order
from stockroom.web.site import Site
from tests import build
from tests.unit.web.conftest import Visitor


def store(owner: Visitor, size: str) -> str:
    return owner.does("/offcuts/store", sheet="BEND", kept_as="OFFCUT", size=size, from_sheet="1")


def kept(site: Site) -> dict[int, str]:
    return {piece.number: str(piece.size or "odd") for piece in offcuts.offcuts(site.book)}


def test_an_offcut_is_stored_ticked_and_trimmed(owner: Visitor, site: Site) -> None:
    assert "Stored: write 1 on it." in store(owner, "60 x 40 cm")
    store(owner, "30 x 20 cm")
    store(owner, "3 dm2")
    page = owner.reads("/offcuts")
    assert all(text in page for text in ("60 × 40 cm", "30 × 20 cm", "odd shape"))
    owner.does("/offcuts/trim", number="1", left="40 x 40 cm", reason="a hole")
    assert kept(site)[1] == "40 × 40 cm"
    said = owner.does("/offcuts/count", material="OFFCUT", there="1")
    assert "1 offcut is there." in said
    assert "Written off as missing: 2, 3." in said
    owner.does("/offcuts/trim", number="1", left="", gone="1")
    assert kept(site) == {}


def test_a_ticket_offers_the_offcut_with_what_each_way_costs(owner: Visitor, site: Site) -> None:
    store(owner, "60 x 40 cm")
    owner.does("/tickets/take-in", job="RESOLE", size="EU 42", **{"choice:sole": "leather"})
    number = max(re.findall(r"number=(\d+)", owner.reads("/tickets")))
    page = owner.reads(f"/tickets/card?number={number}")
    assert "leather sole: cut from" in page
    assert re.search(r"offcut 1 \(60 × 40 cm\): €\d+\.\d\d", page)
    assert re.search(r"the sheet: €\d+\.\d\d", page)
    assert "Bought cut: €6.60" in page
    said = owner.does("/tickets/finish", number=number, **{"offcut:leather sole": "1", "left:leather sole": "none"})
    assert "Of offcut 1 stays: nothing." in said
    assert kept(site) == {}


def test_a_job_finished_at_once_may_be_cut_from_an_offcut(owner: Visitor, site: Site) -> None:
    store(owner, "60 x 40 cm")
    page = owner.reads("/jobs/card?job=RESOLE")
    assert "Cut from an offcut" in page
    assert "from the sheet" in page
    owner.does(
        "/tickets/finish-job",
        job="RESOLE",
        other_size="EU 40",
        **{"choice:sole": "leather", "offcut:": "1", "left:": ""},
    )
    assert kept(site)[1] != "60 × 40 cm"
    assert "Cut from an offcut" not in owner.reads("/jobs/card?job=HEELS")


def test_one_tap_asks_where_an_offcut_fits_and_enters_what_was_kept_without_a_connection(
    owner: Visitor, site: Site
) -> None:
    store(owner, "60 x 40 cm")
    fields = {"job": "RESOLE", "other_size": "EU 42", "choice:sole": "leather", "offcut:": ""}
    owner.reads("/jobs/card?job=RESOLE")
    asked = owner.post("/tickets/finish-job", **fields)
    assert asked.status_code == 409
    assert "can be cut from offcut 1 (60 × 40 cm): from the offcut €" in asked.text
    owner.does("/tickets/finish-job", **fields, sure="1")
    owner.does("/tickets/take-in", job="RESOLE", size="EU 42", **{"choice:sole": "leather"})
    number = max(re.findall(r"number=(\d+)", owner.reads("/tickets")))
    assert owner.post("/tickets/finish", number=number).status_code == 409
    owner.does("/tickets/finish", number=number, **{"offcut:leather sole": ""})
    later = owner.post("/tickets/finish-job", headers={"X-Stockroom-Queue": "later"}, **fields)
    assert later.status_code < 300, "whoever sent it is not there to be asked"
    assert kept(site) == {1: "60 × 40 cm"}


def test_what_is_lent_stands_on_today_once_it_is_overdue(owner: Visitor, site: Site) -> None:
    lending.lend(site.book, "TIP", build.amount("1 pair"), build.stamp("2026-01-05 18:00"), days=0)
    assert "overdue" in owner.reads("/")
    assert "Heel tip" in owner.reads("/lent")
    (loan,) = lending.loans(site.book)
    assert "Given back: Heel tip." in owner.does("/lent/back", document=str(loan[0].document), outcome="back")
    assert "Lent and not back" not in owner.reads("/")
    assert "Lent out: Heel tip." in owner.does("/lent/lend", material="TIP", amount="2 pair", days="7")
    (loan,) = lending.loans(site.book)
    said = owner.does("/lent/back", document=str(loan[0].document), outcome="lost", amount="1 pair")
    assert "Written off as lost: Heel tip." in said
    assert owner.post("/lent/back", document=str(loan[0].document)).status_code == 400


def test_the_outline_of_the_soles_is_given_on_the_page(owner: Visitor) -> None:
    assert "The usual outline is used." in owner.reads("/margins/cut-or-buy?material=BEND")
    owner.does("/margins/outline", size="285 x 105 mm", fill="65")
    page = owner.reads("/margins/cut-or-buy?material=BEND")
    assert "103 mm wide, 65% of that rectangle" in page
    assert "of a sheet ends in soles" in page
    owner.does("/margins/outline", usual="1")
    assert "The usual outline is used." in owner.reads("/margins/cut-or-buy?material=BEND")
    assert owner.post("/margins/outline", size="285").status_code == 400


def test_what_may_go_back_is_sent_back_by_one_button(owner: Visitor, site: Site) -> None:
    row = {"supplier": "NORTH", "material": "TIP", "supplier code": "T9", "pack": "2", "price": "3.00"}
    dated = row | {"valid from": "2026-01-01", "return weeks": "8"}
    lists.save(site.book, lists.LISTS["offers"], [dated], build.at("2026-01-04"))
    asked = [OrderedPacks(material="TIP", packs=12, supplier_code="T9")]
    order = place_order(site.book, "NORTH", asked, build.stamp("2026-01-05 09:00"))
    came = receive_order(site.book, order.number, [], build.stamp("2026-01-05 18:00"))
    assert "Send all back" in owner.reads("/documents/may-go-back")
    sent = owner.does("/documents/send-back", number=str(came.document), material="TIP", amount="", credit="")
    assert "Sent back: Heel tip." in sent
    assert "Nothing may go back." in owner.reads("/documents/may-go-back")
    assert owner.post("/documents/send-back", number=str(came.document), material="TIP").status_code == 400
