"""What lies ahead of the orders: the year's money, and how cautious to be; worked out beside the pages."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, TypeVar

from flask import Blueprint, Response, abort, render_template, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.errors import UsageError
from stockroom.flows.book.opening import Book, change_settings
from stockroom.show.formats import Formats
from stockroom.stock.money import major
from stockroom.stock.typed import number
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.background import Told
from stockroom.web.result_cache import CachedView
from stockroom.web.site import chart, formats, progress, role, say, shop, site
from stockroom.web.words import in_each_language, language, words

if TYPE_CHECKING:
    from stockroom.flows.ordering.caution import Caution
    from stockroom.flows.ordering.year import YearAhead

pages = Blueprint("planning", __name__)
_YEAR, _CAUTION = "year ahead", "stock or delays"
Shown = TypeVar("Shown")
_FARTHEST = 1000  # times that what a delayed job counts may be moved at once, either way


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class YearShown:
    """A year ahead as the page shows it."""

    year: "YearAhead"
    told: str
    words: str  # what the picture shows
    pictures: dict[str, bytes]  # SVG, by language


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CautionShown:
    """Stock against delays as the page shows it."""

    caution: "Caution"
    told: str
    steps: tuple[tuple[float, str], ...]  # how many times as dear a delayed job would count, and the question
    words: str
    pictures: dict[str, bytes]


@pages.get("/year-ahead")
@may(access.BOOKS)
def year_ahead() -> str:
    """Show what the orders of a year are expected to come to."""
    return render_template("year_ahead.html", seen=_look(_YEAR, _year))


@pages.get("/stock-or-delays")
@may(access.BOOKS)
def stock_or_delays() -> str:
    """Show stock against delayed jobs, and where the shop stands."""
    return render_template("stock_or_delays.html", seen=_look(_CAUTION, _caution), may_change=role() in access.OWNER)


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


@pages.get("/<any('year-ahead', 'stock-or-delays'):which>/picture.svg")
@may(access.BOOKS)
def picture(which: str) -> Response:
    """Give its chart."""
    result = site().keeper.seen(which.replace("-", " "), site().now()).result
    if result is None:
        abort(404)
    return chart(result.pictures[language()])


def _look(name: str, work: Callable[[Book, datetime, Formats, Told], Shown]) -> CachedView[Shown]:
    book, now, write = site().book, site().now(), formats()
    return site().keeper.look(name, now, lambda told: work(book, now, write, told))


def _year(book: Book, now: datetime, write: Formats, told: Told) -> YearShown:
    from stockroom.flows.ordering import year as flows  # noqa: PLC0415 -- slow import, beside the pages
    from stockroom.show.charts.ahead import year_chart  # noqa: PLC0415 -- as above

    told(_YEAR, 0, 2)
    found = flows.year_ahead(book, now)
    told(_YEAR, 1, 2)
    about, drawn = flows.picture_words(found), flows.year_picture(found)
    return YearShown(
        year=found,
        told=flows.year_words(found),
        words=about,
        pictures=in_each_language(lambda say: year_chart(drawn, write, about, "svg", say=say)),
    )


def _caution(book: Book, now: datetime, write: Formats, told: Told) -> CautionShown:
    from stockroom.flows.ordering import caution as flows  # noqa: PLC0415 -- slow import, beside the pages
    from stockroom.show.charts.ahead import caution_chart  # noqa: PLC0415 -- as above

    told(_CAUTION, 0, 2)
    found = flows.caution(book, now)
    told(_CAUTION, 1, 2)
    about, drawn = flows.picture_words(found), flows.caution_picture(found)
    return CautionShown(
        caution=found,
        told=flows.stands_words(found),
        steps=tuple((point.times, asked) for point, asked, _ in flows.caution_steps(found)),
        words=about,
        pictures=in_each_language(lambda say: caution_chart(drawn, write, about, "svg", say=say)),
    )
