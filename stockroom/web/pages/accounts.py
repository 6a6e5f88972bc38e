"""Tax rates by date, the accountant's numbers, and the sites stock is kept at: what each is, and what is added."""

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import UsageError
from stockroom.flows.accounts import closing
from stockroom.flows.book.opening import open_site, sites
from stockroom.flows.loading.lists import LISTS, entries
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import role, say, shop, site
from stockroom.web.words import words

pages = Blueprint("accounts", __name__)


@pages.get("/tax-and-accounts")
@may(access.OWNER)
def accounts() -> str:
    """Show tax rates, account numbers and sites, with forms to add and change."""
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
    )


@pages.post("/tax-and-accounts/rate")
@may(access.OWNER)
def add_rate() -> Response:
    """Let a tax rate hold from a day on, for everything or for one material or job."""
    day = typed.day(typed.field("day"))
    if day is None:
        raise UsageError("A rate needs its first day.", fix="Choose the day.")
    rate = typed.field("rate").replace(",", ".")
    number = closing.add_tax_rate(site().book, day, rate, item=typed.field("item"), at=site().now(), who=role())
    say(words("Saved."), undo=number)
    return _back()


@pages.post("/tax-and-accounts/numbers")
@may(access.OWNER)
def save_numbers() -> Response:
    """Give accounts the accountant's numbers."""
    prefix, before = "number:", closing.account_numbers(site().book)
    asked = {k.removeprefix(prefix): text.strip() for k, text in request.form.items() if k.startswith(prefix)}
    changes = {name: number for name, number in asked.items() if before.get(name, "") != number}
    if changes:
        number = closing.give_account_numbers(site().book, changes, at=site().now(), who=role())
        say(words("Saved."), undo=number)
    return _back()


@pages.post("/tax-and-accounts/site")
@may(access.OWNER)
def add_site() -> Response:
    """Open a site."""
    name = typed.field("name")
    number = open_site(site().book, name, at=site().now(), who=role())
    say(words("Saved: %(names)s.", names=name), undo=number)
    return _back()


def _back() -> Response:
    return go(url_for("accounts.accounts"), 303)
