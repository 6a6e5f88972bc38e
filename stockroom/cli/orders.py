"""Orders and deliveries."""

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.errors import UsageError
from stockroom.flows.bench import counter as at_counter
from stockroom.flows.bench import tickets
from stockroom.flows.bench.shelf import OpenOrder, flammable_stock, open_orders
from stockroom.flows.ordering import place as flows
from stockroom.flows.ordering.place import OrderedPacks
from stockroom.flows.ordering.receive import Arrived
from stockroom.flows.posting.undo import the_document
from stockroom.stock.money import milli_to_minor
from stockroom.stock.moves import Move
from stockroom.stock.orders import Delivery, DeliveryLine, Order, OrderLine
from stockroom.stock.quantities import Quantity, Unit
from stockroom.stock.tax import per_cent
from stockroom.stock.typed import measured


@click.command()
@click.argument("supplier")
@click.argument("lines", nargs=-1, metavar="[MATERIAL=PACKS]...")
@click.option("--suggested", is_flag=True, help="Order what 'reorder' suggests from this supplier (for the --site).")
@desk.entry
def order(counter: Counter, entry: TypedEntry, *, supplier: str, lines: tuple[str, ...], suggested: bool) -> None:
    """Place an order with a supplier.

    Each line is MATERIAL=PACKS, or MATERIAL@CODE=PACKS where the supplier has several packs of it; the supplier's own
    code alone will do as well.
    """
    if suggested and lines:
        raise UsageError("Lines and --suggested don't go together.", fix="Use one or the other.")
    if suggested:
        from stockroom.flows.ordering.order_forms import place_suggested

        site = entry.stamp.site if desk.was_typed("site") else None
        placed = place_suggested(counter.book, supplier, entry.stamp.happened, entry.stamp, site=site)
    else:
        who, day = flows.find_supplier(counter.book, supplier), entry.stamp.happened.date()
        placed = flows.place_order(counter.book, who, _asked(counter, lines, (who, day)), entry.stamp)
    missing = flows.to_free_carriage(counter.book, placed)
    facts = order_facts(placed, counter) | {"to_free_carriage": desk.price(missing, counter.shop)}
    words = [_order_words(placed, counter), *_free_words(placed, missing, counter)]
    coming = [line.material for line in placed.lines]
    flammable = flammable_stock(counter.book, coming)
    words += [flammable.words] if flammable else []
    entry.tell(facts, "\n".join(words))


def _free_words(placed: Order, missing: int, counter: Counter) -> list[str]:
    if not missing:
        return []
    more = f"{counter.formats.money(missing)} more would make carriage free."
    return [f"{more} To add it: stockroom close-order {placed.number}, and order again."]


@click.command()
@click.option("--late", is_flag=True, help="Only those that should have come already.")
@desk.view
def orders(counter: Counter, *, late: bool, as_json: bool) -> None:
    """List the orders of which something is outstanding."""
    found = [o for o in open_orders(counter.book, desk.now()) if o.late_days or not late]
    words = "\n".join(_open_words(o, counter) for o in found) or "Nothing is on order."
    facts = [
        order_facts(o.order, counter) | {"late_days": o.late_days, "tickets_waiting": [t.number for t in o.waiting]}
        for o in found
    ]
    desk.tell(facts, words, as_json=as_json)


