"""Tax rates by date, the accountant's numbers, and the sites stock is kept at: what each is, and what is added."""

from collections.abc import Callable
from datetime import date
from functools import partial

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import UsageError
from stockroom.flows.accounts import closing
from stockroom.flows.book.opening import check_new_site, open_site, sites
from stockroom.flows.loading.lists import LISTS, entries
from stockroom.stock.tax import per_cent
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.beside import Checks, Faults, faults_of, told
from stockroom.web.site import role, say, shop, site
from stockroom.web.words import words

pages = Blueprint("accounts", __name__)
_NUMBER = "number:"


@pages.get("/tax-and-accounts")
@may(access.OWNER)
def accounts() -> str:
    """Show tax rates, account numbers and sites, with forms to add and change."""
    return _page({})


def _page(faults: Faults) -> str:
    book, day = site().book, site().now().date()
    items = [(e.key[0], e.name) for stem in ("materials", "jobs") for e in entries(book, LISTS[stem], day)]
    return render_template(
        "accounts.html",
        rates=closing.dated_tax_rates(book),
        usual=shop().tax_rate,
        numbers=closing.account_numbers(book),
        sites=sites(book),
        items=items,
        names=dict(items),
        today=day,
        faults=faults,
        typed=request.form,
    )


@pages.post("/tax-and-accounts/rate")
@may(access.OWNER)
def add_rate() -> Response | tuple[str, int]:
    """Let a tax rate hold from a day on, for everything or for one material or job."""
    if faults := faults_of(_checks()):
        return _page(faults), 400
    number = closing.add_tax_rate(site().book, _day(), _rate(), item=typed.field("item"), at=site().now(), who=role())
    say(words("Saved."), undo=number)
    return _back()


@pages.post("/tax-and-accounts/numbers")
@may(access.OWNER)
def save_numbers() -> Response | tuple[str, int]:
    """Give accounts the accountant's numbers."""
    if faults := faults_of(_checks()):
        return _page(faults), 400
    before = closing.account_numbers(site().book)
    changes = {name: number for name, number in _numbers().items() if before[name] != number}
    if changes:
        number = closing.give_account_numbers(site().book, changes, at=site().now(), who=role())
        say(words("Saved."), undo=number)
    return _back()


@pages.post("/tax-and-accounts/site")
@may(access.OWNER)
def add_site() -> Response | tuple[str, int]:
    """Open a site."""
    name = typed.field("site")
    if faults := faults_of(_checks()):
        return _page(faults), 400
    number = open_site(site().book, name, at=site().now(), who=role())
    say(words("Saved: %(names)s.", names=name), undo=number)
    return _back()


@pages.post("/tax-and-accounts/check")
@may(access.OWNER)
def check() -> Response:
    """Say to a form's script what is wrong so far."""
    return told(faults_of(_checks()))


def _checks() -> Checks:
    """Give what refuses each field of the form that was sent."""
    book = site().book
    every: dict[str, Callable[[], object]] = {
        "day": lambda: closing.check_rate_day(book, _day()),
        "rate": lambda: per_cent(_rate()),
        "item": lambda: closing.rated_item(book, typed.field("item")),
        "site": lambda: check_new_site(book, typed.field("site")),
    }
    numbers = {
        f"{_NUMBER}{name}": partial(closing.check_account_number, name, text) for name, text in _numbers().items()
    }
    return {name: check for name, check in every.items() if name in request.form} | numbers


def _day() -> date:
    day = typed.day(typed.field("day"))
    if day is None:
        raise UsageError("A rate needs its first day.", fix="Choose the day.")
    return day


def _rate() -> str:
    return typed.field("rate").replace(",", ".")


def _numbers() -> dict[str, str]:
    return {k.removeprefix(_NUMBER): text.strip() for k, text in request.form.items() if k.startswith(_NUMBER)}


def _back() -> Response:
    return go(url_for("accounts.accounts"), 303)
