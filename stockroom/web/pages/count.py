"""Counting by place, with a way to measure for every bin; what differs, settling, and how true the record was."""

from typing import TYPE_CHECKING

from flask import Blueprint, Response, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.counts import sheets
from stockroom.flows.counts.review import open_sheets, review
from stockroom.flows.counts.settle import drop_lines, settle_count, take_count
from stockroom.flows.loading.first_steps import never_moved
from stockroom.show.formats import formats_of
from stockroom.stock.counts import Count, CountReason
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.asking import ask_again
from stockroom.web.drawing import lines_by_day
from stockroom.web.site import formats, look_ahead, queued, say, shop, site, stamp, to_print
from stockroom.web.words import counted, words

if TYPE_CHECKING:
    from stockroom.show.tables.counts import CountReport

pages = Blueprint("count", __name__)
_WORTH = "*"  # what is worth counting most, where a location is asked for
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
    following = _following(name) if never_moved(site().book) else ""
    return _counting(name or words("no location"), _sheet(name), bins, _found(_sheet(name)), following)


@pages.get("/count/worth")
@may(access.BENCH)
def worth() -> str:
    """Show the bins worth counting most, and those of them counted today, on one page."""
    seen, sheet = look_ahead(), _sheet("worth counting")
    found = _found(sheet)
    wanted = [each.material.code for each in seen.result.to_count] if seen.result else []
    bins = sheets.bins_of(site().book, list(dict.fromkeys([*found, *wanted])))
    return _counting(words("Worth counting most"), sheet, bins, found)


def _counting(title: str, sheet: str, bins: list[sheets.BinCard], found: dict[str, int], following: str = "") -> str:
    facts = {"title": title, "bins": bins, "sheet": sheet, "begun": bool(found), "found": found}
    return render_template("count_place.html", **facts, following=following)


def _found(sheet: str) -> dict[str, int]:
    """Give what was counted on a sheet that still waits, by material."""
    if sheet not in open_sheets(site().book):
        return {}
    return {one.bin.material.code: one.bin.found for one in review(site().book, sheet, site().now())}


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
def keep_bin() -> AnyResponse | tuple[str, int]:
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


@pages.post("/count/print")
@may(access.BENCH)
def print_sheet() -> Response:
    """Give a count sheet with room to write: what is worth counting most, a location, or all of it."""
    from stockroom.show.count_sheets import sheet_html  # noqa: PLC0415 -- only where one is printed

    stamp()
    which, book, now = typed.field("which"), site().book, site().now()
    seen = look_ahead().result if which == _WORTH else None
    only = [each.material.code for each in seen.to_count] if seen else None
    made = sheets.make_sheet(book, now, places=[which] if which not in {"", _WORTH} else (), only=only)
    return to_print(sheet_html(made, formats_of(shop())), f"count-sheet-{made.key}.html")


@pages.get("/count/report")
@may(access.ANYONE)
def report() -> str:
    """Show how true the stock record was, why it differed, and which items drift."""
    from stockroom.flows.counts.accuracy import accuracy  # noqa: PLC0415 -- slow import
    from stockroom.show.charts.past import accuracy_words  # noqa: PLC0415 -- as above

    found = _report()
    counts = accuracy(found)
    drawn = lines_by_day([each.day for each in counts], [[100 * each.share for each in counts]], most=100)
    return render_template("count_report.html", report=found, drawn=drawn, words=accuracy_words(counts, formats()))


@pages.get("/count/sheet")
@may(access.BENCH)
def sheet() -> str:
    """Show how a count differs from the book."""
    key = request.args.get("sheet", "")
    found = review(site().book, key, site().now())
    return render_template("count_sheet.html", sheet=key, found=found, reasons=[str(each) for each in CountReason])


@pages.post("/count/settle")
@may(access.OWNER)
def settle() -> AnyResponse:
    """Bring the book to what was counted, but for what is to be counted again."""
    key = typed.field("sheet")
    prefix = "reason:"
    reasons = {k.removeprefix(prefix): v for k, v in request.form.items() if k.startswith(prefix) and v}
    accept = request.form.getlist("accept")
    done = settle_count(site().book, key, stamp(), reasons=reasons, accept=accept)
    told = counted(
        "%(num)s item is corrected; the count is posted.",
        "%(num)s items are corrected; the count is posted.",
        done.corrected,
    )
    say(told, undo=done.document if done.fresh else None)
    if done.held:
        say(words("To be counted again first: %(bins)s.", bins=", ".join(done.held)), bad=True)
        return go(url_for("count.sheet", sheet=key), 303)
    return go(url_for("count.places"), 303)


@pages.post("/count/drop")
@may(access.BENCH)
def drop() -> AnyResponse:
    """Leave out a bin that was entered wrongly."""
    key = typed.field("sheet")
    drop_lines(site().book, key, [typed.field("material")])
    say(words("%(name)s is left out.", name=typed.field("material")))
    return go(
        url_for("count.sheet", sheet=key) if key in open_sheets(site().book) else url_for("count.places"),
        303,
    )


def _report() -> "CountReport":
    from stockroom.flows.counts.accuracy import count_report  # noqa: PLC0415 -- only for the report

    return count_report(site().book, site().now(), since=typed.day(request.args.get("since", "")))


def _sheet(place: str) -> str:
    """Name today's sheet of a place: parts of it may be entered one by one."""
    return f"{site().now():%Y-%m-%d} {place}"[:_LONGEST].strip()