@click.command()
@click.argument("order_number", required=False)
@click.argument("lines", nargs=-1, metavar="[MATERIAL=PACKS|AMOUNT]...")
@click.option("--from", "supplier", help="Supplier of goods no order asked for; then each line needs :COST.")
@click.option("--reference", default="", help="The supplier's delivery note.")
@click.option("--carriage", help="Carriage charged, before tax [as agreed, with the first goods].")
@click.option("--duties", help="Customs duties paid on it.")
@click.option(
    "--tax", help="Tax rate of the goods, per cent [the offer's, else the supplier's, the material's, yours]."
)
@click.option("--carriage-tax", help="Tax rate of the carriage, per cent [the supplier's, else yours].")
@desk.anyway_option
@desk.entry
def receive(
    counter: Counter, entry: TypedEntry, *, order_number: str | None, lines: tuple[str, ...], supplier: str | None,
    **slip: Any,
) -> None:  # fmt: skip
    """Receive goods against an order, or without one.

    Without lines, all that was outstanding has arrived. A line is MATERIAL=PACKS ('LACE-90=2'; the supplier's own code
    will do: 'Q-PB=2') or a measured amount
    ('BEND-OAK=183 dm2', or 'BEND-OAK=183 dm2/6.2 kg' where the price is by weight); add :COST where the price differs
    ('LACE-90=2:11.80'). Without an order there are no packs to count: each amount has its unit
    ('LACE-90=20 pairs:11.80').

    Carriage agreed on the order is entered with its first goods unless --carriage says otherwise (0 for none).

    Costs are before tax, as on price lists. Where the shop is not registered, its tax is added: it is part of the
    cost.
    """
    said_on_it = _slip(counter, slip)
    if supplier:
        every = ([order_number] if order_number else []) + list(lines)
        goods = _goods(counter, entry, supplier, every, said_on_it)
        done = flows.receive_goods(counter.book, goods, entry.stamp)
        said = [*done.remarks]
    elif order_number:
        arrived = [_arrived(counter, line) for line in lines]
        done = flows.receive_order(counter.book, order_number, arrived, entry.stamp, **said_on_it)
        said = [*done.remarks, *done.price_differences, *_carriage_words(counter, done)]
    else:
        raise UsageError("Which order arrived?", fix="Give its number, or --from SUPPLIER for goods without one.")
    state = f"Order {done.order.number} is {done.order.state.label}." if done.order else "Received without an order."
    again = "" if done.fresh else " It was entered already; nothing changed."
    came = _came(counter, done.document)
    facts = {
        "document": done.document,
        "new": done.fresh,
        "lines": [line for line, _ in came],
        "order": order_facts(done.order, counter) if done.order else None,
        "price_differences": list(done.price_differences),
        "remarks": list(done.remarks),
        "carriage_as_agreed": desk.price(done.agreed_carriage, counter.shop) if done.agreed_carriage else None,
    }
    words = [f"{state} Document {done.document}.{again}", *[line for _, line in came], *said]
    flammable = flammable_stock(counter.book, [line["material"] for line, _ in came]) if done.fresh else None
    words += [flammable.words] if flammable else []
    entry.tell(facts, "\n".join(words))


def _slip(counter: Counter, typed: dict[str, Any]) -> dict[str, Any]:
    """Read what the delivery note or invoice says beside its lines."""
    carriage, duties = (
        desk.money(typed[name], counter.shop) if typed[name] else None for name in ("carriage", "duties")
    )
    tax, carriage_tax = (f"{per_cent(typed[name]):f}" if typed[name] else "" for name in ("tax", "carriage_tax"))
    return {
        "carriage": carriage, "duties": duties or 0, "reference": typed["reference"],
        "tax_rate": tax, "carriage_tax_rate": carriage_tax,
    }  # fmt: skip


def _came(counter: Counter, number: int) -> list[tuple[dict[str, Any], str]]:
    """Say what came and what it cost, as a program and as a person reads it: by the invoice, and on the shelf."""
    document = the_document(counter.book, number)
    units = tickets.units(counter.book, [move.material for move in document.moves])
    lines: list[Any] = document.content["lines"]  # type: ignore[assignment]  # as written
    return [_came_line(counter, move, line, units) for move, line in zip(document.moves, lines, strict=False)]


