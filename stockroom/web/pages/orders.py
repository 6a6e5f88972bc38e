"""Orders: the desk with its suggestions, placing, documents, receiving, ending."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

from flask import Blueprint, Response, g, jsonify, render_template, request, url_for
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
from stockroom.show.languages import language_of
from stockroom.stock.lists import ReorderList
from stockroom.stock.money import major
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.stock.typed import measured
from stockroom.web import access, typed
from stockroom.web.access import may
from stockroom.web.background import Told
from stockroom.web.result_cache import CachedView, Outlooks
from stockroom.web.site import formats, look_ahead, role, say, shop, site, stamp
from stockroom.web.words import said, words

if TYPE_CHECKING:
    from stockroom.flows.ordering.plan import OrderPlan
    from stockroom.flows.ordering.preview import OrderPreview

pages = Blueprint("orders", __name__)
COVER_DAYS = 182  # that the bars of the desk show: half a year
_KINDS = {"text": "text/plain; charset=utf-8", "csv": "text/csv; charset=utf-8", "eml": "message/rfc822"}


@pages.get("/orders")
@may(access.ANYONE)
def orders() -> str:
    """List the orders of which something is outstanding, those just placed first, ready to send."""
    book, now = site().book, site().now()
    found = open_orders(book, now)
    wanted = request.args.getlist("new") if role() == "owner" else []
    placed = [order_card(book, each.order.number, now) for each in found if each.order.number in wanted]
    return render_template("orders.html", orders=found, placed=placed, names=supplier_names(book))


@pages.route("/orders/desk", methods=["GET", "POST"])
@may(access.OWNER)
def desk() -> str:
    """Suggest what to order from each supplier, to be changed and placed; what was changed is priced anew."""
    from stockroom.flows.ordering.edit import both_priced, edited_lines, urgent_first  # noqa: PLC0415 -- slow import
    from stockroom.flows.ordering.preview import desk_orders  # noqa: PLC0415 -- as above

    cash = request.values.get("cash", "").strip()
    seen, plan = _planned(cash)
    if plan is None:
        return render_template("desk.html", seen=seen, cash=cash, orders=())
    changed = _lines()
    found = desk_orders(plan, changed)
    urgent = urgent_first(plan)
    others = [s for s in plan.outlook.question.suppliers if s.code not in {each.drawn.supplier for each in found}]
    return render_template(
        "desk.html",
        seen=seen,
        cash=cash,
        orders=found,
        changed=edited_lines(plan, changed).words if changed else "",
        summary=plan.summary,
        others=others,
        lacks=lacks,
        short=_short,
        covered=_covered,
        totals=_totals([each.sums for each in found]),
        ways=both_priced(plan, urgent) if urgent else (),
        urgent=_instead(plan.lists, urgent.lists) if urgent else (),
    )


def _instead(suggested: Sequence[ReorderList], other: Sequence[ReorderList]) -> dict[str, int]:
    """Give the packs of another basket line by line, none where only the suggested one has some."""

    def packs(lists: Sequence[ReorderList]) -> dict[str, int]:
        return {f"{x.supplier} {x.material} {x.supplier_code}": x.packs for each in lists for x in each.lines}

    return dict.fromkeys(packs(suggested), 0) | packs(other)


@pages.get("/orders/desk/state")
@may(access.OWNER)
def state() -> Response:
    """Say where the suggestion within a limit stands, for a page that waits for it."""
    seen, _ = _planned(request.args.get("cash", "").strip())
    return jsonify(fresh=seen.fresh, running=seen.running, fault=seen.fault)


@pages.get("/orders/desk/why")
@may(access.OWNER)
def why() -> str:
    """Say why a line is suggested, as a page or, for the desk's script, as a part of one."""
    from stockroom.flows.ordering.preview import line_preview, next_arrival  # noqa: PLC0415 -- slow import

    cash = request.args.get("cash", "").strip()
    seen, plan = _planned(cash)
    if plan is None:
        return render_template("desk_why.html", seen=seen, cash=cash, now=None)
    packs = request.args.get("packs", "")
    supplier, asked = _desk_line(request.args.get("line", ""), packs or "0")
    of_his = [line for each in plan.lists if each.supplier == supplier for line in each.lines]
    named = (asked.material, asked.supplier_code)
    suggested = next((line for line in of_his if (line.material, line.supplier_code) == named), None)
    if suggested and not packs:
        asked = replace(asked, packs=suggested.packs)
    return render_template(
        "desk_why.html",
        seen=seen,
        cash=cash,
        preview=line_preview(plan, supplier, asked),
        line=suggested,
        material=plan.outlook.known.shelf.materials[asked.material],
        row=seen.result.row(asked.material) if isinstance(seen.result, Outlooks) else None,
        last=next_arrival(plan, supplier),
        part=bool(request.args.get("part")),
    )


