"""The counter: sell, and write off what is lost."""

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import UsageError
from stockroom.flows.bench import counter as flows
from stockroom.flows.bench.counter import CounterResult, goods
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import formats, say, shop, site, stamp
from stockroom.web.words import words

pages = Blueprint("counter", __name__)


@pages.get("/counter")
@may(access.BENCH)
def sale() -> str:
    """Offer what is for sale."""
    return render_template("counter.html", goods=goods(site().book), chosen=request.args.get("material", ""))


@pages.post("/counter/sell")
@may(access.BENCH)
def sell() -> Response:
    """Sell over the counter."""
    found = flows.find_material(site().book, typed.field("material"))
    price = typed.field("price")
    paid = typed.money(price, shop()) if price else None
    amount = typed.amount(typed.field("amount") or "1", found.unit)
    _said(flows.sell(site().book, found.code, amount, stamp(), price=paid), words("Sold"))
    return go(url_for("counter.sale"), 303)


@pages.post("/counter/write-off")
@may(access.BENCH)
def write_off() -> Response:
    """Write off waste or expired stock, or take something for own use."""
    kind = flows.WRITE_OFFS.get(typed.field("kind"))
    if kind is None:
        raise UsageError("Say why it is written off.", fix="Choose one of the reasons on the material's page.")
    found = flows.find_material(site().book, typed.field("material"))
    amount = typed.amount(typed.field("amount"), found.unit)
    done = flows.write_off(site().book, found.code, amount, stamp(), kind=kind, reason=typed.field("reason"))
    _said(done, words("Written off"))
    return go(url_for("shelf.material", code=found.code), 303)


def _said(done: CounterResult, verb: str) -> None:
    left = formats().amount(done.left, done.material.unit)
    price = f" · {formats().money(done.price)}" if done.price is not None else ""
    what = f"{verb}: {done.material.name}{price}"
    say(words("%(what)s; %(left)s left.", what=what, left=left), undo=done.document)
