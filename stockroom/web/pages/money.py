"""Money: margins of a period, what moved them, and the accountant's workbook."""

from datetime import date
from typing import TYPE_CHECKING

from flask import Blueprint, Response, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.flows.book.opening import Book
from stockroom.margins.period import Period, period_named
from stockroom.web import access
from stockroom.web.access import may
from stockroom.web.background import Told
from stockroom.web.result_cache import CachedView
from stockroom.web.site import progress, site

if TYPE_CHECKING:
    from stockroom.margins.accounts import Accounts

pages = Blueprint("money", __name__)
_MONTHS = 15  # offered to choose from
_XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


@pages.get("/margins")
@may(access.BOOKS)
def margins() -> str:
    """Show a period's margins by job, and what moved them."""
    name = _asked()
    return render_template("margins.html", seen=_accounts(name), period=name, months=_offered(site().now().date()))


@pages.get("/workbook")
@may(access.BOOKS)
def workbook() -> str:
    """Offer a period's workbook; it is made beside the pages."""
    name = _asked()
    made = _workbook(name) if request.args.get("make") else None
    return render_template("workbook.html", seen=made, period=name, months=_offered(site().now().date()))


@pages.get("/workbook/file")
@may(access.BOOKS)
def file() -> AnyResponse:
    """Give the workbook, made from the book as it stands; one that isn't is made first."""
    name = _asked()
    seen = _workbook(name)
    if seen.result is None or not seen.fresh:
        return go(url_for("money.workbook", period=name, make=1))
    head = {"Content-Disposition": f'attachment; filename="accounts-{name}.xlsx"'}
    return Response(seen.result, content_type=_XLSX, headers=head)


@pages.get("/margins/state")
@may(access.BOOKS)
def state() -> AnyResponse:
    """Say where a period's figures stand, for a page that waits for them."""
    return progress(f"{'workbook' if request.args.get('workbook') else 'accounts'} {_asked()}")


def _asked() -> str:
    """Read the period asked for: a month, a quarter or a year; this month unless said."""
    said = request.args.get("period", "").strip() or f"{site().now():%Y-%m}"
    period_named(said)
    return said


def _offered(today: date) -> list[str]:
    months = [today.year * 12 + today.month - 1 - back for back in range(_MONTHS)]
    return [f"{n // 12}-{n % 12 + 1:02d}" for n in months]


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
