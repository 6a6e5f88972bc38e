"""Several things in one sale, customers' returns, receipts, and parcels."""

from dataclasses import replace
from fractions import Fraction

import pytest

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench import counter, parcels, receipts, sales
from stockroom.flows.bench import tickets as bench
from stockroom.flows.bench.sales import Item, SaleWanted
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.posting import undo
from stockroom.stock.layers import replay
from stockroom.stock.postage import Postage
from stockroom.stock.recipes import Extra, Job
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book
from tests import build

BLACK, BROWN = (Item(material=f"LACE-{c}", amount=build.amount("2 pair")) for c in ("BLACK", "BROWN"))


def sell(book: Book, *items: Item, **facts: object) -> sales.Sold:
    return sales.sell_together(book, SaleWanted(items=items, **facts), build.stamp("2026-01-06"))  # type: ignore[arg-type]


def test_a_discount_is_spread_to_the_last_coin(open_shop: Book) -> None:
    three = Item(material="POLISH", amount=build.amount("1 piece"))
    done = sell(open_shop, BLACK, BROWN, three, percent=Fraction(10))
    assert done.total == 700 + 700 + 650 - 205
    assert sorted(part.price or 0 for part in done.parts) == [585, 630, 630]
    receipt = receipts.make_receipt(open_shop, done.document)
    assert (receipt.total, receipt.discount) == (1845, 205)
    assert sum(net + tax for _, net, tax in receipt.taxes) == 1845


def test_what_was_paid_in_all_is_spread_by_price(open_shop: Book) -> None:
    assert [part.price for part in sell(open_shop, BLACK, BROWN, paid=999).parts] == [500, 499]


@pytest.mark.parametrize(
    ("facts", "what"),
    [({"discount": 1401}, "discount"), ({"discount": -1}, "discount"), ({"paid": -1}, "below zero")],
)
def test_money_that_can_not_be_is_refused(open_shop: Book, facts: dict[str, int], what: str) -> None:
    with pytest.raises(UsageError, match=what):
        sell(open_shop, BLACK, BROWN, **facts)


def test_what_comes_back_is_never_more_than_was_sold_and_comes_at_its_price(open_shop: Book) -> None:
    sale = sell(open_shop, BLACK, BROWN, percent=Fraction(50))
    one = build.amount("1 pair")
    back = sales.customer_return(open_shop, "LACE-BLACK", one, build.stamp("2026-01-07"), of=sale.document)
    assert (back.total, back.left["LACE-BLACK"]) == (-175, build.nano("19 pair"))
    named = {document.id: document.called for document, _ in undo.newest(open_shop, 9)}
    assert [named[each.document] for each in (sale, back)] == ["counter sale", "customer's return"]
    spoilt = sales.customer_return(
        open_shop, "LACE-BLACK", one, build.stamp("2026-01-07"), of=sale.document, wasted=True
    )
    assert spoilt.left["LACE-BLACK"] == build.nano("19 pair")
    with pytest.raises(RefusedError, match="sold less"):
        sales.customer_return(open_shop, "LACE-BLACK", one, build.stamp("2026-01-08"), of=sale.document)
    with pytest.raises(RefusedError, match="sold no POLISH"):
        sales.customer_return(open_shop, "POLISH", build.amount("1 piece"), build.stamp("2026-01-08"), of=sale.document)
    with pytest.raises(RefusedError, match="were brought back"):
        undo.undo(open_shop, sale.document, build.stamp("2026-01-08"))
    for document in (spoilt.document, back.document, sale.document):
        undo.undo(open_shop, document, build.stamp("2026-01-08"))


@pytest.mark.parametrize("method", ["fifo", "average"])
def test_stock_brought_back_costs_what_it_had_cost(open_shop: Book, method: str) -> None:
    sale = sell(open_shop, BLACK)
    sales.customer_return(open_shop, "LACE-BLACK", build.amount("2 pair"), build.stamp("2026-01-07"), of=sale.document)
    with open_shop.reading() as session:
        costing = replay(ledger.read_documents(session), {m.code: m for m in build.materials()}, method=method)
    mine = [entry for entry in costing.entries if entry.move.material == "LACE-BLACK" and entry.document > 1]
    assert sum(entry.value for entry in mine) == 0
    assert any(entry.value for entry in mine)


