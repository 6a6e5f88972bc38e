"""Open, start and upgrade a book."""

from stockroom.stock.shop import Shop, with_setting
from stockroom.store import book as books
from stockroom.store import catalogue
from stockroom.store.book import Book, default_place, open_book, upgrade_book

__all__ = ["Book", "change_settings", "default_place", "new_book", "open_book", "settings", "upgrade_book"]


def new_book(place: str, shop: Shop | None = None) -> Book:
    """Start an empty book with the shop's settings."""
    book = books.new_book(place)
    with book.writing() as session:
        catalogue.save_shop(session, shop or Shop())
    return book


def settings(book: Book) -> Shop:
    """Read the shop's settings."""
    with book.reading() as session:
        return catalogue.read_shop(session)


def change_settings(book: Book, changes: dict[str, str]) -> Shop:
    """Change settings by name, all or none."""
    with book.writing() as session:
        shop = catalogue.read_shop(session)
        for name, text in changes.items():
            shop = with_setting(shop, name, text)
        catalogue.save_shop(session, shop)
    return shop