@pages.get("/orders/desk/supplier")
@may(access.OWNER)
def one_supplier() -> str:
    """Show everything a supplier offers, to add to the order."""
    from stockroom.flows.ordering.preview import next_arrival, offers_of, order_sum  # noqa: PLC0415 -- slow import

    code = request.args.get("supplier", "")
    seen = look_ahead()
    if seen.result is None:
        return render_template("desk.html", seen=seen, orders=())
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
        lacks=lacks,
        last=next_arrival(plan, code),
        materials=plan.outlook.known.shelf.materials,
        rows={row.material: row for row in seen.result.rows},
    )


@pages.post("/orders/desk/sums")
@may(access.OWNER)
def sums() -> AnyResponse:
    """Add up changed packs: cost, carriage, how long they last and the risk, for the page's script."""
    from stockroom.flows.ordering.edit import edited_lines  # noqa: PLC0415 -- slow import
    from stockroom.flows.ordering.preview import line_preview, order_sum  # noqa: PLC0415 -- as above

    _, plan = _planned(typed.field("cash"))
    if plan is None:
        return jsonify(waiting=True)
    asked, write = _lines(), formats()
    by_supplier = _by_supplier(asked)
    made = {supplier: order_sum(plan, supplier, lines) for supplier, lines in by_supplier.items()}
    lines = {}
    for supplier, each in asked:
        now = line_preview(plan, supplier, each)
        lines[f"{supplier} {each.material} {each.supplier_code}"] = {
            "cost": write.money(now.cost),
            "lasts": _short(now.lasts_until),
            "cover": _covered(now.lasts_until) - _covered(now.runs_out),
            "chance": "–" if now.chance is None else write.percent(now.chance),
            "fault": said(now.fault),
        }
    return jsonify(
        orders={supplier: _written(each) for supplier, each in made.items()},
        all=_written(_totals(list(made.values()))) | {"notes": said(edited_lines(plan, asked).compared)},
        lines=lines,
    )


@pages.post("/orders/place")
@may(access.OWNER)
def place() -> AnyResponse:
    """Place the orders as they stand on the page, or that of one supplier."""
    only = typed.field("only")
    asked = {
        supplier: bought
        for supplier, lines in _by_supplier(_lines()).items()
        if only in ("", supplier) and (bought := [each for each in lines if each.packs])
    }
    if not asked:
        raise RefusedError("The order has no lines.", fix="Give packs of one material at least.")
    placed = flows.place_orders(site().book, asked, stamp())
    for each in placed:
        say(words("Order %(number)s is placed. Now send it: copy it, print it or save it.", number=each.number))
    _say_flammable({line.material for each in placed for line in each.lines})
    if len(placed) == 1:
        return go(url_for("orders.card", number=placed[0].number), 303)
    return go(url_for("orders.orders", new=[each.number for each in placed]), 303)


@pages.get("/orders/card")
@may(access.ANYONE)
def card() -> str:
    """Show an order: what is outstanding, its document, receiving it."""
    found = order_card(site().book, request.args.get("number", ""), site().now())
    return render_template("order.html", card=found, order=found.order)


