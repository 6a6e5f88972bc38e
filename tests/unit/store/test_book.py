from stockroom.store import ledger
from stockroom.store.book import Book
from tests import build


def test_an_opened_shop_has_its_opening_stock(open_shop: Book) -> None:
    with open_shop.reading() as session:
        assert ledger.balances(session) == {code: build.nano(text) for code, text in build.OPENING.items()}
