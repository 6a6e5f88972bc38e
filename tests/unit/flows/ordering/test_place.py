from dataclasses import replace

import pytest

from stockroom.errors import AmbiguousError, RefusedError, UnknownError
from stockroom.flows.ordering import place as ordering
from stockroom.flows.ordering.place import OrderedPacks
from stockroom.flows.ordering.receive import Arrived
from stockroom.flows.posting import undo
from stockroom.stock.orders import Order, OrderState
from stockroom.stock.typed import measured
from stockroom.store import catalogue, ledger, orders
from stockroom.store.book import Book
from tests import build


def place(book: Book, supplier: str = "NORTH", **packs: int) -> str:
    asked = [OrderedPacks(material=code, packs=n) for code, n in packs.items()]
    return ordering.place_order(book, supplier, asked, build.stamp("2026-01-06")).number


def receive(
    book: Book, number: str, *arrived: Arrived, day: str = "2026-01-12", carriage: int | None = None
) -> ordering.Received:
    return ordering.receive_order(book, number, arrived, build.stamp(day), carriage=carriage)


def charged(book: Book, document: int) -> tuple[object, int]:
    """Give a delivery's carriage as its document has it, and what its goods were valued at, in minor units."""
    with book.reading() as session:
        found = ledger.read_documents(session, numbers=[document])[0]
    return found.content["carriage"], sum(m.value or 0 for m in found.moves) // 1000


def on_hand(book: Book, code: str) -> int:
    with book.reading() as session:
        return ledger.balances(session)[code]


def test_an_order_takes_the_prices_in_force_and_the_suppliers_terms(open_shop: Book) -> None:
    order = ordering.place_order(
        open_shop, "north", [OrderedPacks(material="CEMENT", packs=3)], build.stamp("2026-01-06")
    )
    assert (order.number, order.supplier, order.carriage) == ("O-0001", "NORTH", 900)
    assert [(line.packs, line.cost, line.pack_name) for line in order.lines] == [(3, 11700, "tin of 5 l")]
    free = ordering.place_order(
        open_shop, "north", [OrderedPacks(material="CEMENT", packs=6)], build.stamp("2026-01-06")
    )
    assert (free.number, free.carriage) == ("O-0002", 0)


def test_all_that_is_to_come_comes_at_once(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2, TIP=2)
    done = receive(open_shop, number)
    assert done.order is not None
    assert (done.order.state, done.price_differences) == (OrderState.CLOSED, ())
    assert on_hand(open_shop, "CEMENT") == build.nano("13.5 l")
    with open_shop.reading() as session:
        document = ledger.read_documents(session, numbers=[done.document])[0]
    assert [m.value for m in document.moves] == [8_998_969, 11_301_031]  # 86.00 and 108.00, and their shares of 9.00


def test_a_part_leaves_the_rest_on_order(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2, TIP=2)
    done = receive(open_shop, number, Arrived(material="cement", packs=1))
    assert done.order is not None
    assert done.order.state is OrderState.PART_RECEIVED
    assert [line.outstanding for line in done.order.lines] == [build.nano("5 l"), build.nano("288 piece")]
    rest = receive(open_shop, number)
    assert rest.order is not None
    assert rest.order.state is OrderState.CLOSED
    assert on_hand(open_shop, "CEMENT") == build.nano("13.5 l")


def test_a_part_by_amount_costs_its_share(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2)
    done = receive(open_shop, number, Arrived(material="CEMENT", amount=build.amount("2.5 l")))
    with open_shop.reading() as session:
        moves = ledger.read_documents(session, numbers=[done.document])[0].moves
    assert [(m.nano, m.value) for m in moves] == [(build.nano("2.5 l"), 2_150_000 + 900_000)]


def test_a_bend_measured_on_arrival_completes_its_order_and_costs_as_ordered(open_shop: Book) -> None:
    number = place(open_shop, "TAN", BEND=1)
    done = receive(open_shop, number, Arrived(material="BEND", amount=build.amount("183 dm2")))
    assert done.order is not None
    assert done.order.state is OrderState.CLOSED
    assert on_hand(open_shop, "BEND") == build.nano("363 dm2")
    with open_shop.reading() as session:
        assert ledger.read_documents(session, numbers=[done.document])[0].moves[0].value == 10_660_000