@pages.get("/orders/print")
@may(access.BOOKS)
def printed() -> str:
    """Show an order as it goes to the supplier: an A4 sheet, in the language of the shop."""
    g.language = language_of(shop().locale)
    found = order_card(site().book, request.args.get("number", ""), site().now())
    return render_template("order_print.html", card=found, order=found.order)


@pages.get("/orders/document")
@may(access.BOOKS)
def document() -> Response:
    """Write an order for the supplier, as a file."""
    from stockroom.flows.ordering.order_forms import order_form  # noqa: PLC0415 -- slow import

    form = request.args.get("as", "text")
    name, content = order_form(site().book, request.args.get("number", ""), form)
    kind = _KINDS.get(form, "application/octet-stream")
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
    rest = flows.not_coming(site().book, done)
    if rest:
        say(said(rest))
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


def _planned(cash: str) -> tuple[CachedView[Any], "OrderPlan | None"]:
    """Give the suggested orders, within so much cash if any is named, as far as they are worked out."""
    if not cash:
        seen = look_ahead()
        return seen, seen.result.plan if seen.result else None
    most = major(typed.money(cash, shop()), shop().currency_digits)
    if most < 0:
        raise UsageError("The cash to spend can't be below zero.", fix="Leave the field empty for no limit.")
    book, now = site().book, site().now()

    def work(_: Told) -> "OrderPlan":
        from stockroom.flows.ordering.plan import plan_order, what_if  # noqa: PLC0415 -- slow import

        return plan_order(book, now, what_if=what_if(book, cash=most))

    within: CachedView[OrderPlan] = site().keeper.look(f"orders within {most}", now, work)
    return within, within.result


def _lines() -> list[tuple[str, OrderedPacks]]:
    """Read the lines of a form with orders: each row says supplier, material and the supplier's code, and packs."""
    return [_desk_line(line, packs) for line, packs in typed.rows("line", "packs") if packs]


def _desk_line(line: str, packs: str) -> tuple[str, OrderedPacks]:
    supplier, material, code = (*line.split(" ", 2), "", "")[:3]
    if not material:
        raise UsageError("The rows of the form don't fit together.", fix="Open the page again and repeat the entry.")
    return supplier, OrderedPacks(material=material, packs=typed.whole(packs, words("packs")), supplier_code=code)


def _by_supplier(lines: Sequence[tuple[str, OrderedPacks]]) -> dict[str, list[OrderedPacks]]:
    found: dict[str, list[OrderedPacks]] = {}
    for supplier, each in lines:
        found.setdefault(supplier, []).append(each)
    return found


def _totals(made: Sequence["OrderPreview"]) -> dict[str, int]:
    """Add up several orders."""
    parts = {name: sum(getattr(each, name) for each in made) for name in ("goods", "carriage", "total", "tax")}
    return parts | {"paid": parts["total"] + parts["tax"]}


def lacks(made: "OrderPreview") -> str:
    """Say what an order still lacks to be taken and to come without carriage, and what flammable stock it makes."""
    said_ = []
    if made.below_minimum:
        least = formats().money(made.below_minimum)
        said_.append(words("%(money)s more are needed for the smallest order.", money=least))
    if made.to_free:
        said_.append(words("%(money)s more would make carriage free.", money=formats().money(made.to_free)))
    if (flammable := _flammable({line.material: line.amount for line in made.lines})) is not None:
        said_.append(f"▲ {said(flammable.words)}")
    return " ".join(said_)


def _covered(until: date | None) -> int:
    """Days from today until a day, as far as the bars of the desk reach; no day is beyond."""
    return COVER_DAYS if until is None else min(max((until - site().now().date()).days, 0), COVER_DAYS)


def _short(day: date | None) -> str:
    """Write a day briefly."""
    return "–" if day is None else formats().near_day(day, site().now().date())


def _written(made: "OrderPreview | dict[str, int]") -> dict[str, str]:
    """Write an order's sums, and what it lacks, as the page shows them."""
    write = formats()
    if isinstance(made, dict):
        return {name: write.money(made[name]) for name in ("goods", "carriage", "total", "paid")}
    return _written(_totals([made])) | {"notes": lacks(made)}


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