def _came_line(
    counter: Counter, move: Move, line: Mapping[str, Any], units: Mapping[str, Unit]
) -> tuple[dict[str, Any], str]:
    unit, landed, digits = units[move.material], milli_to_minor(move.value or 0), counter.shop
    amount, cost = counter.formats.amount(move.nano, unit), counter.formats.money(line["cost"])
    on_top = "all costs, before tax" if counter.shop.tax_registered else "carriage and tax"
    more = f", {counter.formats.money(landed)} with {on_top}" if landed != line["cost"] else ""
    facts = {
        "material": move.material,
        **desk.exactly(move.nano, unit),
        "cost": desk.price(line["cost"], digits),
        "landed_cost": desk.price(landed, digits),
    }
    return facts, f"  {amount} {move.material} for {cost}{more}"


def _carriage_words(counter: Counter, done: flows.Received) -> list[str]:
    if not done.agreed_carriage:
        return []
    much = counter.formats.money(done.agreed_carriage)
    how = f"If the invoice differs: stockroom undo {done.document}, then receive it again with --carriage."
    return [f"Carriage of {much} is entered as agreed on the order. {how}"]


@click.command()
@click.argument("order_number")
@desk.renamed(
    "--format", "form", was="--as", default="text", show_default=True, help="text, csv, xlsx, or eml: an email to send."
)
@click.option("--to", "folder", type=click.Path(file_okay=False, path_type=Path), help="Folder to write it into.")
@click.pass_obj
def order_form(place: str, *, order_number: str, form: str, folder: Path | None) -> None:
    """Write a placed order for the supplier: text for an email, CSV or a spreadsheet."""
    from stockroom.flows.ordering.order_forms import order_form as write

    with desk.open_counter(place) as counter:
        name, content = write(counter.book, order_number, form)
    if folder is None and form == "text":
        click.echo(content.decode(), nl=False)
        return
    folder = folder or Path()
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(content)
    click.echo(str(folder / name))


@click.command()
@click.argument("order_number")
@desk.entry
def close_order(counter: Counter, entry: TypedEntry, *, order_number: str) -> None:
    """Close an order of which no more will come."""
    ended = flows.end_order(counter.book, order_number, entry.stamp)
    said = [f"Order {ended.number} is {ended.state.label}.", flows.not_coming(counter.book, ended)]
    entry.tell(order_facts(ended, counter), "\n".join(each for each in said if each))


def order_facts(placed: Order, counter: Counter) -> dict[str, object]:
    """Give an order's facts to a program."""
    units = _units(placed, counter)
    return {
        "order": placed.number,
        "supplier": placed.supplier,
        "state": str(placed.state),
        "placed": placed.placed.isoformat(),
        "expected": placed.expected.isoformat() if placed.expected else None,
        "carriage": desk.price(placed.carriage, counter.shop),
        "lines": [
            {
                "material": line.material,
                "code": line.supplier_code,
                "packs": line.packs,
                "cost": desk.price(line.cost, counter.shop),
                "outstanding": desk.exactly(line.outstanding, units[line.material]),
            }
            for line in placed.lines
        ],
    }


def _open_words(found: OpenOrder, counter: Counter) -> str:
    said = [_order_words(found.order, counter)]
    said += [f"  LATE by {_days(found.late_days)}"] if found.late_days else []
    for ticket in found.waiting:
        due = f", promised {counter.formats.weekday(ticket.promised)}" if ticket.promised else ""
        said.append(f"  Ticket {ticket.number} ({ticket.job}{due}) waits for it")
    return "\n".join(said)


def _days(number: int) -> str:
    return "1 day" if number == 1 else f"{number} days"


def _order_words(placed: Order, counter: Counter) -> str:
    goods = sum(line.cost for line in placed.lines)
    due = f", expected {counter.formats.weekday(placed.expected)}" if placed.expected else ""
    money, units = counter.formats.money, _units(placed, counter)
    head = f"Order {placed.number} with {placed.supplier}: {placed.state.label}{due}; "
    lines = [
        f"  {x.packs} x {x.material}{f' ({x.supplier_code})' if x.supplier_code else ''} {money(x.cost)}"
        f"{_rest_words(x, units[x.material], counter)}"
        for x in placed.lines
    ]
    paid = flows.to_pay(counter.book, placed)
    with_tax = f", with tax {money(paid)}" if paid else ""
    return "\n".join([f"{head}goods {money(goods)}, carriage {money(placed.carriage)}{with_tax}", *lines])


