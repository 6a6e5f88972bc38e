"""Closed periods: closing a month, what came too late for it, and the list of stock to count and sign."""

from datetime import date, timedelta

from flask import Blueprint, Response, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.errors import UsageError
from stockroom.flows.accounts.closing import PeriodsState, close_period, state_of_periods
from stockroom.margins.period import Period, period_named, periods_until
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import formats, say, site, spreadsheet, stamp, to_print
from stockroom.web.words import words

pages = Blueprint("periods", __name__)
_LATE = 40  # documents shown, the newest first


@pages.get("/periods")
@may(access.BOOKS)
def periods() -> str:
    """List what is closed and what came too late, with the month that could be closed next."""
    found, today = state_of_periods(site().book), site().now().date()
    late = found.late[: -_LATE - 1 : -1]
    due = _due(found, today)
    ready = [(name, called) for name, called in offered(due) if _may_close(found, period_named(name), today)]
    return render_template("periods.html", found=found, late=late, due=due, periods=ready, today=today)


@pages.post("/periods/close")
@may(access.OWNER)
def close() -> AnyResponse:
    """Close a period for good; the owner must have ticked that it can't be reopened."""
    period = period_named(typed.field("period"))
    if not typed.field("final"):
        raise UsageError("A closed period is never reopened.", fix="Tick that you know it, then close.")
    done = close_period(site().book, period, stamp())
    facts = {"day": formats().day(done.period.last), "value": formats().milli(done.value)}
    say(words("Closed through %(day)s; stock %(value)s.", **facts))
    for caution in done.cautions:
        say(caution, bad=True)
    return go(url_for("periods.periods"), 303)


@pages.get("/periods/stock-list")
@may(access.BOOKS)
def stock_list() -> Response:
    """Give the list of stock at the end of a day, to print or as a spreadsheet."""
    from stockroom.flows.accounts.period import make_accounts  # noqa: PLC0415 -- slow import
    from stockroom.show.stock_list import stock_list_html, stock_list_xlsx  # noqa: PLC0415 -- as above

    day = typed.day(request.args.get("day", "")) or site().now().date()
    made = make_accounts(site().book, Period(first=day, last=day))
    if request.args.get("as") == "xlsx":
        return spreadsheet(stock_list_xlsx(made), f"stock-list-{day}.xlsx")
    return to_print(stock_list_html(made), f"stock-list-{day}.html")


def offered(period: str = "") -> list[tuple[str, str]]:
    """Give the periods one asks for, and the one asked for, each with what it is called."""
    names = periods_until(site().now().date())
    return [(name, _called(name)) for name in dict.fromkeys([*([period] if period else []), *names])]


def _called(name: str) -> str:
    year, _, part = name.partition("-")
    if part.startswith("Q"):
        return words("Quarter %(number)s of %(year)s", number=part[1:], year=year)
    return formats().month(period_named(name).first) if part else year


def _may_close(found: PeriodsState, period: Period, today: date) -> bool:
    """Say whether a period is over, and not closed yet."""
    return period.last < today and all(period.last > each.through for each in found.closings)


def _due(found: PeriodsState, today: date) -> str:
    """Name the month to close next: the one after the last closed, once it is over; else the last one over."""
    over = today.replace(day=1) - timedelta(days=1)
    if not found.closings:
        return f"{over:%Y-%m}"
    following = max(closing.through for closing in found.closings) + timedelta(days=1)
    return f"{following:%Y-%m}" if following <= over else ""
