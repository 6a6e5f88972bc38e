"""The rooms of the pages, and which of them a role may enter."""

from dataclasses import dataclass

from flask import request, url_for

from stockroom.web import access
from stockroom.web.site import role


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """One entry of the menu."""

    name: str
    endpoint: str
    roles: frozenset[str]
    daily: bool = False  # in reach of the thumb on a phone
    group: str = ""  # under which the seldom ones stand
    hint: str = ""  # what it is, in a few words

    @property
    def address(self) -> str:
        """Where it is."""
        return url_for(self.endpoint)

    @property
    def here(self) -> bool:
        """Say whether the page shown belongs to it."""
        blueprint = self.endpoint.split(".")[0]
        alone = sum(room.endpoint.startswith(f"{blueprint}.") for room in ROOMS) == 1
        within = alone and request.blueprint == blueprint and request.endpoint != "today.more"
        return within or request.endpoint == self.endpoint


def _(text: str) -> str:
    """Mark a text for translation; it is said in the reader's language when shown."""
    return text


ROOMS = (
    Room(name=_("Today"), endpoint="today.today", roles=access.ANYONE, daily=True),
    Room(name=_("Tickets"), endpoint="tickets.booked", roles=access.BENCH, daily=True),
    Room(name=_("Counter"), endpoint="counter.sale", roles=access.BENCH, daily=True),
    Room(name=_("Shelf"), endpoint="shelf.shelf", roles=access.ANYONE, daily=True),
    Room(name=_("Count"), endpoint="count.places", roles=access.BENCH, daily=True),
    Room(
        name=_("Bench"),
        endpoint="bench.bench",
        roles=access.BENCH,
        group=_("Work"),
        hint=_("hours promised and open, minutes of jobs, machines"),
    ),
    Room(
        name=_("Stock running out"),
        endpoint="runouts.runouts",
        roles=access.ANYONE,
        group=_("Ordering"),
        hint=_("what ends when, and by when to order"),
    ),
    Room(
        name=_("Orders"),
        endpoint="orders.orders",
        roles=access.ANYONE,
        group=_("Ordering"),
        hint=_("suggested, placed, on the way; enter what came"),
    ),
    Room(
        name=_("The year ahead"),
        endpoint="planning.year_ahead",
        roles=access.BOOKS,
        group=_("Ordering"),
        hint=_("what orders will take, month by month"),
    ),
    Room(
        name=_("Stock or delays"),
        endpoint="planning.stock_or_delays",
        roles=access.BOOKS,
        group=_("Ordering"),
        hint=_("how cautious to order, and what it costs"),
    ),
    Room(
        name=_("Margins"),
        endpoint="money.margins",
        roles=access.BOOKS,
        group=_("Money"),
        hint=_("what each job leaves after its materials"),
    ),
    Room(
        name=_("Workbook"),
        endpoint="money.workbook",
        roles=access.BOOKS,
        group=_("Money"),
        hint=_("the accountant's spreadsheet"),
    ),
    Room(
        name=_("Tax and accounts"),
        endpoint="accounts.accounts",
        roles=access.OWNER,
        group=_("Money"),
        hint=_("tax rates by date, account numbers, sites"),
    ),
    Room(
        name=_("Closed periods"),
        endpoint="periods.periods",
        roles=access.BOOKS,
        group=_("Money"),
        hint=_("close a month; the list of stock to sign"),
    ),
    Room(
        name=_("Actual usage"),
        endpoint="usage.usage",
        roles=access.OWNER,
        group=_("Money"),
        hint=_("actual usage, by your counts"),
    ),
    Room(
        name=_("Back-test"),
        endpoint="backtest.backtest",
        roles=access.BOOKS,
        group=_("Money"),
        hint=_("your past weeks, ordered as suggested"),
    ),
    Room(
        name=_("Forecast accuracy"),
        endpoint="forecast_report.forecast_report",
        roles=access.BOOKS,
        group=_("Money"),
        hint=_("what was said on past days, and what came"),
    ),
    Room(
        name=_("Offcuts"),
        endpoint="kept.offcuts",
        roles=access.BENCH,
        group=_("Shelf"),
        hint=_("pieces kept by their numbers: store, tick, trim"),
    ),
    Room(
        name=_("Lent out"),
        endpoint="kept.lent",
        roles=access.BENCH,
        group=_("Shelf"),
        hint=_("shoe trees and gauges, and when they are due"),
    ),
    Room(
        name=_("May go back"),
        endpoint="documents.may_go_back",
        roles=access.BENCH,
        group=_("Shelf"),
        hint=_("what suppliers accept back unused, and until when"),
    ),
    Room(
        name=_("Documents"),
        endpoint="documents.documents",
        roles=access.ANYONE,
        group=_("The book"),
        hint=_("all that was entered; undo it here"),
    ),
    Room(
        name=_("Labels"),
        endpoint="labels.labels",
        roles=access.BENCH,
        group=_("The book"),
        hint=_("for shelf and drawers, to print and scan"),
    ),
    Room(
        name=_("Hazards"),
        endpoint="settings.hazards",
        roles=access.ANYONE,
        group=_("The book"),
        hint=_("flammable and harmful stock, and its limits"),
    ),
    Room(
        name=_("Lists"),
        endpoint="lists.overview",
        roles=access.OWNER,
        group=_("The book"),
        hint=_("materials, jobs, recipes, suppliers, prices, days shut"),
    ),
    Room(
        name=_("Load files"),
        endpoint="loading.loading",
        roles=access.OWNER,
        group=_("The book"),
        hint=_("lists and past work from spreadsheets"),
    ),
    Room(
        name=_("Guided start"),
        endpoint="start.overview",
        roles=access.OWNER,
        group=_("The book"),
        hint=_("from an empty book to the first order list"),
    ),
    Room(
        name=_("Safekeeping"),
        endpoint="safekeeping.overview",
        roles=access.OWNER,
        group=_("The book"),
        hint=_("backup, check, everything as tables, forget a customer"),
    ),
    Room(
        name=_("Settings"),
        endpoint="settings.settings",
        roles=access.OWNER,
        group=_("The book"),
        hint=_("the shop, its limits, who did what"),
    ),
)


def menu() -> list[Room]:
    """Give the rooms open to whoever is at the page."""
    return [room for room in ROOMS if role() in room.roles]
