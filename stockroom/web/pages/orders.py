"""Orders: the desk with its suggestions, placing, documents, receiving, ending."""

from collections.abc import Iterable, Mapping

from flask import Blueprint, Response, jsonify, render_template, request, url_for
from flask import redirect as go
from werkzeug.wrappers import Response as AnyResponse

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench.counter import find_material
from stockroom.flows.bench.shelf import FlammableStock, flammable_stock, open_orders
from stockroom.flows.ordering import place as flows
from stockroom.flows.ordering.order_forms import order_card, supplier_names
from stockroom.flows.ordering.place import OrderedPacks
from stockroom.flows.ordering.receive import Arrived
from stockroom.phrases import phrase
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.stock.typed import measured
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.site import formats, look_ahead, role, say, shop, site, stamp
from stockroom.web.words import said, words

pages = Blueprint("orders", __name__)


@pages.get("/orders")
@may(access.ANYONE)
def orders() -> str:
    """List the orders of which something is outstanding."""
    found = open_orders(site().book, site().now())
    return render_template("orders.html", orders=found, names=supplier_names(site().book))


@pages.get("/orders/desk")
@may(access.OWNER)
def desk() -> str:
    """Suggest what to order from each supplier, to be changed and placed."""
    from stockroom.flows.ordering.preview import next_arrival, order_sum  # noqa: PLC0415 -- slow import

    seen = look_ahead()
    if seen.result is None:
        return render_template("desk.html", seen=seen, lists=())
    plan = seen.result.plan
    shown = []
    for each in plan.lists:
        asked = [OrderedPacks(material=x.material, packs=x.packs, supplier_code=x.supplier_code) for x in each.lines]
        shown.append((each, order_sum(plan, each.supplier, asked), next_arrival(plan, each.supplier)))
    others = [s for s in plan.outlook.question.suppliers if s.code not in {each.supplier for each, _, _ in shown}]
    flammable = {each.supplier: _flammable({x.material: x.amount for x in each.lines}) for each, _, _ in shown}
    return render_template(
        "desk.html", seen=seen, plan=plan, lists=shown, others=others, today=site().now().date(), flammable=flammable
    )


@pages.get("/orders/desk/supplier")
@may(access.OWNER)
def one_supplier() -> str:
    """Show everything a supplier offers, to add to the order."""
    from stockroom.flows.ordering.preview import next_arrival, offers_of, order_sum  # noqa: PLC0415 -- slow import

    code = request.args.get("supplier", "")
    seen = look_ahead()
    if seen.result is None:
        return render_template("desk.html", seen=seen, lists=())
    plan = seen.result.plan
    supplier = next((s for s in plan.outlook.question.suppliers if s.code == code), None)
    if supplier is None:
        raise RefusedError(
            phrase("There is no supplier %(code)s.", code=code), fix="Choose one from the suggested orders."
        )
    drawn = next((each for each in plan.lists if each.supplier == code), None)
    packs = {(x.material, x.supplier_code): x.packs for x in drawn.lines} if drawn else {}
    asked = [OrderedPacks(material=m, packs=n, supplier_code=c) for (m, c), n in packs.items()]
    return render_template(
        "desk_supplier.html",
        seen=seen,
        supplier=supplier,
        offers=offers_of(plan, code),
        packs=packs,
        sums=order_sum(plan, code, asked),
        last=next_arrival(plan, code),
        materials=plan.outlook.known.shelf.materials,
        rows={row.material: row for row in seen.result.rows},
    )


@pages.post("/orders/desk/sums")
@may(access.OWNER)
def sums() -> AnyResponse:
    """Add up changed packs: cost, carriage and risk, for the page's script."""
    from stockroom.flows.ordering.edit import edited_order  # noqa: PLC0415 -- slow import
    from stockroom.flows.ordering.preview import order_sum  # noqa: PLC0415 -- slow import

    seen = look_ahead()
    if seen.result is None:
        return jsonify(waiting=True)
    plan, asked = seen.result.plan, _asked()
    made = order_sum(plan, typed.field("supplier"), asked)
    write = formats()
    notes = []
    if made.below_minimum:
        notes.append(words("%(money)s more are needed for the smallest order.", money=write.money(made.below_minimum)))
    if made.to_free:
        notes.append(words("%(money)s more would make carriage free.", money=write.money(made.to_free)))
    notes.append(said(edited_order(plan, typed.field("supplier"), asked).compared))
    if (flammable := _flammable({line.material: line.amount for line in made.lines})) is not None:
        notes.append(said(flammable.words))
    return jsonify(
        goods=write.money(made.goods),
        carriage=write.money(made.carriage),
        total=write.money(made.total),
        paid=write.money(made.total + made.tax),
        notes=notes,
        lines={
            f"{line.material}:{line.supplier_code}": {
                "cost": write.money(line.cost),
                "chance": "–" if line.chance is None else write.percent(line.chance),
                "fault": said(line.fault),
            }
            for line in made.lines
        },
    )


@pages.post("/orders/place")
@may(access.OWNER)
def place() -> AnyResponse:
    """Place the order as it stands on the page."""
    asked = [each for each in _asked() if each.packs]
    placed = flows.place_order(site().book, typed.field("supplier"), asked, stamp())
    say(words("Order %(number)s is placed. Now send it: copy it, print it or save it.", number=placed.number))
    _say_flammable(line.material for line in placed.lines)
    return go(url_for("orders.card", number=placed.number), 303)


