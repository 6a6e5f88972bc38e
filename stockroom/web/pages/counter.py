"""The counter: sell, and write off what is lost."""

from dataclasses import replace
from fractions import Fraction

from flask import Blueprint, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response

from stockroom.errors import UsageError
from stockroom.flows.bench import counter as flows
from stockroom.flows.bench import parcels, receipts, sales
from stockroom.flows.bench.counter import CounterResult, goods
from stockroom.flows.bench.sales import Item, SaleWanted, Sold
from stockroom.flows.bench.tickets import job_names
from stockroom.flows.book.opening import check_site
from stockroom.stock.quantities import Quantity
from stockroom.stock.recipes import Extra
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import formats, say, shop, site, stamp
from stockroom.web.words import said as worded
from stockroom.web.words import words

pages = Blueprint("counter", __name__)


@pages.get("/counter")
@may(access.BENCH)
def sale() -> str:
    """Offer what is for sale."""
    return render_template(
        "counter.html", goods=goods(site().book, site().now().date()), chosen=request.args.get("material", "")
    )


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


@pages.post("/counter/sell-together")
@may(access.BENCH)
def sell_together() -> Response:
    """Sell several things in one."""
    lines = [(name[5:], text.strip()) for name, text in request.form.items() if name.startswith("sell:")]
    off, cost, paid = typed.field("discount"), typed.field("post_cost"), typed.field("price")
    items = [Item(material=code, amount=_amount(code, much)) for code, much in lines if much not in {"", "0"}]
    if not items:
        raise UsageError("Nothing is sold.", fix="Say how many beside what is sold.")
    packing = [(name, much) for name, much in typed.rows("pack", "pack_amount") if name]
    items += [Item(material=name, amount=_amount(name, much), packing=True) for name, much in packing]
    wanted = SaleWanted(
        items=tuple(items),
        percent=Fraction(typed.number(off.removesuffix("%").strip())) if off.endswith("%") else None,
        discount=typed.money(off, shop()) if off and not off.endswith("%") else 0,
        paid=typed.money(paid, shop()) if paid else None,
        by_post=bool(cost or typed.field("by_post")),
        post_cost=typed.money(cost, shop()) if cost else None,
    )
    done = sales.sell_together(site().book, wanted, stamp())
    _said_parts(done, words("Sold"), receipt=True)
    return go(url_for("counter.sale"), 303)


@pages.post("/counter/return")
@may(access.BENCH)
def customer_return() -> Response:
    """Enter a customer's return."""
    found = flows.find_material(site().book, typed.field("material"))
    refund, of = typed.field("refund"), typed.field("sale")
    done = sales.customer_return(
        site().book,
        found.code,
        typed.amount(typed.field("amount") or "1", found.unit),
        stamp(),
        of=typed.whole(of, words("documents")) if of else None,
        refund=typed.money(refund, shop()) if refund else None,
        wasted=bool(typed.field("wasted")),
    )
    _said_parts(done, words("Returned"))
    return go(url_for("counter.sale"), 303)


@pages.get("/parcels")
@may(access.BENCH)
def to_send() -> str:
    """List the parcels to send."""
    book = site().book
    names = job_names(book)
    found = parcels.parcels(book, site().now())
    return render_template("parcels.html", parcels=found, jobs=names, postage=parcels.price_list(book))


@pages.post("/parcels/sent")
@may(access.BENCH)
def sent() -> Response:
    """Enter that a parcel was sent."""
    kind, cost = typed.field("postage"), typed.field("post_cost")
    found = parcels.the_postage(site().book, kind) if kind else None
    packed = [Extra(material=code, amount=much) for code, much in found.packaging.items()] if found else []
    price = typed.money(cost, shop()) if cost else found.cost if found else None
    done = parcels.send(site().book, typed.field("parcel"), stamp(), post_cost=price, packaging=packed)
    say(words("Parcel %(name)s is sent.", name=done.name), undo=done.document)
    return go(url_for("counter.to_send"), 303)


@pages.get("/counter/receipt")
@may(access.BENCH)
def receipt() -> str:
    """Show a customer's receipt, to print."""
    number = typed.whole(request.args.get("document", ""), words("documents"))
    return render_template("receipt.html", receipt=receipts.make_receipt(site().book, number))


@pages.post("/counter/keep-part")
@may(access.BENCH)
def keep_part() -> Response:
    """Keep a part taken off a job, to be used again."""
    found = flows.find_material(site().book, typed.field("material"))
    amount = typed.amount(typed.field("amount") or "1", found.unit)
    _said(flows.keep_part(site().book, found.code, amount, stamp(), ticket=typed.field("ticket")), words("Kept"))
    return go(url_for("shelf.material", code=found.code), 303)


@pages.post("/counter/move")
@may(access.BENCH)
def move() -> Response:
    """Move stock of a material to another site."""
    found = flows.find_material(site().book, typed.field("material"))
    amount = typed.amount(typed.field("amount"), found.unit)
    there, document = check_site(site().book, typed.field("to")), stamp()
    from_here = replace(document, site=check_site(site().book, typed.field("from")))
    _said(
        flows.transfer(site().book, found.code, amount, from_here, to_site=there),
        words("Moved to %(site)s", site=there),
    )
    return go(url_for("shelf.material", code=found.code), 303)


@pages.post("/counter/shelf-price")
@may(access.OWNER)
def shelf_price() -> Response:
    """Change a shelf price from a day on."""
    price, day = typed.money(typed.field("price"), shop()), typed.day(typed.field("since")) or site().now().date()
    changed = flows.shelf_price(site().book, typed.field("material"), price, day, at=site().now())
    said = words("%(name)s: %(price)s from %(day)s.", name=changed.name, price=formats().money(price),
                 day=formats().day(day))  # fmt: skip
    say(said)
    return go(url_for("shelf.material", code=changed.code), 303)


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


def _amount(material: str, much: str) -> Quantity:
    return typed.amount(much or "1", flows.find_material(site().book, material).unit)


def _said_parts(done: Sold, verb: str, *, receipt: bool = False) -> None:
    if not done.fresh:
        say(words("That was entered already; nothing changed."))
        return
    names = ", ".join(done.materials[part.material].name for part in done.parts)
    total = done.total
    price = f" · {formats().money(abs(total))}" if total is not None else ""
    link = (url_for("counter.receipt", document=done.document), words("Receipt")) if receipt else None
    say(f"{verb}: {names}{price}", undo=done.document, link=link)
    for remark in done.remarks:
        say(worded(remark), bad=True)


def _said(done: CounterResult, verb: str) -> None:
    left = formats().amount(done.left, done.material.unit)
    price = f" · {formats().money(done.price)}" if done.price is not None else ""
    what = f"{verb}: {done.material.name}{price}"
    say(words("%(what)s; %(left)s left.", what=what, left=left), undo=done.document)
    for remark in done.remarks:
        say(worded(remark), bad=True)