def test_a_price_that_differs_is_said(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2)
    done = receive(open_shop, number, Arrived(material="CEMENT", packs=2, cost=9000))
    assert len(done.price_differences) == 1
    assert done.price_differences[0].startswith("CEMENT: charged ")


def test_carriage_that_was_agreed_comes_with_the_first_goods_and_once(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2)
    first = receive(open_shop, number, Arrived(material="CEMENT", packs=1))
    assert (first.agreed_carriage, *charged(open_shop, first.document)) == (900, 900, 4300 + 900)
    rest = receive(open_shop, number)
    assert (rest.agreed_carriage, *charged(open_shop, rest.document)) == (0, 0, 4300)


@pytest.mark.parametrize("stated", [0, 350])
def test_carriage_that_is_stated_is_not_doubled_by_what_was_agreed(open_shop: Book, stated: int) -> None:
    number = place(open_shop, CEMENT=2)
    first = receive(open_shop, number, Arrived(material="CEMENT", packs=1), carriage=stated)
    assert (first.agreed_carriage, *charged(open_shop, first.document)) == (0, stated, 4300 + stated)
    rest = receive(open_shop, number)
    assert charged(open_shop, rest.document) == (0, 4300)


def test_goods_taken_in_again_after_an_undo_bring_the_agreed_carriage_again(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2)
    undo.undo(open_shop, receive(open_shop, number).document, build.stamp("2026-01-13"))
    again = receive(open_shop, number, day="2026-01-14")
    assert (again.agreed_carriage, *charged(open_shop, again.document)) == (900, 900, 8600 + 900)


def test_more_than_ordered_is_taken_and_said(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2)
    receive(open_shop, number, Arrived(material="CEMENT", packs=1))
    done = receive(open_shop, number, Arrived(material="CEMENT", packs=2))
    assert [each.replace("\N{NO-BREAK SPACE}", " ") for each in done.remarks] == ["CEMENT: 5 l more than ordered"]
    assert on_hand(open_shop, "CEMENT") == build.nano("18.5 l")


@pytest.mark.parametrize("slip", [Arrived(material="TIP", packs=144), Arrived(material="CEMENT", packs=7)])
def test_more_than_any_supplier_sends_is_refused(open_shop: Book, slip: Arrived) -> None:
    number = place(open_shop, CEMENT=2, TIP=2)
    before = on_hand(open_shop, slip.material)
    with pytest.raises(RefusedError, match=r"would have come, where .* were ordered\.$"):
        receive(open_shop, number, slip)
    assert on_hand(open_shop, slip.material) == before


def test_the_rest_of_a_sheet_is_not_taken_for_goods_still_to_come(open_shop: Book) -> None:
    with open_shop.writing() as session:
        catalogue.save_offers(session, [build.offer("TAN", "BEND", "60 dm2", 4000, supplier_code="T-CUT")])
    asked = [
        OrderedPacks(material="BEND", packs=2, supplier_code="T-CUT"),
        OrderedPacks(material="BEND", packs=1, supplier_code="T-BEND"),
    ]
    number = ordering.place_order(open_shop, "TAN", asked, build.stamp("2026-01-06")).number
    first = receive(open_shop, number, Arrived(material="BEND", amount=build.amount("58.5 dm2"), supplier_code="T-CUT"))
    assert [each.split(" outstanding")[0].replace("\N{NO-BREAK SPACE}", " ") for each in first.remarks] == [
        "BEND: 61.5 dm2"
    ]
    second = receive(open_shop, number)
    assert second.order is not None
    assert [line.outstanding for line in second.order.lines] == [build.nano("1.5 dm2"), 0]
    with pytest.raises(RefusedError, match=r"^What is outstanding is no whole pack: 1\.5.dm2 BEND\.$"):
        receive(open_shop, number)
    assert ordering.end_order(open_shop, number, build.stamp("2026-01-20")).state is OrderState.CLOSED


