"""Back-test: past weeks replayed under several ways of ordering, started by hand and worked out beside the pages."""

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from flask import Blueprint, Response, abort, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.errors import UsageError
from stockroom.flows.book.opening import Book
from stockroom.phrases import phrase
from stockroom.show.formats import Formats
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.background import Told
from stockroom.web.result_cache import CachedView
from stockroom.web.site import chart, formats, progress, site
from stockroom.web.words import in_each_language, language

if TYPE_CHECKING:
    from stockroom.flows.backtest.run import Backtest

pages = Blueprint("backtest", __name__)
LEAST, USUAL, MOST = 4, 12, 52  # weeks replayed
_ALL = range(LEAST, MOST + 1)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shown:
    """A back-test as the page shows it."""

    played: "Backtest"
    verdict: str
    pictures: dict[str, bytes]  # SVG, by language
    words: str  # what the picture shows


@pages.get("/back-test")
@may(access.BOOKS)
def backtest() -> str:
    """Show the back-test of so many weeks, how far it has come, or only the form that starts one."""
    weeks = _asked()
    task = site().beside.task(_name(weeks))
    return render_template("backtest.html", seen=_seen(weeks), task=task, weeks=weeks, least=LEAST, most=MOST)


@pages.post("/back-test")
@may(access.BOOKS)
def start() -> AnyResponse:
    """Start a back-test beside the pages, unless the same one stands already."""
    weeks = _weeks(typed.field("weeks"))
    book, now, write = site().book, site().now(), formats()
    site().keeper.look(_name(weeks), now, lambda told: _play(book, now, told, weeks=weeks, write=write))
    return go(url_for("backtest.backtest", weeks=weeks), 303)


@pages.get("/back-test/state")
@may(access.BOOKS)
def state() -> AnyResponse:
    """Say how far a back-test has come, for a page that waits for it."""
    return progress(_name(_asked()))


@pages.get("/back-test/picture.svg")
@may(access.BOOKS)
def picture() -> Response:
    """Give the chart of a back-test that was played."""
    result = _seen(_asked()).result
    if result is None:
        abort(404)
    return chart(result.pictures[language()])


def _name(weeks: int) -> str:
    return f"back-test {weeks}"


def _seen(weeks: int) -> CachedView[Shown]:
    return site().keeper.seen(_name(weeks), site().now())


def _asked() -> int:
    """Read how many weeks are asked for; unless said, those of the back-test under way or the newest one kept."""
    if said := request.args.get("weeks", ""):
        return _weeks(said)
    tasks, held = {weeks: site().beside.task(_name(weeks)) for weeks in _ALL}, list(site().keeper.held)
    kept = sorted((weeks for weeks in _ALL if _name(weeks) in held), key=lambda weeks: held.index(_name(weeks)))
    running = [weeks for weeks, task in tasks.items() if task is not None and task.under_way]
    return [USUAL, *kept, *running][-1]


def _weeks(text: str) -> int:
    weeks = typed.whole(text, "weeks")
    if weeks not in _ALL:
        raise UsageError(
            phrase("%(weeks)s weeks can't be back-tested here.", weeks=weeks),
            fix=phrase("Choose %(least)s to %(most)s weeks.", least=LEAST, most=MOST),
        )
    return weeks


def _play(book: Book, now: datetime, told: Told, *, weeks: int, write: Formats) -> Shown:
    from stockroom.flows.backtest.report import backtest_picture, verdict  # noqa: PLC0415 -- as above
    from stockroom.flows.backtest.run import backtest_weeks  # noqa: PLC0415 -- slow import, beside the pages
    from stockroom.show.charts.past import backtest_chart, backtest_words  # noqa: PLC0415 -- as above

    played = backtest_weeks(book, now, weeks=weeks, progress=told)
    drawn = backtest_picture(played)
    return Shown(
        played=played,
        verdict=verdict(played, write),
        pictures=in_each_language(lambda say: backtest_chart(drawn, write, "svg", say=say)),
        words=backtest_words(drawn, write),
    )
