"""Fill a new book with the starter shop."""

from datetime import datetime

from stockroom.flows.book.snapshot import facts_for_files
from stockroom.flows.loading.load import enter_lists
from stockroom.intake.load import read_rows
from stockroom.intake.starter import starter_rows
from stockroom.store import catalogue
from stockroom.store.book import Session

_WRITTEN = "en_IE"  # how its figures are written, whatever the shop's locale
_UK, _US = ("GB", "IE"), ("US", "CA")  # where shoes are bought and packed by those sizes: common practice, no source


def enter_starter(
    session: Session, now: datetime, *, language: str = "en", country: str = "", source: str = ""
) -> None:
    """Enter the starter shop's lists, in a language, with the shoe sizes of a country."""
    shop = catalogue.read_shop(session)
    system = "UK" if country in _UK else "US M" if country in _US else "EU"
    rows = starter_rows(language, now.date(), system=system, digits=shop.currency_digits, source=source)
    known = facts_for_files(session)
    enter_lists(session, read_rows(rows, known, locale=_WRITTEN, digits=shop.currency_digits, now=now))
    catalogue.check_recipes(session)
