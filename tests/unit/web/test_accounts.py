"""Tax rates by date, account numbers and sites at the pages: each change a document that is undone at a touch."""

import re
from decimal import Decimal

from stockroom.flows.accounts.closing import account_numbers, dated_tax_rates
from stockroom.flows.book.opening import sites
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
    page = owner.does("/tax-and-accounts/site", name="stall")
    assert sites(site.book) == ["main", "stall"]
    assert "stall" in page
    assert owner.post("/tax-and-accounts/site", name="Stall").status_code == 400
