import pytest

from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.bench import counter
from stockroom.flows.posting import undo
from stockroom.store import ledger
from stockroom.store.book import Book
from tests import build


def test_undoing_restores_and_undoing_that_does_it_again(open_shop: Book) -> None:
    number = counter.write_off(open_shop, "TIP", build.amount("5 pair"), build.stamp("2026-01-06")).document
    back = undo.undo(open_shop, number, build.stamp("2026-01-07"))
    with open_shop.reading() as session:
        assert ledger.balances(session) == {code: build.nano(text) for code, text in build.OPENING.items()}
        assert ledger.balances(session, at=build.at("2026-01-06"))["TIP"] == build.nano("60 pair")
    again = undo.undo(open_shop, back.number, build.stamp("2026-01-08"))
    with open_shop.reading() as session:
        assert ledger.balances(session)["TIP"] == build.nano("55 pair")
    assert undo.newest(open_shop, 3)[-1][1] == back.number
    assert again.document.id == back.number


def test_what_was_taken_back_is_not_taken_back_twice(open_shop: Book) -> None:
    back = undo.undo(open_shop, 1, build.stamp("2026-01-07", "undo"))
    with pytest.raises(RefusedError) as caught:
        undo.undo(open_shop, 1, build.stamp("2026-01-08"))
    assert caught.value.what == f"Document 1 was undone already, by document {back.number}."
    assert caught.value.fix == f"To have it back, undo {back.number}."
    repeated = undo.undo(open_shop, 1, build.stamp("2026-01-08", "undo"))
    assert (repeated.number, repeated.fresh) == (back.number, False)


def test_a_document_that_is_not_there_is_named(open_shop: Book) -> None:
    with pytest.raises(UnknownError, match=r"^There is no document 99\.$"):
        undo.undo(open_shop, 99, build.stamp("2026-01-08"))
