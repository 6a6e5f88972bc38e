"""Pictures of money for the reports: which jobs earn, what moved the margin, what dear materials cost."""

from dataclasses import replace
from datetime import date, timedelta

from stockroom.flows.accounts import against_before, make_accounts
from stockroom.margins.period import Period
from stockroom.show.formats import Formats
from stockroom.store.book import Book

DAYS = 91  # a quarter of a year, whole weeks: the same days of the week on both sides


def money_pictures(book: Book, day: date, formats: Formats) -> dict[str, bytes]:
    """Draw the thirteen weeks up to a day against those before; nothing where no paid work was done."""
    from stockroom.show import charts_margins  # noqa: PLC0415 -- charts are slow to import

    period = Period(first=day - timedelta(days=DAYS - 1), last=day)
    made = make_accounts(book, period, against=against_before(book, period))
    if not made.margins:
        return {}
    named = [replace(group, name=made.jobs[group.name].name) for group in made.margins if group.name in made.jobs]
    drawn = {"margins.png": charts_margins.margin_chart(named, formats)}
    if made.moved:
        drawn["what-moved.png"] = charts_margins.waterfall_chart(made.moved, formats)
    if made.prices:
        drawn["prices.png"] = charts_margins.price_chart(made.prices, formats)
    return drawn
