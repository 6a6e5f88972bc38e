"""Money: margins of a period, what moved them, prices that fell behind, cut or buy, and the accountant's workbook."""

from datetime import timedelta
from typing import TYPE_CHECKING

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.flows.book.opening import Book
from stockroom.margins.period import Period, period_named
from stockroom.stock.offcuts import piece_size
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.background import Told
from stockroom.web.drawing import bars, steps
from stockroom.web.pages.periods import offered
from stockroom.web.result_cache import CachedView
from stockroom.web.site import progress, say, site, spreadsheet, stamp
from stockroom.web.words import words

if TYPE_CHECKING:
    from stockroom.margins.accounts import Accounts

pages = Blueprint("money", __name__)
_MADE_UP = timedelta(days=10)  # in which the accounts of a month are made up after it
_QUARTER = timedelta(days=90)  # prices are held against those of so long before


@pages.get("/margins")
@may(access.BOOKS)
def margins() -> str:
    """Show a period's margins by job, and what moved them."""
    name = _asked()
    seen, facts = _accounts(name), dict[str, object]()
    if seen.result is not None:
        facts["left"] = bars([(0.0, float(printed.margin)) for _, printed in seen.result.printed])
        facts["steps"] = steps(seen.result.moved) if seen.result.moved else ()
    return render_template("margins.html", seen=seen, period=name, periods=offered(period=name), **facts)


@pages.get("/margins/alerts")
@may(access.BOOKS)
def alerts() -> str:
    """Show jobs that suppliers' prices brought below the minimum margin, and the price that restores each."""
    from stockroom.flows.accounts.margins import price_alerts  # noqa: PLC0415 -- slow import

    day = site().now().date()
    since = typed.day(request.args.get("since", "")) or day - _QUARTER
    return render_template("alerts.html", found=price_alerts(site().book, day, since))


@pages.get("/margins/cut-or-buy")
@may(access.BOOKS)
def cut_or_buy() -> str:
    """Compare cutting a sheet with buying its pieces cut."""
    from stockroom.flows.accounts.cutting import compare_cutting, sheets_cut  # noqa: PLC0415 -- slow import
    from stockroom.flows.learning import yields  # noqa: PLC0415 -- as above

    code, day = request.args.get("material", ""), site().now().date()
    found = compare_cutting(site().book, code, day) if code else None
    shapes = [yields.outline_facts(job, shape) for job, shape in yields.outlines(site().book).items()]
    sheets = sheets_cut(site().book, day)
    return render_template("cut_or_buy.html", found=found, sheets=sheets, code=code, outlines=shapes)


@pages.post("/margins/outline")
@may(access.OWNER)
def outline() -> AnyResponse:
    """Take the outline of the shop's soles."""
    from stockroom.flows.learning import yields  # noqa: PLC0415 -- slow import

    file, size, made = request.files.get("points"), typed.field("size"), None
    if not typed.field("usual"):
        if file is not None and file.filename:
            made = yields.outline_of_points(file.read().decode("utf-8-sig", "replace"))
        else:
            long, wide = piece_size(size).mm
            fill = float(typed.number(typed.field("fill").removesuffix("%").strip() or "70")) / 100
            made = yields.outline_of_measures(long, wide, fill)
    yields.set_outline(site().book, made, at=stamp().entered)
    say(words("The outline is kept.") if made else words("The usual outline is used."))
    return go(url_for("money.cut_or_buy"), 303)


@pages.get("/workbook")
@may(access.BOOKS)
def workbook() -> str:
    """Offer a period's workbook; it is made beside the pages, as soon as it is asked for."""
    name = _asked(ended=True)
    return render_template("workbook.html", seen=_workbook(name), period=name, periods=offered(period=name))


@pages.get("/workbook/file")
@may(access.BOOKS)
def file() -> AnyResponse:
    """Give the workbook, made from the book as it stands; one that isn't is made first."""
    name = _asked(ended=True)
    seen = _workbook(name)
    if seen.result is None or not seen.fresh:
        return go(url_for("money.workbook", period=name))
    return spreadsheet(seen.result, f"accounts-{name}.xlsx")


@pages.get("/margins/state")
@may(access.BOOKS)
def state() -> AnyResponse:
    """Say where a period's figures stand, for a page that waits for them."""
    ended = bool(request.args.get("workbook"))
    return progress(f"{'workbook' if ended else 'accounts'} {_asked(ended=ended)}")


def _asked(*, ended: bool = False) -> str:
    """Read the period asked for: a month, a quarter or a year; this month unless said.

    Where it is one that has `ended`, the month before is meant in the first days of a month.
    """
    usual = site().now() - (_MADE_UP if ended else timedelta(0))
    said = request.args.get("period", "").strip() or f"{usual:%Y-%m}"
    period_named(said)
    return said


def _accounts(name: str) -> "CachedView[Accounts]":
    book, period = site().book, period_named(name)
    return site().keeper.look(f"accounts {name}", site().now(), lambda told: _made(period, told, book=book))


def _workbook(name: str) -> CachedView[bytes]:
    book, period = site().book, period_named(name)
    return site().keeper.look(f"workbook {name}", site().now(), lambda told: _written(period, told, book=book))


def _made(period: Period, told: Told, *, book: Book) -> "Accounts":
    from stockroom.flows.accounts.period import against_before, make_accounts  # noqa: PLC0415 -- slow import

    told("accounts", 0, 1)
    return make_accounts(book, period, against=against_before(book, period))


def _written(period: Period, told: Told, *, book: Book) -> bytes:
    from stockroom.show.workbook_paint import workbook_bytes  # noqa: PLC0415 -- slow import

    made = _made(period, told, book=book)
    told("workbook", 0, 1)
    return workbook_bytes(made)
