"""Tax rates by date, account numbers and sites at the pages: each change a document that is undone at a touch."""

import re
from decimal import Decimal

from stockroom.flows.accounts.closing import account_numbers, dated_tax_rates
from stockroom.flows.book.opening import settings, sites
from stockroom.store.catalogue import read_jobs, read_materials
from stockroom.web.site import Site
from tests.unit.web.conftest import Visitor


def _undoes(owner: Visitor, page: str) -> None:
    owner.does("/documents/undo", document=re.findall(r'name="document" value="(\d+)"', page)[-1], then="/")


def test_a_tax_rate_holds_from_a_day_on_and_can_be_undone(owner: Visitor, site: Site) -> None:
    page = owner.does("/tax-and-accounts/rate", day="2026-03-01", rate="13,5", item="LACES")
    assert [(each.per_cent, each.item) for each in dated_tax_rates(site.book)] == [(Decimal("13.5"), "LACES")]
    _undoes(owner, page)
    assert dated_tax_rates(site.book) == ()
    for wrong in ({"day": "", "rate": "20"}, {"day": "2026-03-01", "rate": "much"}, {"day": "2026-03-01", "rate": "9", "item": "NONE"}):  # fmt: skip
        assert owner.post("/tax-and-accounts/rate", **wrong).status_code == 400
    assert dated_tax_rates(site.book) == ()


def test_account_numbers_are_given_and_taken_back(owner: Visitor, site: Site) -> None:
    page = owner.does("/tax-and-accounts/numbers", **{"number:stock": "1200", "number:rounding": ""})
    assert account_numbers(site.book)["stock"] == "1200"
    _undoes(owner, page)
    assert account_numbers(site.book)["stock"] == ""
    assert owner.post("/tax-and-accounts/numbers", **{"number:nothing": "1"}).status_code == 400


def test_a_site_is_opened(owner: Visitor, site: Site) -> None:
    page = owner.does("/tax-and-accounts/site", site="stall")
    assert sites(site.book) == ["main", "stall"]
    assert "stall" in page
    assert owner.post("/tax-and-accounts/site", site="Stall").status_code == 400


def test_what_is_wrong_is_said_as_the_field_is_left_and_stays_beside_it_when_saved(owner: Visitor, site: Site) -> None:
    wrong = {"day": "", "rate": "much", "item": "nothing"}
    assert set(owner.post("/tax-and-accounts/check", **wrong).get_json()["faults"]) == {"day", "rate", "item"}
    answer = owner.post("/tax-and-accounts/rate", **wrong)
    assert answer.status_code == 400
    assert re.search(r'data-fault="rate"[^>]*>[^<]+<', answer.text)
    assert 'value="much"' in answer.text
    assert owner.post("/tax-and-accounts/check", day="2026-03-01", rate="9", item="").get_json()["faults"] == {}
    assert list(owner.post("/tax-and-accounts/check", site="main ").get_json()["faults"]) == []
    assert list(owner.post("/tax-and-accounts/check", site="Main").get_json()["faults"]) == ["site"]
    number = {"number:stock": "1" * 41, "number:rounding": "12"}
    assert list(owner.post("/tax-and-accounts/check", **number).get_json()["faults"]) == ["number:stock"]
    assert dated_tax_rates(site.book) == ()


def test_a_rate_is_for_a_job_or_material_by_its_name_too(owner: Visitor, site: Site) -> None:
    owner.does("/tax-and-accounts/rate", day="2026-03-01", rate="9", item=_name(site))
    assert [each.item for each in dated_tax_rates(site.book)] == ["LACES"]


def _name(site: Site) -> str:
    with site.book.reading() as session:
        names = {m.code: m.name for m in read_materials(session)} | {j.code: j.name for j in read_jobs(session)}
    return names["LACES"].upper()


def test_settings_say_what_is_wrong_beside_the_field_and_change_nothing(owner: Visitor, site: Site) -> None:
    wrong = {"set:tax_rate": "much", "set:name": "Another"}
    assert list(owner.post("/settings/check", **wrong).get_json()["faults"]) == ["set:tax_rate"]
    answer = owner.post("/settings", **wrong)
    assert answer.status_code == 400
    assert re.search(r'data-fault="set:tax_rate"[^>]*>[^<]+<', answer.text)
    assert 'value="much"' in answer.text
    assert settings(site.book).name != "Another"
