from collections.abc import Callable

import pytest

from stockroom.errors import DoubtError, RefusedError, UnknownError, UsageError
from stockroom.flows.bench import counter, offcuts
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.stock.postings import Stamp
from stockroom.store import ledger
from stockroom.store.book import Book
from tests import build


def test_a_sale_takes_the_tags_price_and_the_stock(open_shop: Book) -> None:
    sold = counter.sell(open_shop, "laces black", build.amount("3 pair"), build.stamp("2026-01-06"))
    assert (sold.material.code, sold.price, sold.left) == ("LACE-BLACK", 1050, build.nano("17 pair"))
    one = counter.sell(open_shop, "LACE-BLACK", build.amount("1 piece"), build.stamp("2026-01-06"))
    assert one.price == 175
    given = counter.sell(open_shop, "POLISH", build.amount("1 piece"), build.stamp("2026-01-06"), price=0)
    assert given.price == 0


def test_what_is_for_the_bench_is_not_sold(open_shop: Book) -> None:
    with pytest.raises(RefusedError) as caught:
        counter.sell(open_shop, "CEMENT", build.amount("1 l"), build.stamp("2026-01-06"))
    assert caught.value.what == "CEMENT is for the bench, not for sale."


def test_money_below_zero_is_refused(open_shop: Book) -> None:
    with pytest.raises(UsageError, match=r"^The amount paid can't be below zero\.$"):
        counter.sell(open_shop, "POLISH", build.amount("1 piece"), build.stamp("2026-01-06"), price=-1)


@pytest.mark.parametrize(
    ("kind", "move"),
    [
        (DocumentKind.WASTE, MoveKind.WASTE),
        (DocumentKind.EXPIRY, MoveKind.EXPIRY),
        (DocumentKind.OWN_USE, MoveKind.OWN_USE),
    ],
)
def test_what_is_written_off_leaves_under_its_own_name(open_shop: Book, kind: DocumentKind, move: MoveKind) -> None:
    done = counter.write_off(
        open_shop, "CEMENT", build.amount("430 g"), build.stamp("2026-01-06"), kind=kind, reason="set hard"
    )
    with open_shop.reading() as session:
        document = ledger.read_documents(session, numbers=[done.document])[0]
    assert (document.kind, document.content) == (kind, {"reason": "set hard"})
    assert [(m.kind, m.nano) for m in document.moves] == [(move, -build.nano("500 ml"))]


def test_the_shelf_may_go_below_zero(open_shop: Book) -> None:
    done = counter.write_off(open_shop, "FILLER", build.amount("5 kg"), build.stamp("2026-01-06", sure=True))
    assert done.left == -build.nano("2.6 kg")


def test_stock_moved_to_another_site_stays_the_shops(open_shop: Book) -> None:
    done = counter.transfer(open_shop, "TIP", build.amount("10 pair"), build.stamp("2026-01-06"), to_site="second")
    assert done.left == build.nano("50 pair"), "of this site: what the other has is of no help at the bench"
    with open_shop.reading() as session:
        assert ledger.balances(session, site="second") == {"TIP": build.nano("10 pair")}
        assert ledger.balances(session)["TIP"] == build.nano("60 pair")
    with pytest.raises(RefusedError, match=r"^Both sites are 'main'\.$"):
        counter.transfer(open_shop, "TIP", build.amount("1 pair"), build.stamp("2026-01-06"), to_site="main")


def test_goods_go_back_to_a_known_supplier_for_a_credit(open_shop: Book) -> None:
    done = counter.send_back(
        open_shop, "TIP", build.amount("1 pair"), build.stamp("2026-01-06"), supplier="north", credit=80
    )
    with open_shop.reading() as session:
        document = ledger.read_documents(session, numbers=[done.document])[0]
    assert (document.content, document.moves[0].value) == ({"supplier": "NORTH", "credit": 80}, -80_000)
    with pytest.raises(UnknownError, match=r"^No supplier fits 'nobody'\.$"):
        counter.send_back(
            open_shop, "TIP", build.amount("1 pair"), build.stamp("2026-01-06"), supplier="nobody", credit=1
        )


def test_an_offcut_joins_its_own_material(open_shop: Book) -> None:
    areas = (build.amount("6 dm2"), build.amount("5 dm2"))
    assert offcuts.keep_offcut(open_shop, "BEND", "OFFCUT", areas, build.stamp("2026-01-06")).moved.left == build.nano(
        "17 dm2"
    )


LEAVES: dict[str, Callable[[Book, Stamp], object]] = {
    "sold": lambda book, stamp: counter.sell(book, "POLISH", build.amount("19 piece"), stamp),
    "written off": lambda book, stamp: counter.write_off(book, "TIP", build.amount("61 pair"), stamp),
    "moved": lambda book, stamp: counter.transfer(book, "TIP", build.amount("61 pair"), stamp, to_site="second"),
    "sent back": lambda book, stamp: counter.send_back(
        book, "TIP", build.amount("61 pair"), stamp, supplier="north", credit=1
    ),
    "kept as an offcut": lambda book, stamp: offcuts.keep_offcut(
        book, "BEND", "OFFCUT", (build.amount("181 dm2"), build.amount("181 dm2")), stamp
    ),
}


@pytest.mark.parametrize("way", LEAVES)
def test_a_shelf_is_not_emptied_by_a_slip_of_the_pen(open_shop: Book, way: str) -> None:
    with open_shop.reading() as session:
        before = ledger.head(session)
    with pytest.raises(DoubtError, match=r" would leave, where the book has "):
        LEAVES[way](open_shop, build.stamp("2026-01-06", "K"))
    with open_shop.reading() as session:
        assert ledger.head(session) == before
    LEAVES[way](open_shop, build.stamp("2026-01-06", "K", sure=True))
    with open_shop.reading() as session:
        after = ledger.head(session)
        assert any(nano < 0 for nano in ledger.balances(session, site="main").values())
    LEAVES[way](open_shop, build.stamp("2026-01-06", "K"))  # entered already: nothing to be sure of
    with open_shop.reading() as session:
        assert ledger.head(session) == after


def test_the_very_last_piece_is_sold_without_a_question(open_shop: Book) -> None:
    assert counter.sell(open_shop, "POLISH", build.amount("18 piece"), build.stamp("2026-01-06")).left == 0
