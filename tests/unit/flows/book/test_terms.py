"""What suppliers charge in tax, and what of it a shop bears itself; carriage and credits that come later."""

from dataclasses import replace
from decimal import Decimal
from functools import partial

import numpy as np
import pytest

from stockroom.buying.lead_times import lead_time_quantiles
from stockroom.errors import StockroomError
from stockroom.flows.accounts.closing import close_period
from stockroom.flows.accounts.period import make_accounts
from stockroom.flows.bench import counter
from stockroom.flows.book.opening import change_settings
from stockroom.flows.book.snapshot import book_snapshot
from stockroom.flows.ordering.order_forms import order_form
from stockroom.flows.ordering.place import OrderedPacks, place_order, receive_goods, receive_order, to_pay
from stockroom.flows.outlook import problem
from stockroom.flows.outlook.delivery_days import delivery_days
from stockroom.flows.posting import undo
from stockroom.flows.posting.price_corrections import charge_later, correct_price
from stockroom.margins.accounts import Accounts
from stockroom.margins.period import period_named
from stockroom.show.formats import formats_of
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.stock.suppliers import unit_costs
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book
from tests import build

JAN, FEB = period_named("2026-01"), period_named("2026-02")


def receive(book: Book, *, rate: str = "", carriage: int = 0, carriage_rate: str = "", cost: int = 2000) -> int:
    line = DeliveryLine(material="SOLE-S", amount=build.amount("10 pair"), cost=cost, tax_rate=rate)
    goods = Delivery(
        reference=f"N-{cost}", supplier="NORTH", received=build.at("2026-01-12 10:00"), lines=(line,),
        carriage=carriage, carriage_tax_rate=carriage_rate,
    )  # fmt: skip
    return receive_goods(book, goods, build.stamp("2026-01-12 10:00")).document


def rates(book: Book, *, supplier: str = "", offer: str = "", material: str = "") -> None:
    with book.writing() as session:
        (north, *_) = (s for s in catalogue.read_suppliers(session) if s.code == "NORTH")
        catalogue.save_suppliers(session, [replace(north, tax_rate=supplier)])
        if offer:
            catalogue.save_offers(session, [build.offer("NORTH", "SOLE-S", "10 pair", 6200, tax_rate=offer)])
        sole = next(m for m in build.materials() if m.code == "SOLE-S")
        catalogue.save_materials(session, [replace(sole, tax_rate=material)])


def bought(book: Book) -> dict[str, tuple[int, int, Decimal]]:
    return {each.item: (each.net, each.tax, each.per_cent) for each in make_accounts(book, JAN).purchases}


def standing(book: Book, made: Accounts | None = None, code: str = "SOLE-S") -> int:
    made = made or make_accounts(book, JAN)
    return sum(
        layer.value
        for each in made.valued
        if each.material.code == code
        for layer in each.layers
        if layer.document != 1
    )


@pytest.mark.parametrize(
    ("typed", "offer", "supplier", "material", "wanted"),
    [
        ("5", "9", "0", "13.5", "5"),
        ("", "9", "0", "13.5", "9"),
        ("", "", "0", "13.5", "0"),
        ("", "", "", "13.5", "13.5"),
        ("", "", "", "", "21"),
        ("0", "9", "21", "13.5", "0"),
    ],
)
def test_rate_of_goods_is_typed_else_the_offers_else_the_suppliers_else_the_materials_else_the_shops(
    open_shop: Book, typed: str, offer: str, supplier: str, material: str, wanted: str
) -> None:
    rates(open_shop, supplier=supplier, offer=offer, material=material)
    receive(open_shop, rate=typed)
    net, tax, rate = bought(open_shop)["SOLE-S"]
    assert (net, rate) == (2000, Decimal(wanted))
    assert tax == Decimal(2000) * Decimal(wanted) / 100


