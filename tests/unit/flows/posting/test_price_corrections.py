import pytest

from stockroom.errors import RefusedError, StockroomError
from stockroom.flows.accounts.period import make_accounts
from stockroom.flows.bench import counter
from stockroom.flows.book.opening import change_settings
from stockroom.flows.ordering.place import receive_goods
from stockroom.flows.posting import undo
from stockroom.flows.posting.price_corrections import correct_price
from stockroom.margins.period import period_named
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.store.book import Book
from tests import build
from tests.unit.flows.january import deliver

JAN = period_named("2026-01")


def purchases(book: Book) -> int:
    rolls = make_accounts(book, JAN).rolls
    return sum(roll.flows.get("purchases", (0, 0))[1] for roll in rolls)


def test_corrections_follow_each_other_and_are_taken_back_newest_first(open_shop: Book) -> None:
    delivery = deliver(open_shop, "TIP", "40 pair", 4000, "2026-01-12", carriage=400)
    first = correct_price(open_shop, delivery, {"TIP": 4800}, build.stamp("2026-01-13"))
    assert first.changes == {"TIP": (4000, 4800)}
    second = correct_price(open_shop, delivery, {"TIP": 3900}, build.stamp("2026-01-14"))
    assert second.changes == {"TIP": (4800, 3900)}
    assert purchases(open_shop) == 4_300_000
    with pytest.raises(RefusedError, match="was corrected again later"):
        undo.undo(open_shop, first.number, build.stamp("2026-01-15"))
    with pytest.raises(RefusedError, match="prices of delivery"):
        undo.undo(open_shop, delivery, build.stamp("2026-01-15"))
    for number, worth in ((second.number, 5_200_000), (first.number, 4_400_000), (delivery, 0)):
        undo.undo(open_shop, number, build.stamp("2026-01-15"))
        assert purchases(open_shop) == worth


def test_correction_taken_back_is_entered_anew_not_revived(open_shop: Book) -> None:
    delivery = deliver(open_shop, "TIP", "40 pair", 4000, "2026-01-12")
    done = correct_price(open_shop, delivery, {"TIP": 4800}, build.stamp("2026-01-13"))
    back = undo.undo(open_shop, done.number, build.stamp("2026-01-14"))
    with pytest.raises(RefusedError, match="The undo of a price correction can't be undone"):
        undo.undo(open_shop, back.number, build.stamp("2026-01-15"))
    correct_price(open_shop, delivery, {"TIP": 4800}, build.stamp("2026-01-15"))
    assert purchases(open_shop) == 4_800_000


def test_same_key_twice_corrects_once(open_shop: Book) -> None:
    delivery = deliver(open_shop, "TIP", "40 pair", 4000, "2026-01-12")
    stamp = build.stamp("2026-01-13", "once")
    first, again = (correct_price(open_shop, delivery, {"TIP": 4800}, stamp) for _ in range(2))
    assert (first.number, first.fresh, again.number, again.fresh) == (first.number, True, first.number, False)
    assert purchases(open_shop) == 4_800_000


@pytest.mark.parametrize(
    ("number", "material", "cost", "what"),
    [
        (99, "TIP", 1, "There is no document 99."),
        (1, "TIP", 1, "Document 1 is no delivery: opening."),
        (3, "BEND", 1, "No material of the delivery fits 'BEND'."),
        (3, "TIP", -1, "The cost of goods can't be negative."),
        (3, "TIP", 4000, "Document 3 says so already."),
    ],
)
def test_what_can_not_be_corrected_is_refused(
    open_shop: Book, number: int, material: str, cost: int, what: str
) -> None:  # fmt: skip
    assert deliver(open_shop, "TIP", "40 pair", 4000, "2026-01-12") == 3
    with pytest.raises(StockroomError) as caught:
        correct_price(open_shop, number, {material: cost}, build.stamp("2026-01-13"))
    assert caught.value.what == what


def test_delivery_taken_back_has_no_price(open_shop: Book) -> None:
    delivery = deliver(open_shop, "TIP", "40 pair", 4000, "2026-01-12")
    undo.undo(open_shop, delivery, build.stamp("2026-01-13"))
    with pytest.raises(RefusedError, match=r"^Delivery 3 was undone\.$"):
        correct_price(open_shop, delivery, {"TIP": 1}, build.stamp("2026-01-13"))


@pytest.mark.parametrize(
    ("material", "supplier", "what"),
    [("BEND", "NORTH", "Delivery 3 brought no BEND."), ("TIP", "TAN", "Delivery 3 came from NORTH.")],
)
def test_return_names_a_delivery_that_fits(open_shop: Book, material: str, supplier: str, what: str) -> None:
    delivery = deliver(open_shop, "TIP", "40 pair", 4000, "2026-01-12")
    amount = build.materials()[0].unit.of(1) if material == "BEND" else build.amount("1 pair")
    with pytest.raises(RefusedError) as caught:
        counter.send_back(
            open_shop, material, amount, build.stamp("2026-01-13"), supplier=supplier, credit=1, delivery=delivery
        )
    assert caught.value.what == what


def test_return_leaves_the_layer_it_came_in(open_shop: Book) -> None:
    """The older layer (60 pairs at 90) stays whole; what is credited over or under the cost stands apart."""
    delivery = deliver(open_shop, "TIP", "40 pair", 4000, "2026-01-12")
    stamp = build.stamp("2026-01-13")
    counter.send_back(
        open_shop, "TIP", build.amount("40 pair"), stamp, supplier="NORTH", credit=4000, delivery=delivery
    )
    (tip,) = (v for v in make_accounts(open_shop, JAN).valued if v.material.code == "TIP")
    assert [(layer.nano, layer.value) for layer in tip.layers] == [(build.nano("60 pair"), 5_400_000)]


def test_carriage_is_spread_by_weight_where_the_shop_says_so(open_shop: Book) -> None:
    """Two kilos of filler and 4.3 kilos of cement (5 l at 860 g): 630 of carriage is 200 and 430."""
    change_settings(open_shop, {"carriage_by": "weight"})
    lines = tuple(
        DeliveryLine(material=code, amount=build.amount(amount), cost=1000)
        for code, amount in (("FILLER", "2 kg"), ("CEMENT", "5 l"))
    )
    goods = Delivery(reference="N1", supplier="NORTH", received=build.at("2026-01-12"), lines=lines, carriage=630)
    receive_goods(open_shop, goods, build.stamp("2026-01-12"))
    came = {e.move.material: e.value for e in make_accounts(open_shop, JAN).entries if e.move.value}
    assert came == {"FILLER": 1_200_000, "CEMENT": 1_430_000}
