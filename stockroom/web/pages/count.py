"""Counting by place, with a way to measure for every bin; what differs, and settling."""

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.counts import sheets
from stockroom.flows.counts.review import open_sheets, review
from stockroom.flows.counts.settle import drop_lines, settle_count, take_count
from stockroom.flows.loading.first_steps import never_moved
from stockroom.stock.counts import Count, CountReason
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.asking import ask_again
from stockroom.web.site import look_ahead, queued, say, site, stamp
from stockroom.web.words import counted, words

pages = Blueprint("count", __name__)
_LONGEST = 80


@pages.get("/count")
@may(access.BENCH)
def places() -> str:
    """List the shelf places, and the counts still to be settled."""
    book = site().book
    waiting = open_sheets(book)
    return render_template("count.html", places=sheets.places(book), sheets=waiting, seen=look_ahead())


@pages.get("/count/place")
@may(access.BENCH)
def place() -> str:
    """Show the bins of a place, each with its fields."""
    name = request.args.get("place", "")
    bins = sheets.bins_at(site().book, name)
    sheet = _sheet(name)
    begun = sheet in open_sheets(site().book)
    found = {one.bin.material.code: one.bin.found for one in review(site().book, sheet, site().now())} if begun else {}
    following = _following(name) if never_moved(site().book) else None
    return render_template(
        "count_place.html", place=name, bins=bins, sheet=sheet, begun=begun, found=found, following=following
    )


def _following(name: str) -> str:
    """Give where a new shop's first count goes on: the next location, or back to the guided start."""
    names = [each.name for each in sheets.places(site().book)]
    rest = names[names.index(name) + 1 :]
    return url_for("count.place", place=rest[0]) if rest else url_for("start.count")


@pages.get("/count/bin")
@may(access.BENCH)
def one_bin() -> str:
    """Show one bin, to be measured in any way."""
    card = sheets.bin_card(site().book, request.args.get("code", ""), request.args.get("aid", ""))
    return render_template("count_bin.html", card=card, ways=sheets.ways(), sheet=_sheet(card.material.place))


@pages.post("/count/bin")
@may(access.BENCH)
def keep_bin() -> Response | tuple[str, int]:
    """Keep a counted bin; an unlikely amount is asked about first."""
    sheet = typed.field("sheet")
    if not sheet or len(sheet) > _LONGEST:
        raise UsageError("The count has no sheet.", fix="Open the location again.")
    document = stamp()
    prefix = "answer:"
    answers = {k.removeprefix(prefix): v.strip() for k, v in request.form.items() if k.startswith(prefix) and v.strip()}
    line = sheets.measured(site().book, typed.field("material"), typed.field("aid"), answers, document)
    try:
        take_count(site().book, Count(key=sheet, lines=(line,)), document, sure=bool(typed.field("sure")))
    except RefusedError as doubt:
        if queued():
            raise
        return ask_again(doubt)
    say(words("%(name)s is counted.", name=line.material))
    return go(url_for("count.place", place=typed.field("place")), 303)


@pages.get("/count/sheet")
@may(access.BENCH)
def sheet() -> str:
    """Show how a count differs from the book."""
    key = request.args.get("sheet", "")
    found = review(site().book, key, site().now())
    return render_template("count_sheet.html", sheet=key, found=found, reasons=[str(each) for each in CountReason])


@pages.post("/count/settle")
@may(access.OWNER)
def settle() -> Response:
    """Bring the book to what was counted, but for what is to be counted again."""
    key = typed.field("sheet")
    prefix = "reason:"
    reasons = {k.removeprefix(prefix): v for k, v in request.form.items() if k.startswith(prefix) and v}
    accept = request.form.getlist("accept")
    done = settle_count(site().book, key, stamp(), reasons=reasons, accept=accept)
    said = counted(
        "%(num)s item is corrected; the count is posted.",
        "%(num)s items are corrected; the count is posted.",
        done.corrected,
    )
    say(said, undo=done.document if done.fresh else None)
    if done.held:
        say(words("To be counted again first: %(bins)s.", bins=", ".join(done.held)), bad=True)
        return go(url_for("count.sheet", sheet=key), 303)
    return go(url_for("count.places"), 303)


@pages.post("/count/drop")
@may(access.BENCH)
def drop() -> Response:
    """Leave out a bin that was entered wrongly."""
    key = typed.field("sheet")
    drop_lines(site().book, key, [typed.field("material")])
    say(words("%(name)s is left out.", name=typed.field("material")))
    return go(
        url_for("count.sheet", sheet=key) if key in open_sheets(site().book) else url_for("count.places"),
        303,
    )


def _sheet(place: str) -> str:
    """Name today's sheet of a place: parts of it may be entered one by one."""
    return f"{site().now():%Y-%m-%d} {place}"[:_LONGEST].strip()
