"""A delivery note is entered once, whichever way it comes; all ways are tried after each other."""

from collections.abc import Callable
from itertools import permutations
from pathlib import Path

import pytest

from stockroom.errors import DoubtError, RefusedError
from stockroom.flows.loading.load import load_files
from stockroom.flows.ordering.place import OrderedPacks, place_order, receive_goods, receive_order
from stockroom.flows.posting.undo import undo
from stockroom.stock.moves import DocumentKind
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.store import ledger
from stockroom.store.book import Book
from tests import build

Way = Callable[[Book, Path, bool], object]


def _by_order(book: Book, _folder: Path, sure: bool) -> int:
    order = place_order(book, "NORTH", [OrderedPacks(material="THREAD", packs=2)], build.stamp("2026-01-06"))
    stamp = build.stamp("2026-01-12", sure=sure)
    return receive_order(book, order.number, [], stamp, reference=" dn-7").document


def _without(book: Book, _folder: Path, sure: bool) -> int:
    line = DeliveryLine(material="THREAD", amount=build.amount("500 m"), cost=1900)
    goods = Delivery(reference="DN-7", supplier="NORTH", received=build.at("2026-01-12"), lines=(line,))
    return receive_goods(book, goods, build.stamp("2026-01-12", sure=sure)).document


def _by_file(book: Book, folder: Path, _sure: bool) -> object:
    path = folder / "deliveries.csv"
    path.write_text(
        "reference,supplier,received,material,amount,unit,cost\nDN-7,NORTH,2026-01-12,THREAD,500,m,19.00\n", "utf-8"
    )
    return load_files(book, [path], build.at("2026-01-12"))


WAYS = (_by_order, _without, _by_file)


def _deliveries(book: Book) -> int:
    with book.reading() as session:
        return len(ledger.read_documents(session, kinds=[DocumentKind.DELIVERY]))


@pytest.mark.parametrize(("first", "second"), [*permutations(WAYS, 2), *((way, way) for way in WAYS)])
def test_a_note_entered_one_way_is_known_the_other(first: Way, second: Way, open_shop: Book, tmp_path: Path) -> None:
    first(open_shop, tmp_path, False)
    if second is _by_file:
        report = second(open_shop, tmp_path, False)
        assert first is _by_file or "was entered before (document" in report.notes[-1]  # type: ignore[attr-defined]
    else:
        with pytest.raises(DoubtError, match="is in the book already: document"):
            second(open_shop, tmp_path, False)
    assert _deliveries(open_shop) == 1
    if second is not _by_file:
        second(open_shop, tmp_path, True)
        assert _deliveries(open_shop) == 2, "said a second time"


def test_a_note_that_was_undone_may_come_again_but_not_twice(open_shop: Book, tmp_path: Path) -> None:
    first = _without(open_shop, tmp_path, False)
    back = undo(open_shop, first, build.stamp("2026-01-13")).number
    again = _by_order(open_shop, tmp_path, False)
    with pytest.raises(RefusedError, match=f"entered again by document {again}"):
        undo(open_shop, back, build.stamp("2026-01-14"))


def test_another_suppliers_note_of_the_same_number_is_another(open_shop: Book, tmp_path: Path) -> None:
    _without(open_shop, tmp_path, False)
    line = DeliveryLine(material="BEND", amount=build.amount("190 dm2"), cost=10660)
    goods = Delivery(reference="DN-7", supplier="TAN", received=build.at("2026-01-12"), lines=(line,))
    assert receive_goods(open_shop, goods, build.stamp("2026-01-12")).fresh
