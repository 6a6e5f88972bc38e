"""Back-test: past weeks replayed under several ways of ordering, started by hand and worked out beside the pages."""

from datetime import datetime
from itertools import accumulate
from typing import TYPE_CHECKING

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.errors import UsageError
from stockroom.flows.book.opening import Book
from stockroom.phrases import phrase
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.background import Told
from stockroom.web.drawing import lines_by_day
from stockroom.web.result_cache import CachedView
from stockroom.web.site import formats, progress, site

if TYPE_CHECKING:
    from stockroom.flows.backtest.run import Backtest

pages = Blueprint("backtest", __name__)
LEAST, USUAL, MOST = 4, 12, 52  # weeks replayed
_ALL = range(LEAST, MOST + 1)


@pages.get("/back-test")
@may(access.BOOKS)
def backtest() -> str:
    """Show the back-test of so many weeks, how far it has come, or only the form that starts one."""
    weeks = _asked()
    task = site().beside.task(_name(weeks))
    seen = _seen(weeks)
    facts = _drawn(seen.result) if seen.result is not None else {}
    return render_template("backtest.html", seen=seen, task=task, weeks=weeks, least=LEAST, most=MOST, **facts)


def _drawn(played: "Backtest") -> dict[str, object]:
    """Draw the delayed jobs so far and the stock, week by week, under each way of ordering; ours first and heaviest."""
    from stockroom.flows.backtest.report import backtest_picture, verdict  # noqa: PLC0415 -- slow import
    from stockroom.show.charts.past import backtest_words  # noqa: PLC0415 -- as above

    picture, write = backtest_picture(played), formats()
    ways = sorted(picture.policies, key=lambda each: not each.ours)
    return {
        "names": [each.name for each in ways],
        "delayed": lines_by_day(picture.weeks, [list(accumulate(each.held_up)) for each in ways]),
        "stock": lines_by_day(picture.weeks, [each.stock_value for each in ways]),
        "verdict": verdict(played, write),
        "words": backtest_words(picture, write),
    }


@pages.post("/back-test")
@may(access.BOOKS)
def start() -> AnyResponse:
    """Start a back-test beside the pages, unless the same one stands already."""
    weeks = _weeks(typed.field("weeks"))
    book, now = site().book, site().now()
    site().keeper.look(_name(weeks), now, lambda told: _play(book, now, told, weeks=weeks))
    return go(url_for("backtest.backtest", weeks=weeks), 303)


@pages.get("/back-test/state")
@may(access.BOOKS)
def state() -> AnyResponse:
    """Say how far a back-test has come, for a page that waits for it."""
    return progress(_name(_asked()))


def _name(weeks: int) -> str:
    return f"back-test {weeks}"


def _seen(weeks: int) -> "CachedView[Backtest]":
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


def _play(book: Book, now: datetime, told: Told, *, weeks: int) -> "Backtest":
    from stockroom.flows.backtest.run import backtest_weeks  # noqa: PLC0415 -- slow import, beside the pages

    return backtest_weeks(book, now, weeks=weeks, progress=told)
