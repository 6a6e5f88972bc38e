"""How true the forecast was: past days looked back at, started by hand and worked out beside the pages."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from flask import Blueprint, Response, abort, render_template, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.flows.book.opening import Book
from stockroom.show.formats import Formats
from stockroom.web import access
from stockroom.web.access import may
from stockroom.web.background import Told
from stockroom.web.result_cache import CachedView
from stockroom.web.site import chart, formats, progress, site
from stockroom.web.words import in_each_language, language

if TYPE_CHECKING:
    from stockroom.flows.outlook.came_true import ForecastReport

pages = Blueprint("forecast_report", __name__)
_NAME = "forecast report"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReportShown:
    """A report as the page shows it."""

    report: "ForecastReport"
    verdict: str
    why: dict[str, str]  # by material
    pictures: dict[str, bytes]  # SVG, by language
    words: str  # what the picture shows


@pages.get("/forecast-report")
@may(access.BOOKS)
def forecast_report() -> str:
    """Show how true the forecast was, how far the looking back has come, or only the button that starts it."""
    return render_template("forecast_report.html", seen=_seen(), task=site().beside.task(_NAME))


@pages.post("/forecast-report")
@may(access.BOOKS)
def start() -> AnyResponse:
    """Start looking back beside the pages, unless the same stands already."""
    book, now, write = site().book, site().now(), formats()
    site().keeper.look(_NAME, now, lambda told: _look_back(book, now, told, write=write))
    return go(url_for("forecast_report.forecast_report"), 303)


@pages.get("/forecast-report/state")
@may(access.BOOKS)
def state() -> AnyResponse:
    """Say how far it has come, for a page that waits for it."""
    return progress(_NAME)


@pages.get("/forecast-report/picture.svg")
@may(access.BOOKS)
def picture() -> Response:
    """Give its chart."""
    result = _seen().result
    if result is None or language() not in result.pictures:
        abort(404)
    return chart(result.pictures[language()])


def _seen() -> CachedView[ReportShown]:
    return site().keeper.seen(_NAME, site().now())


def _look_back(book: Book, now: datetime, told: Told, *, write: Formats) -> ReportShown:
    from stockroom.flows.outlook import came_true, came_true_words  # noqa: PLC0415 -- slow import, beside the pages
    from stockroom.show.charts.past import forecast_chart  # noqa: PLC0415 -- as above

    report = came_true.forecast_report(book, now, progress=told)
    words = came_true_words.picture_words(report)
    drawn = came_true_words.report_picture(report)
    return ReportShown(
        report=report,
        verdict=came_true_words.verdict(report),
        why={each.material.code: came_true_words.why(each, write) for each in report.worst},
        pictures=in_each_language(lambda say: forecast_chart(drawn, write, words, "svg", say=say))
        if report.whole
        else {},
        words=words,
    )