@pages.get("/orders/card")
@may(access.ANYONE)
def card() -> str:
    """Show an order: what is outstanding, its document, receiving it."""
    found = order_card(site().book, request.args.get("number", ""), site().now())
    return render_template("order.html", card=found, order=found.order)


@pages.get("/orders/document")
@may(access.BOOKS)
def document() -> Response:
    """Write an order for the supplier, as a file."""
    from stockroom.flows.ordering.order_forms import order_form  # noqa: PLC0415 -- slow import

    form = request.args.get("as", "text")
    name, content = order_form(site().book, request.args.get("number", ""), form)
    kind = {"text": "text/plain; charset=utf-8", "csv": "text/csv; charset=utf-8"}.get(form, "application/octet-stream")
    return Response(content, content_type=kind, headers={"Content-Disposition": f'attachment; filename="{name}"'})


@pages.post("/orders/receive")
@may(access.BENCH)
def receive() -> AnyResponse:
    """Receive what came of an order; without lines, all that is outstanding."""
    number, carriage = typed.field("number"), typed.field("carriage")
    lines = _arrived() if typed.field("part") else []
    if typed.field("part") and not lines:
        raise RefusedError("No line says what came.", fix="Fill in what arrived, or choose 'All received'.")
    paid = typed.money(carriage, shop()) if carriage else None
    done = flows.receive_order(site().book, number, lines, stamp(), carriage=paid)
    state = done.order.state if done.order else ""
    say(words("Order %(number)s: %(state)s.", number=number, state=said(state)), undo=done.document)
    for difference in (*done.remarks, *done.price_differences):
        say(said(difference), bad=True)
    if done.fresh and done.order:
        _say_flammable(line.material for line in done.order.lines if line.received)
    if done.agreed_carriage and role() != "bench":
        agreed = (
            "Carriage of %(money)s is entered as agreed. If the invoice differs: undo, and enter it with the goods."
        )
        say(words(agreed, money=formats().money(done.agreed_carriage)))
    return go(url_for("orders.orders"), 303)


@pages.get("/orders/without")
@may(access.OWNER)
def without() -> str:
    """Ask about goods that no order asked for."""
    return render_template("receive.html", suppliers=supplier_names(site().book))


@pages.post("/orders/without")
@may(access.OWNER)
def receive_without() -> AnyResponse:
    """Receive goods that no order asked for."""
    document = stamp()
    made = [_goods(*row) for row in typed.rows("material", "amount", "cost") if row[0]]
    if not made:
        raise RefusedError("No goods were named.", fix="Fill in at least one line.")
    goods = Delivery(
        reference=typed.field("reference") or document.key,
        supplier=flows.find_supplier(site().book, typed.field("supplier")),
        received=document.happened,
        lines=tuple(made),
        carriage=typed.money(typed.field("carriage") or "0", shop()),
    )
    done = flows.receive_goods(site().book, goods, document)
    say(words("The goods are received."), undo=done.document)
    for remark in done.remarks:
        say(said(remark), bad=True)
    _say_flammable(line.material for line in made)
    return go(url_for("orders.orders"), 303)


@pages.post("/orders/end")
@may(access.OWNER)
def end() -> AnyResponse:
    """Close an order whose rest will not come."""
    done = flows.end_order(site().book, typed.field("number"), stamp())
    say(words("Order %(number)s: %(state)s.", number=done.number, state=said(done.state)))
    return go(url_for("orders.orders"), 303)


def _flammable(more: Mapping[str, int]) -> FlammableStock | None:
    return flammable_stock(site().book, more, more)


def _say_flammable(about: Iterable[str]) -> None:
    """Set flammable stock beside the shop's limit, where what was ordered or came is flammable."""
    found = flammable_stock(site().book, list(about))
    if found is not None:
        say(said(found.words), bad=found.over)


def _goods(named: str, much: str, cost: str) -> DeliveryLine:
    material = find_material(site().book, named)
    amount = material.to_base(typed.amount(much, None))  # never a bare number: it could mean packs
    if not cost:  # a present costs 0, and is to be said: goods at nothing would spoil the margins
        raise UsageError(
            phrase("%(material)s: the cost is missing.", material=material.code), fix="Fill it in; 0 for a present."
        )
    return DeliveryLine(material=material.code, amount=amount, cost=typed.money(cost, shop()))


def _asked() -> list[OrderedPacks]:
    """Read the lines of an order: each row of the form has its material, the supplier's code, and packs."""
    return [
        OrderedPacks(material=material, packs=typed.whole(packs, words("packs")), supplier_code=code)
        for material, code, packs in typed.rows("material", "code", "packs")
        if packs
    ]


def _arrived() -> list[Arrived]:
    rows = typed.rows("material", "code", "packs", "amount", "cost", "lot", "expiry")
    return [_line(row) for row in rows if row[2] or row[3]]


def _line(row: tuple[str, ...]) -> Arrived:
    material, code, packs, much, cost, lot, expiry = row
    came, weighed = measured(much) if much else (None, None)
    return Arrived(
        material=material,
        packs=typed.whole(packs, words("packs")) if packs else None,
        amount=came,
        weighed=weighed,
        cost=typed.money(cost, shop()) if cost else None,
        lot=lot,
        expiry=typed.day(expiry),
        supplier_code=code,
    )
