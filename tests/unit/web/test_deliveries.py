"""What a delivery's invoice says later: corrected prices, carriage, a credit."""

import pytest
from flask import Flask

from stockroom.flows.ordering.place import receive_goods
from stockroom.flows.posting.price_corrections import correct_price, delivery_card
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.web.site import Site
from tests import build
from tests.unit.web.conftest import Visitor, visitor


@pytest.fixture
def delivered(site: Site) -> int:
    lines = tuple(
        DeliveryLine(material=code, amount=build.amount(amount), cost=cost)
        for code, amount, cost in (("CEMENT", "5 l", 4300), ("SOLE-S", "10 pair", 6200))
    )
    goods = Delivery(reference="N-1", supplier="NORTH", received=build.at("2026-01-06 09:00"), lines=lines)
    return receive_goods(site.book, goods, build.stamp("2026-01-06 09:00")).document


def test_the_owner_corrects_a_price_by_the_invoice_and_what_is_blank_stays(
    owner: Visitor, site: Site, delivered: int
) -> None:
    assert f"/documents/delivery?number={delivered}" in owner.reads("/documents")
    assert "€43.00" in owner.reads(f"/documents/delivery?number={delivered}")
    fields = {"material": ["CEMENT", "SOLE-S"], "cost": ["51,50", ""]}
    page = owner.does("/documents/correct-price", number=str(delivered), **fields)
    assert "CEMENT: €51.50 instead of €43.00." in page
    assert "€113.50" in page, "goods together"
    assert delivery_card(site.book, delivered).goods == {"CEMENT": 5150, "SOLE-S": 6200}


def test_carriage_and_a_credit_that_are_invoiced_later_are_entered_against_it(
    owner: Visitor, site: Site, delivered: int
) -> None:
    form = {"number": str(delivered), "tax_rate": ""}
    assert "Carriage of €9.00 is entered." in owner.does("/documents/charge-later", what="carriage", amount="9", **form)
    page = owner.does("/documents/charge-later", what="credit", amount="4.50", **form)
    assert "Credit note of €4.50 is entered." in page
    assert "Carriage, invoiced later" in page
    assert delivery_card(site.book, delivered).charges == (("carriage", 900), ("credit", -450))


@pytest.mark.parametrize(
    ("address", "fields", "says"),
    [
        ("correct-price", {"material": "CEMENT", "cost": ""}, "No price was typed."),
        ("correct-price", {"material": "TIP", "cost": "5"}, "material of the delivery"),
        ("charge-later", {"what": "carriage", "amount": "0"}, "Nothing is charged or credited"),
        ("charge-later", {"what": "gift", "amount": "5"}, "Say what was invoiced."),
        ("charge-later", {"what": "credit", "amount": "200"}, "The credit is more than the goods cost."),
        ("charge-later", {"what": "carriage", "amount": "5", "tax_rate": "much"}, "is not a tax rate"),
    ],
)
def test_what_can_not_be_is_refused_and_changes_nothing(
    owner: Visitor, site: Site, delivered: int, address: str, fields: dict[str, str], says: str
) -> None:
    before = delivery_card(site.book, delivered)
    answer = owner.post(f"/documents/{address}", number=str(delivered), **fields)
    assert answer.status_code in {400, 404, 409, 422}
    assert says in answer.text
    assert delivery_card(site.book, delivered) == before


@pytest.mark.parametrize("role", ["bench", "accountant"])
def test_only_the_owner_sees_and_corrects_what_was_paid(guarded: Flask, site: Site, delivered: int, role: str) -> None:
    other = visitor(guarded, role)
    assert other.get(f"/documents/delivery?number={delivered}").status_code == 403
    for address in ("correct-price", "charge-later"):
        answer = other.post(f"/documents/{address}", number=str(delivered), material="CEMENT", cost="1", amount="1")
        assert answer.status_code == 403
    assert delivery_card(site.book, delivered).goods["CEMENT"] == 4300


def test_a_price_corrected_at_the_command_line_is_what_the_page_shows(
    owner: Visitor, site: Site, delivered: int
) -> None:
    correct_price(site.book, delivered, {"CEMENT": 5000}, build.stamp("2026-01-06 10:00"))
    assert "€50.00" in owner.reads(f"/documents/delivery?number={delivered}")


def test_what_is_no_delivery_has_no_such_page(owner: Visitor) -> None:
    assert owner.get("/documents/delivery?number=1").status_code in {400, 404, 409}
