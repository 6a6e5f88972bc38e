"""What lies ahead of the orders: the year's money, and how cautious to be; worked out beside the pages."""

from collections.abc import Callable
from datetime import datetime
from decimal import Decimal, InvalidOperation
from io import BytesIO
from typing import TypeVar

from flask import Blueprint, render_template, send_file, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.errors import UsageError
from stockroom.flows.book.opening import Book, change_settings
from stockroom.stock.money import major
from stockroom.stock.typed import number
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.background import Told
from stockroom.web.drawing import bars, frontier_line
from stockroom.web.result_cache import CachedView
from stockroom.web.site import progress, role, say, shop, site
from stockroom.web.words import words

pages = Blueprint("planning", __name__)
_YEAR, _CAUTION = "year ahead", "stock or delays"
Found = TypeVar("Found")
_FARTHEST = 1000  # times that what a delayed job counts may be moved at once, either way


@pages.get("/year-ahead")
@may(access.BOOKS)
def year_ahead() -> str:
    """Show what the orders of a year are expected to come to."""
    from stockroom.flows.ordering import year as flows  # noqa: PLC0415 -- slow import

    seen = _look(_YEAR, flows.year_ahead)
    facts: dict[str, object] = {}
    if seen.result is not None:
        months = seen.result.months
        facts["told"] = flows.year_words(seen.result)
        facts["drawn"] = bars([(0.0, each.spend) for each in months], [(each.low, each.high) for each in months])
    return render_template("year_ahead.html", seen=seen, **facts)


@pages.get("/year-ahead/file")
@may(access.BOOKS)
def year_file() -> AnyResponse:
    """Give the year ahead as a spreadsheet, once it is worked out."""
    from stockroom.flows.ordering import year as flows  # noqa: PLC0415 -- slow import

    seen = _look(_YEAR, flows.year_ahead)
    if seen.result is None:
        return go(url_for("planning.year_ahead"), 303)
    name = f"year-ahead-{seen.result.since}.xlsx"
    return send_file(BytesIO(flows.year_spreadsheet(seen.result)), as_attachment=True, download_name=name)


@pages.get("/stock-or-delays")
@may(access.BOOKS)
def stock_or_delays() -> str:
    """Show stock against delayed jobs, and where the shop stands."""
    from stockroom.flows.ordering import caution as flows  # noqa: PLC0415 -- slow import
    from stockroom.show.charts.ahead import frontier  # noqa: PLC0415 -- as above

    seen = _look(_CAUTION, flows.caution)
    facts: dict[str, object] = {}
    if (found := seen.result) is not None:
        facts["told"], facts["words"] = flows.stands_words(found), flows.picture_words(found)
        facts["steps"] = [(point.times, asked) for point, asked, _ in flows.caution_steps(found)]
        facts["drawn"] = frontier_line(frontier(flows.caution_picture(found)), (found.own.paid, found.own.held_up))
    return render_template("stock_or_delays.html", seen=seen, may_change=role() in access.OWNER, **facts)


@pages.post("/stock-or-delays")
@may(access.OWNER)
def move() -> AnyResponse:
    """Count a delayed job at more or less than before, or at what follows from what the owner knows."""
    from stockroom.flows.ordering.caution import Wait, counted_at  # noqa: PLC0415 -- slow import

    if typed.field("times"):
        changes = counted_at(shop(), _times(typed.field("times")))
    else:
        worth = major(typed.money(typed.field("worth"), shop()), shop().currency_digits)
        changes = {"cost_of_delayed_job": f"{Wait(leave=number(typed.field('leave')), worth=worth).cost:f}"}
    change_settings(site().book, changes, at=site().now(), who=role())
    say(words("A delayed job is counted so from now on."))
    return go(url_for("planning.stock_or_delays"), 303)


def _times(text: str) -> float:
    try:
        times = Decimal(text)
    except InvalidOperation:
        times = Decimal(0)
    if not Decimal(1) / _FARTHEST <= times <= _FARTHEST:
        raise UsageError("This is no step to take.", fix="Choose one of those offered.")
    return float(times)


@pages.get("/<any('year-ahead', 'stock-or-delays'):which>/state")
@may(access.BOOKS)
def state(which: str) -> AnyResponse:
    """Say how far it has come, for a page that waits for it."""
    return progress(which.replace("-", " "))


def _look(name: str, work: Callable[[Book, datetime], Found]) -> CachedView[Found]:
    book, now = site().book, site().now()

    def found(told: Told) -> Found:
        told(name, 0, 1)
        return work(book, now)

    return site().keeper.look(name, now, found)