def test_a_receipt_is_of_what_was_paid_and_holds(open_shop: Book) -> None:
    done = bench.finish_at_once(open_shop, Wanted(job="HEELS"), build.stamp("2026-01-06"))
    assert receipts.make_receipt(open_shop, done.document).total == 1200
    wasted = counter.write_off(open_shop, "TIP", build.amount("1 pair"), build.stamp("2026-01-06"))
    with pytest.raises(RefusedError, match="is no sale"):
        receipts.make_receipt(open_shop, wasted.document)
    undo.undo(open_shop, done.document, build.stamp("2026-01-07"))
    with pytest.raises(RefusedError, match="was undone"):
        receipts.make_receipt(open_shop, done.document)


def test_a_parcel_waits_until_it_is_sent_and_holds_its_work(open_shop: Book) -> None:
    parcels.keep_postage(
        open_shop, Postage(code="BIG", name="Big box", cost=825, packaging={"TIP": build.amount("1 pair")})
    )
    big = parcels.the_postage(open_shop, "big")
    packing = tuple(Extra(material=code, amount=much) for code, much in big.packaging.items())
    done = bench.finish_at_once(
        open_shop, Wanted(job="LACES", chosen={"colour": "black"}, by_post=True), build.stamp("2026-01-06")
    )
    sale = sell(open_shop, BLACK, by_post=True, post_cost=420)
    waiting = parcels.parcels(open_shop, build.at("2026-01-07"))
    assert [(each.name, each.post_cost) for each in waiting] == [
        (done.ticket.number, None),
        (f"sale {sale.document}", 420),
    ]
    sent = parcels.send(open_shop, done.ticket.number, build.stamp("2026-01-07"), post_cost=big.cost, packaging=packing)
    with pytest.raises(RefusedError, match="was sent"):
        undo.undo(open_shop, done.document, build.stamp("2026-01-08"))
    with pytest.raises(RefusedError, match="No parcel"):
        parcels.send(open_shop, done.ticket.number, build.stamp("2026-01-08"))
    undo.undo(open_shop, sent.document, build.stamp("2026-01-08"))
    undo.undo(open_shop, done.document, build.stamp("2026-01-08"))


def test_a_part_kept_costs_nothing(open_shop: Book) -> None:
    kept = counter.keep_part(open_shop, "TIP", build.amount("1 pair"), build.stamp("2026-01-06"))
    with open_shop.reading() as session:
        document = ledger.read_documents(session, numbers=[kept.document])[0]
    assert [(move.nano, move.value) for move in document.moves] == [(build.nano("1 pair"), 0)]


def test_a_shelf_price_holds_from_its_day_on(open_shop: Book) -> None:
    for day, price in (("2026-01-10", 400), ("2026-01-20", 500)):
        counter.shelf_price(open_shop, "LACE-BLACK", price, build.at(day).date())
    pair = build.amount("1 pair")
    sold = [
        counter.sell(open_shop, "LACE-BLACK", pair, build.stamp(day)).price
        for day in ("2026-01-20", "2026-01-19", "2026-01-09")
    ]
    assert sold == [500, 400, 350]
    assert sell(open_shop, BLACK).total == 700  # of the sixth
    (black,) = [m for m, _ in counter.goods(open_shop, build.at("2026-02-01").date()) if m.code == "LACE-BLACK"]
    assert black.sell_price == 500


def test_a_receipt_of_several_pairs_says_how_many(open_shop: Book) -> None:
    with open_shop.writing() as session:
        catalogue.save_jobs(session, [Job(code="PATCH", name="Patch", price=900)])
    said = []
    for shoes in (4, 2):
        number = bench.take_in(open_shop, Wanted(job="PATCH", shoes=shoes), build.stamp("2026-01-06")).number
        document = bench.finish_ticket(open_shop, number, build.stamp("2026-01-07")).document
        made = receipts.make_receipt(open_shop, document)
        (line,) = made.lines
        said.append((made.total, line.nano))
    assert said == [(1800, build.nano("2 pair")), (900, None)]


def test_several_times_the_shelf_price_is_remarked(open_shop: Book) -> None:
    """7.00 is asked for two pairs: 700 typed for it is said, a round sum on top of it is not."""
    amount = build.amount("2 pair")
    for price, said in ((70000, 1), (2800, 1), (2799, 0), (700, 0), (0, 0)):
        done = counter.sell(open_shop, "LACE-BLACK", amount, build.stamp("2026-01-06", f"one {price}"), price=price)
        assert sum("shelf price" in remark for remark in done.remarks) == said, price
    item = replace(BLACK, price=70000)
    assert "shelf price comes to" in sell(open_shop, item, BROWN).remarks[0]
    back = sales.customer_return(open_shop, "LACE-BLACK", amount, build.stamp("2026-01-06"), refund=70000)
    assert back.remarks == ()