def test_several_packs_of_one_material_are_told_apart(open_shop: Book) -> None:
    with open_shop.writing() as session:
        catalogue.save_offers(session, [build.offer("NORTH", "CEMENT", "1 l", 1100, supplier_code="N-SMALL")])
    asked = [OrderedPacks(material="CEMENT", packs=1, supplier_code=code) for code in ("N-CEMENT", "N-SMALL")]
    order = ordering.place_order(open_shop, "NORTH", asked, build.stamp("2026-01-06"))
    with pytest.raises(AmbiguousError) as caught:
        receive(open_shop, order.number, Arrived(material="CEMENT", packs=1))
    assert caught.value.fix == "Say which: N-CEMENT, N-SMALL."
    done = receive(open_shop, order.number, Arrived(material="CEMENT", packs=1, supplier_code="N-SMALL"))
    assert done.order is not None
    assert [line.outstanding for line in done.order.lines] == [build.nano("5 l"), 0]
    assert on_hand(open_shop, "CEMENT") == build.nano("4.5 l")


def test_supplier_codes_left_empty_do_not_mix_lines_up(open_shop: Book) -> None:
    bare = [
        build.offer("TAN", code, pack, 5000, supplier_code="")
        for code, pack in (("FILLER", "2 kg"), ("THREAD", "100 m"))
    ]
    with open_shop.writing() as session:
        catalogue.save_offers(session, bare)
    number = place(open_shop, "TAN", FILLER=1, THREAD=1)
    done = receive(open_shop, number)
    assert done.order is not None
    assert [line.received for line in done.order.lines] == [build.nano("2 kg"), build.nano("100 m")]
    undo.undo(open_shop, done.document, build.stamp("2026-01-13"))
    [order] = orders_in(open_shop)
    assert ([line.received for line in order.lines], order.state) == ([0, 0], OrderState.PLACED)


def orders_in(book: Book) -> list[Order]:
    with book.reading() as session:
        return orders.read_orders(session, catalogue.dimensions(session))


@pytest.mark.parametrize(
    "arrived",
    [
        Arrived(material="CEMENT", packs=0),
        Arrived(material="CEMENT", packs=-1),
        Arrived(material="CEMENT", amount=build.amount("0 l")),
    ],
)
def test_nothing_does_not_arrive(open_shop: Book, arrived: Arrived) -> None:
    number = place(open_shop, CEMENT=2)
    with pytest.raises(RefusedError, match=r"^CEMENT: nothing arrived, or all had come\.$"):
        receive(open_shop, number, arrived)


def test_of_a_line_that_has_arrived_only_what_is_said_to_have_come_comes(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2, POLISH=1)
    receive(open_shop, number, Arrived(material="CEMENT", packs=2))
    with pytest.raises(RefusedError) as caught:
        receive(open_shop, number, Arrived(material="cement"))
    said, fix = (text.replace("\N{NO-BREAK SPACE}", " ") for text in (caught.value.what, caught.value.fix))
    assert said == f"All of CEMENT has arrived already: 10 l of order {number}."
    assert fix == "If more came, say how much. Outstanding: 6 pieces POLISH."
    more = receive(open_shop, number, Arrived(material="CEMENT", packs=1))
    assert [each.replace("\N{NO-BREAK SPACE}", " ") for each in more.remarks] == ["CEMENT: 5 l more than ordered"]


def test_a_hide_that_was_only_weighed_is_asked_for_its_size(open_shop: Book) -> None:
    bend = next(m for m in build.materials() if m.code == "BEND")
    with open_shop.writing() as session:
        catalogue.save_materials(session, [replace(bend, bridge=None)])
    number = place(open_shop, "TAN", BEND=1)
    with pytest.raises(RefusedError) as caught:
        receive(open_shop, number, Arrived(material="BEND", amount=build.amount("6.8 kg")))
    assert caught.value.what == "BEND is bought by weight and kept by its real size."
    assert caught.value.fix == "Give both, such as 'BEND=98 dm2/6800 g'."


def test_an_order_ends_closed_or_cancelled_and_its_end_can_be_undone(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2)
    assert ordering.end_order(open_shop, number, build.stamp("2026-01-20")).state is OrderState.CANCELLED
    undo.undo(open_shop, build.last(open_shop), build.stamp("2026-01-21"))
    receive(open_shop, number, Arrived(material="CEMENT", packs=1))
    assert ordering.end_order(open_shop, number, build.stamp("2026-01-22")).state is OrderState.CLOSED
    with pytest.raises(RefusedError, match=f"^Order {number} is closed\\.$"):
        receive(open_shop, number)