@pytest.mark.parametrize(
    ("typed", "supplier", "wanted"), [("9", "0", "9"), ("", "0", "0"), ("0", "", "0"), ("", "", "21")]
)
def test_rate_of_carriage_is_typed_else_the_suppliers_else_the_shops(
    open_shop: Book, typed: str, supplier: str, wanted: str
) -> None:
    rates(open_shop, supplier=supplier, material="5")
    receive(open_shop, carriage=1000, carriage_rate=typed)
    assert bought(open_shop)["carriage"] == (1000, int(Decimal(wanted) * 10), Decimal(wanted))


def test_goods_of_a_shop_that_is_not_registered_stand_at_what_it_paid(open_shop: Book) -> None:
    """Ten pairs at 20.00 and 21 % stand at 24.20 (IAS 2.11: taxes that can't be recovered are a cost of purchase)."""
    change_settings(open_shop, {"tax_registered": "no"})
    receive(open_shop, carriage=500, carriage_rate="0")
    assert standing(open_shop) == 2_420_000 + 500_000
    made = make_accounts(open_shop, JAN)
    assert sum(each.cost for each in made.purchases) == 2920
    assert sum(roll.flows.get("purchases", (0, 0))[1] for roll in made.rolls) == 2_920_000
    assert "can't recover it" in dict(made.notes)["Cost"]


def test_corrected_price_credit_and_return_bear_their_tax_in_a_shop_that_is_not_registered(open_shop: Book) -> None:
    change_settings(open_shop, {"tax_registered": "no"})
    number = receive(open_shop, rate="10")
    correct_price(open_shop, number, {"SOLE-S": 3000}, build.stamp("2026-01-13"))
    assert standing(open_shop) == 3_300_000
    charge_later(open_shop, number, {"credit": 1000}, build.stamp("2026-01-14"), tax_rate="10")
    assert standing(open_shop) == 2_200_000
    half = build.amount("5 pair")
    counter.send_back(
        open_shop, "SOLE-S", half, build.stamp("2026-01-15"), supplier="NORTH", credit=1000, delivery=number
    )
    assert standing(open_shop) == 1_100_000
    differences = [
        r.flows["price differences"] for r in make_accounts(open_shop, JAN).rolls if "price differences" in r.flows
    ]
    assert not any(value for _, value in differences)


def test_carriage_invoiced_later_costs_what_carriage_on_the_delivery_would_have(open_shop: Book) -> None:
    number = receive(open_shop)
    counter.write_off(open_shop, "SOLE-S", build.amount("12 pair"), build.stamp("2026-01-13"))
    late = charge_later(open_shop, number, {"carriage": 700}, build.stamp("2026-01-20"))
    assert (late.what, late.amount, late.fresh) == ("carriage", 700, True)
    later = standing(open_shop)
    assert later == round(2_700_000 * 7 / 10)
    correct_price(open_shop, number, {"SOLE-S": 3000}, build.stamp("2026-01-21"))
    assert standing(open_shop) == round(3_700_000 * 7 / 10), "the carriage stays in a corrected price"
    undo.undo(open_shop, late.number, build.stamp("2026-01-22"))
    assert standing(open_shop) == round(3_000_000 * 7 / 10)
    assert bought(open_shop)["SOLE-S"][0] == 1000, "the correction's own line"


def test_carriage_invoiced_after_the_closing_is_parted_between_shelf_and_what_was_used(open_shop: Book) -> None:
    number = receive(open_shop)
    counter.write_off(open_shop, "SOLE-S", build.amount("14 pair"), build.stamp("2026-01-13"))
    closed = close_period(open_shop, JAN, build.stamp("2026-02-02"))
    charge_later(open_shop, number, {"carriage": 1000}, build.stamp("2026-02-03"))
    assert make_accounts(open_shop, JAN).closing == closed.value
    february = make_accounts(open_shop, FEB)
    flows = {name: flow[1] for roll in february.rolls for name, flow in roll.flows.items() if flow[1]}
    assert flows == {"purchases": 1_000_000, "waste": -500_000}
    assert [(each.item, each.net, each.day.month) for each in february.purchases] == [("carriage", 1000, 2)]


