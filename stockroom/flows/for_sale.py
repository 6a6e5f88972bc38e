"""What is for sale over the counter, with what is there of it."""

from stockroom.stock.materials import Material, Purpose
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book


def goods(book: Book) -> list[tuple[Material, int]]:
    """List what is for sale, by family and name, with what is on hand."""
    with book.reading() as session:
        materials = catalogue.read_materials(session)
        on_hand = ledger.balances(session)
    sold = [m for m in materials if m.purpose is not Purpose.BENCH and m.active]
    return [(m, on_hand.get(m.code, 0)) for m in sorted(sold, key=lambda m: (m.family, m.name))]
