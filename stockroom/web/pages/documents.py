"""Documents: the last ones entered, and taking one back."""

from datetime import date

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench import counter
from stockroom.flows.ordering.order_forms import supplier_names
from stockroom.flows.posting import price_corrections as prices
from stockroom.flows.posting import undo as flows
from stockroom.flows.posting.post import changes_said
from stockroom.flows.posting.undo import undo
from stockroom.phrases import as_phrase
from stockroom.stock.moves import Document, DocumentKind
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import formats, role, say, shop, site, stamp
from stockroom.web.typed import inside
from stockroom.web.words import said, words

pages = Blueprint("documents", __name__)
_SHOWN = 40


@pages.get("/documents")
@may(access.ANYONE)
def documents() -> str:
    """List the last documents entered."""
    found = flows.newest(site().book, _SHOWN)
    return render_template(
        "documents.html", documents=found, daily=flows.DAILY, changes_said=changes_said, about=_about
    )


@pages.get("/documents/delivery")
@may(access.OWNER)
def delivery() -> str:
    """Show what a delivery's goods cost, to be corrected by its invoice."""
    number = typed.whole(request.args.get("number", ""), words("documents"))
    return render_template("delivery.html", card=prices.delivery_card(site().book, number))


@pages.post("/documents/correct-price")
@may(access.OWNER)
def correct_price() -> Response:
    """Take over what the invoice asks for a delivery's goods; what is left blank stays."""
    number = typed.whole(typed.field("number"), words("documents"))
    asked = {code: typed.money(cost, shop()) for code, cost in typed.rows("material", "cost") if cost}
    if not asked:
        raise UsageError("No price was typed.", fix="Fill in what all of a material in the delivery cost.")
    done = prices.correct_price(site().book, number, asked, stamp())
    write = formats()
    for code, (before, after) in done.changes.items():
        facts = {"material": code, "after": write.money(after), "before": write.money(before)}
        say(words("%(material)s: %(after)s instead of %(before)s.", **facts), undo=done.number)
    return go(url_for("documents.delivery", number=number), 303)


@pages.post("/documents/charge-later")
@may(access.OWNER)
def charge_later() -> Response:
    """Enter carriage or a credit that was invoiced after a delivery."""
    number, what = typed.whole(typed.field("number"), words("documents")), typed.field("what")
    if what not in (prices.CARRIAGE, prices.CREDIT):
        raise UsageError("Say what was invoiced.", fix="Choose carriage or a credit.")
    amount = typed.money(typed.field("amount"), shop())
    done = prices.charge_later(site().book, number, {what: amount}, stamp(), tax_rate=typed.field("tax_rate"))
    told = words("Carriage") if what == prices.CARRIAGE else words("Credit note")
    say(words("%(what)s of %(money)s is entered.", what=told, money=formats().money(amount)), undo=done.number)
    return go(url_for("documents.delivery", number=number), 303)


@pages.get("/documents/may-go-back")
@may(access.BENCH)
def may_go_back() -> str:
    """List what may go back to suppliers, and until when."""
    day = site().now().date()
    goods = counter.may_go_back(site().book, day)
    return render_template("may_go_back.html", goods=goods, suppliers=supplier_names(site().book), today=day)


@pages.post("/documents/send-back")
@may(access.OWNER)
def send_back() -> Response:
    """Enter goods of a delivery that go back to its supplier for a credit; blank: what was agreed."""
    number = typed.whole(typed.field("number"), words("documents"))
    supplier = str(prices.delivery_card(site().book, number).document.content.get("supplier", ""))
    material = counter.find_material(site().book, typed.field("material"))
    amount = typed.amount(typed.field("amount"), material.unit)
    credit = typed.field("credit")
    paid = typed.money(credit, shop()) if credit else None
    done = counter.send_back(
        site().book, material.code, amount, stamp(), supplier=supplier, credit=paid, delivery=number
    )
    say(words("Sent back: %(material)s.", material=material.name), undo=done.document)
    return go(url_for("documents.delivery", number=number), 303)


@pages.post("/documents/undo")
@may(access.BENCH)
def undo_document() -> Response:
    """Take a document back, or put it in force again; at the bench, only what is done there."""
    number = typed.whole(typed.field("document"), words("documents"))
    if role() != "owner" and flows.work_behind(site().book, number) not in flows.DAILY:
        raise RefusedError("Only the owner can undo that.", fix="Ask the owner.")
    done = undo(site().book, number, stamp())
    what = f"{said(done.document.kind)} {_about(done.document)}".strip()
    say(words("Undone: %(what)s.", what=what), undo=done.number)
    return go(inside(typed.field("then")) or url_for("documents.documents"), 303)


def _about(document: Document) -> str:
    """Say what a document is about: the days of a closing as the shop writes them, changed lists by words of ours."""
    if document.kind is DocumentKind.PERIOD:
        first, last = (date.fromisoformat(str(document.content[name])) for name in ("first", "through"))
        return f"{formats().day(first)} – {formats().day(last)}"
    lists = document.content.get("lists")
    subject = document.subject
    return ", ".join(said(as_phrase(each)) for each in subject.split(", ")) if lists else subject