@pytest.mark.parametrize(("what", "amount"), [("carriage", 0), ("credit", -5), ("credit", 2001)])
def test_charge_that_makes_no_sense_is_refused(open_shop: Book, what: str, amount: int) -> None:
    number = receive(open_shop)
    with pytest.raises(StockroomError):
        charge_later(open_shop, number, {what: amount}, build.stamp("2026-01-14"))


def test_what_is_asked_of_the_basket_is_with_the_tax_that_is_borne(open_shop: Book) -> None:
    """Ten pairs at 62.00, carriage 9.00, free over 200.00: at 21 % 75.02, 10.89 and 242.00 for a shop that bears it."""
    rates(open_shop)
    registered = asked(open_shop)
    change_settings(open_shop, {"tax_registered": "no"})
    assert registered == (62.0, 9.0, 200.0)
    assert asked(open_shop) == pytest.approx((75.02, 10.89, 242.0))
    rates(open_shop, supplier="0")
    assert asked(open_shop) == pytest.approx((62.0, 9.0, 200.0))


def asked(book: Book) -> tuple[float, float, float | None]:
    with book.reading() as session:
        facts = book_snapshot(session, build.at("2026-01-20 10:00"))
        costs = unit_costs(facts.materials, facts.offers, partial(problem._borne, facts))
    (offer,) = (o for o in facts.offers if o.material == "SOLE-S")
    scale = 100 / float(problem._borne(facts, offer))
    made = problem._offer(offer, {"SOLE-S": 0}, {"NORTH": 0}, scale)
    north = next(s for s in facts.suppliers if s.code == "NORTH")
    belief = delivery_days(north, facts.orders, facts.deliveries, facts.closures, facts.day)
    terms = problem._supplier(facts, north, belief, lead_time_quantiles(2, np.random.default_rng(1)), 28)
    assert costs["SOLE-S"] == pytest.approx(made.price / 20 * 100)
    return made.price, terms.carriage, terms.free_over


@pytest.mark.parametrize("registered", [True, False])
def test_what_an_order_says_will_be_paid_is_what_receiving_it_costs(open_shop: Book, *, registered: bool) -> None:
    """Net as the supplier writes it, and with the tax where the shop bears it: on the forms, the list and the shelf."""
    with open_shop.writing() as session:
        catalogue.save_shop(session, replace(catalogue.read_shop(session), tax_registered=registered))
    asked = [OrderedPacks(material=code, packs=n) for code, n in (("CEMENT", 3), ("POLISH", 1))]
    order = place_order(open_shop, "NORTH", asked, build.stamp("2026-01-06"))
    net = sum(line.cost for line in order.lines) + order.carriage
    said = order_form(open_shop, order.number, "text")[1].decode()
    with open_shop.reading() as session:
        money = formats_of(catalogue.read_shop(session)).money
    assert f"Total before tax: {money(net)}" in said
    done = receive_order(open_shop, order.number, (), build.stamp("2026-01-12"))
    with open_shop.reading() as session:
        (document,) = ledger.read_documents(session, numbers=[done.document])
    cost = sum(move.value or 0 for move in document.moves) // 1000
    assert to_pay(open_shop, order) == (0 if registered else cost)
    assert (f"Total with tax: {money(cost)}" in said) is not registered
    assert cost == net if registered else cost > net


@pytest.mark.parametrize("typed", ["", "N-77"])
def test_purchases_name_the_delivery_note_and_never_the_mark_that_stands_in_for_it(open_shop: Book, typed: str) -> None:
    order = place_order(open_shop, "NORTH", [OrderedPacks(material="CEMENT", packs=1)], build.stamp("2026-01-06"))
    receive_order(open_shop, order.number, (), build.stamp("2026-01-12"), reference=typed)
    assert {each.reference for each in make_accounts(open_shop, JAN).purchases} == {typed}
