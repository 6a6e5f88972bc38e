"""How true the forecast was: past days looked back at, started by hand and worked out beside the pages."""

from datetime import datetime
from typing import TYPE_CHECKING

from flask import Blueprint, render_template, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.flows.book.opening import Book
from stockroom.web import access
from stockroom.web.access import may
from stockroom.web.background import Told
from stockroom.web.drawing import lines_by_day
from stockroom.web.result_cache import CachedView
from stockroom.web.site import formats, progress, site

if TYPE_CHECKING:
    from stockroom.flows.outlook.came_true import ForecastReport

pages = Blueprint("forecast_report", __name__)
_NAME = "forecast report"


@pages.get("/forecast-report")
@may(access.BOOKS)
def forecast_report() -> str:
    """Show how true the forecast was, how far the looking back has come, or only the button that starts it."""
    seen = _seen()
    facts = _drawn(seen.result) if seen.result is not None else {}
    return render_template("forecast_report.html", seen=seen, task=site().beside.task(_NAME), **facts)


@pages.post("/forecast-report")
@may(access.BOOKS)
def start() -> AnyResponse:
    """Start looking back beside the pages, unless the same stands already."""
    book, now = site().book, site().now()
    site().keeper.look(_NAME, now, lambda told: _look_back(book, now, told))
    return go(url_for("forecast_report.forecast_report"), 303)


@pages.get("/forecast-report/state")
@may(access.BOOKS)
def state() -> AnyResponse:
    """Say how far it has come, for a page that waits for it."""
    return progress(_NAME)


def _drawn(report: "ForecastReport") -> dict[str, object]:
    """Draw how often use stayed within what was said, and the misses against a plain average's; say it in words."""
    from stockroom.flows.outlook import came_true_words as told  # noqa: PLC0415 -- slow import

    picture, write = told.report_picture(report), formats()
    return {
        "within": lines_by_day(picture.days, [[100 * each for each in picture.within]], most=100, level=90),
        "misses": lines_by_day(picture.days, [[100 * each for each in picture.loss]], most=100, level=100),
        "verdict": told.verdict(report),
        "why": lambda each: told.why(each, write),
        "dates": lambda row: told.run_out_said(row, write),
        "words": told.picture_words(report),
    }


def _seen() -> "CachedView[ForecastReport]":
    return site().keeper.seen(_NAME, site().now())


def _look_back(book: Book, now: datetime, told: Told) -> "ForecastReport":
    from stockroom.flows.outlook import came_true  # noqa: PLC0415 -- slow import, beside the pages

    return came_true.forecast_report(book, now, progress=told)
