"""Open and start a book, and its settings."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.show.locale_facts import facts_of
from stockroom.stock.shop import Shop, with_settings
from stockroom.store import book as books
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book, default_place, open_book, shown

__all__ = ["Book", "Shop", "change_settings", "changed", "default_place", "new_book", "open_book", "settings", "shown"]


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


def change_settings(book: Book, changes: Mapping[str, str]) -> Shop:
    """Change settings by name, all or none."""
    with book.writing() as session:
        shop = changed(catalogue.read_shop(session), changes)
        catalogue.save_shop(session, shop)
    return shop


def changed(shop: Shop, changes: Mapping[str, str]) -> Shop:
    """Change settings by name; refused are a locale or currency no figure can be written in, models unknown."""
    shop = with_settings(shop, changes)
    if shop.forecast_models and "forecast_models" in changes:
        _check_models(shop.forecast_models)
    if "locale" in changes:
        facts_of(shop.locale)
    if "currency" in changes and not _is_currency(shop.currency):
        raise UsageError(
            phrase("'%(currency)s' is not a currency.", currency=shop.currency),
            fix="Use its three letters, such as EUR.",
        )
    return shop


def _check_models(names: str) -> None:
    from stockroom.demand.models import named_models  # noqa: PLC0415 -- only where models are chosen

    named_models(names)


def _is_currency(code: str) -> bool:
    from babel.numbers import is_currency  # noqa: PLC0415 -- only where a currency is chosen

    return bool(is_currency(code))


_SLACK = timedelta(minutes=5)  # between the clocks of two machines


def set_back(book: Book, now: datetime) -> datetime | None:
    """Give when the last document was entered, if that is still to come by this clock."""
    with book.reading() as session:
        newest = ledger.newest_documents(session, 1)
    return newest[0].entered if newest and newest[0].entered > now + _SLACK else None