def _units(placed: Order, counter: Counter) -> dict[str, Unit]:
    """Give the units that the order's materials are shown in."""
    return tickets.units(counter.book, {line.material for line in placed.lines})


def _rest_words(line: OrderLine, unit: Unit, counter: Counter) -> str:
    """Say what is outstanding of a line, once something of it has come."""
    if not line.received:
        return ""
    rest = counter.formats.amount(line.outstanding, unit)
    return f", {rest} outstanding" if line.outstanding else ", all of it received"


def _asked(counter: Counter, lines: Sequence[str], of: tuple[str, date]) -> list[OrderedPacks]:
    """Read lines; `of` are the supplier, whose own codes will do for materials, and the day."""
    asked = []
    for line in lines:
        name, equals, packs = line.rpartition("=")
        if not equals or not packs.isdigit() or int(packs) < 1:
            raise UsageError(f"'{line}' is not an order line.", fix="Write it like LACE-90=2 (two packs).")
        typed, _, code = name.partition("@")
        theirs = None if code else flows.by_their_code(counter.book, of[0], typed, of[1])
        if theirs is not None:
            asked.append(OrderedPacks(material=theirs.material, packs=int(packs), supplier_code=theirs.supplier_code))
            continue
        material = at_counter.find_material(counter.book, typed)
        asked.append(OrderedPacks(material=material.code, packs=int(packs), supplier_code=code))
    return asked


def _arrived(counter: Counter, line: str) -> Arrived:
    name, equals, rest = line.rpartition("=")
    if not equals:
        raise UsageError(f"'{line}' is not a delivery line.", fix="Write it like LACE-90=2 or BEND=183 dm2.")
    much, _, cost = rest.partition(":")
    paid = desk.money(cost, counter.shop) if cost else None
    if much.strip().isdigit():
        return Arrived(material=name, packs=int(much), cost=paid)
    amount, weighed = measured(much)
    return Arrived(material=name, amount=amount, weighed=weighed, cost=paid)


def _goods(
    counter: Counter, entry: TypedEntry, supplier: str, lines: Sequence[str], slip: dict[str, Any]
) -> Delivery:  # fmt: skip
    made, code, day = [], flows.find_supplier(counter.book, supplier), entry.stamp.happened.date()
    for line in lines:
        arrived = _arrived(counter, line)
        theirs = flows.by_their_code(counter.book, code, arrived.material, day)
        material = at_counter.find_material(counter.book, theirs.material if theirs else arrived.material)
        if arrived.cost is None:
            raise UsageError(f"'{line}' has no cost.", fix="Add it, such as LACE-90=20 pairs:11.80.")
        came = arrived.amount
        if came is None and theirs is not None and arrived.packs:  # his code says what a pack is
            came = Quantity(nano=arrived.packs * theirs.pack.nano, dimension=theirs.pack.dimension)
        if came is None:
            raise UsageError(
                f"'{line}' has no unit, and without an order there is no pack to count.",
                fix=f"Write it like {material.code}={arrived.packs} {material.unit.name}:{line.rpartition(':')[2]}.",
            )
        amount, rate = material.to_base(came), slip["tax_rate"]
        pack: dict[str, Any] = {"supplier_code": theirs.supplier_code, "packs": arrived.packs} if theirs else {}
        made.append(DeliveryLine(material=material.code, amount=amount, cost=arrived.cost, tax_rate=rate, **pack))
    stamp = entry.stamp
    return Delivery(
        reference=slip["reference"] or stamp.key,
        supplier=code,
        received=stamp.happened,
        lines=tuple(made),
        carriage=slip["carriage"] or 0,
        carriage_tax_rate=slip["carriage_tax_rate"],
        duties=slip["duties"],
        site=stamp.site,
    )