def test_a_delivery_undone_after_the_order_was_ended_leaves_it_ended(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2)
    done = receive(open_shop, number, Arrived(material="CEMENT", packs=1))
    ordering.end_order(open_shop, number, build.stamp("2026-01-22"))
    undo.undo(open_shop, done.document, build.stamp("2026-01-23"))
    assert [o.state for o in orders_in(open_shop)] == [OrderState.CANCELLED]


def test_an_order_whose_goods_came_is_not_undone(open_shop: Book) -> None:
    number = place(open_shop, CEMENT=2)
    document = build.last(open_shop)
    receive(open_shop, number)
    with pytest.raises(RefusedError) as caught:
        undo.undo(open_shop, document, build.stamp("2026-01-23"))
    assert caught.value.what == f"Goods of order {number} have arrived."


@pytest.mark.parametrize(
    ("supplier", "asked", "error", "what"),
    [
        ("TAN", [OrderedPacks(material="CEMENT", packs=1)], UnknownError, "Tannery by the ford does not offer CEMENT."),
        (
            "NORTH",
            [OrderedPacks(material="TIP", packs=1)],
            RefusedError,
            "TIP: 1 packs are fewer than the 2 that must be ordered.",
        ),
        ("NORTH", [], RefusedError, "The order has no lines."),
        ("NORTH", [OrderedPacks(material="CEMENT", packs=1)] * 2, RefusedError, "CEMENT is on the order twice."),
        ("SOUTH", [OrderedPacks(material="CEMENT", packs=1)], UnknownError, "No supplier fits 'SOUTH'."),
    ],
)
def test_an_order_that_can_not_be_is_refused(
    open_shop: Book, supplier: str, asked: list[OrderedPacks], error: type[Exception], what: str
) -> None:
    with pytest.raises(error) as caught:
        ordering.place_order(open_shop, supplier, asked, build.stamp("2026-01-06"))
    assert str(caught.value) == what
    assert orders_in(open_shop) == []


def test_an_order_under_the_minimum_is_refused(open_shop: Book) -> None:
    with pytest.raises(RefusedError, match=r"^North findings takes no order under .*30.*; this one comes to .*11"):
        place(open_shop, FILLER=1)


@pytest.mark.parametrize(
    ("typed", "cost", "area"),
    [
        ("183 dm2/6.2 kg", 6 * 1640 + 328, "183 dm2"),  # 6.2 kg at 16.40, and the area as measured
        ("6.2 kg", 6 * 1640 + 328, "179.8 dm2"),  # by the bridge, 29 dm2 a kilogram
        ("183 dm2", 10660, "183 dm2"),  # not weighed: the nominal 6.5 kg
    ],
)
def test_a_hide_bought_by_the_kilogram_costs_its_weight_over_its_real_area(
    open_shop: Book, typed: str, cost: int, area: str
) -> None:
    order = ordering.place_order(open_shop, "TAN", [OrderedPacks(material="BEND", packs=1)], build.stamp("2026-01-08"))
    came, weighed = measured(typed)
    line = Arrived(material="BEND", amount=came, weighed=weighed)
    done = ordering.receive_order(open_shop, order.number, [line], build.stamp("2026-01-20"))
    with open_shop.reading() as session:
        document = ledger.read_documents(session, numbers=[done.document])[0]
    assert [(m.nano, m.value) for m in document.moves] == [(build.nano(area), cost * 1000)]
    assert done.order is not None
    assert done.order.state is OrderState.CLOSED


def test_what_is_not_priced_by_weight_is_not_paid_by_it(open_shop: Book) -> None:
    order = ordering.place_order(
        open_shop, "NORTH", [OrderedPacks(material="CEMENT", packs=1)], build.stamp("2026-01-08")
    )
    line = Arrived(material="CEMENT", amount=build.amount("5 l"), weighed=build.amount("4.3 kg"))
    with pytest.raises(RefusedError, match=r"^CEMENT is not priced by what was weighed\.$"):
        ordering.receive_order(open_shop, order.number, [line], build.stamp("2026-01-20"))
