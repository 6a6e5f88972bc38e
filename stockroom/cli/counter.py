"""At the counter and the shelf: sell, write off, move, send back."""

from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.errors import UsageError
from stockroom.flows.bench import counter as flows
from stockroom.flows.bench import sales
from stockroom.flows.bench.counter import CounterResult
from stockroom.flows.bench.sales import Item, SaleWanted, Sold
from stockroom.flows.book.opening import check_site
from stockroom.stock.money import MILLI, half_up
from stockroom.stock.quantities import Quantity

_ONE_SALE = 2  # a material and how much of it


@click.command()
@click.argument("what", nargs=-1, required=True, metavar="MATERIAL [HOW_MUCH] | MATERIAL=HOW_MUCH[:PRICE]...")
@click.option("--price", help="Amount paid, all together [the shelf prices].")
@click.option("--discount", help="Taken off the whole: 2.00 or 10%.")
@click.option("--by-post", is_flag=True, help="Goes by post.")
@click.option("--post-cost", help="What the post costs you; or a name on your list of postage, with its packing.")
@click.option("--pack", multiple=True, metavar="MATERIAL=AMOUNT", help="What the parcel is packed in.")
@desk.anyway_option
@desk.entry
def sell(counter: Counter, entry: TypedEntry, *, what: tuple[str, ...], price: str | None, **typed: Any) -> None:
    """Sell over the counter.

    MATERIAL is a code or enough of a name; HOW_MUCH is in its own unit unless you name one. Several in one sale:
    stockroom sell LACE-90=2 POLISH=1:6.50 --discount 10%
    """
    paid = desk.money(price, counter.shop) if price else None
    if not any(typed.values()) and not any("=" in part for part in what):
        if len(what) > _ONE_SALE:
            raise UsageError("What is sold?", fix="Several things: MATERIAL=HOW_MUCH, each with its equals sign.")
        found = flows.find_material(counter.book, what[0])
        amount = desk.amount(what[1] if len(what) > 1 else "1", found.unit)
        done = flows.sell(counter.book, found.code, amount, entry.stamp, price=paid)
        told(counter, entry, done, "Sold", amount=amount)
        return
    lines = what if any("=" in part for part in what) else (f"{what[0]}={what[1] if len(what) > 1 else 1}",)
    items = [_item(counter, line) for line in lines]
    cost, packing = desk.postage_of(counter, typed["post_cost"])
    items += [Item(material=each.material, amount=each.amount, packing=True) for each in packing]
    items += [_item(counter, line, packing=True) for line in typed["pack"]]
    off = typed["discount"] or ""
    wanted = SaleWanted(
        items=tuple(items),
        paid=paid,
        percent=Fraction(desk.number(off.removesuffix("%").strip())) if off.endswith("%") else None,
        discount=desk.money(off, counter.shop) if off and not off.endswith("%") else 0,
        by_post=typed["by_post"] or cost is not None,
        post_cost=cost,
    )
    _told_parts(counter, entry, sales.sell_together(counter.book, wanted, entry.stamp))


@click.command()
@click.argument("material")
@click.argument("how_much", default="1")
@click.option("--sale", "of", type=click.IntRange(1), help="Document of the sale: its price is paid back.")
@click.option("--refund", help="Amount paid back [what it was sold at, else the shelf price].")
@click.option("--wasted", is_flag=True, help="It is no good any more: it goes to waste, not into stock.")
@desk.entry
def customer_return(
    counter: Counter, entry: TypedEntry, *, material: str, how_much: str, of: int | None, refund: str | None,
    wasted: bool,
) -> None:  # fmt: skip
    """Enter a customer's return, into stock or as waste."""
    found = flows.find_material(counter.book, material)
    paid = desk.money(refund, counter.shop) if refund else None
    amount = desk.amount(how_much, found.unit)
    done = sales.customer_return(counter.book, found.code, amount, entry.stamp, of=of, refund=paid, wasted=wasted)
    _told_parts(counter, entry, done)


@click.command()
@click.argument("material")
@click.argument("price")
@click.option("--from", "since", help="First day of it [today].")
@desk.json_option
@click.pass_obj
def shelf_price(place: str, /, *, material: str, price: str, since: str | None, as_json: bool) -> None:
    """Change a shelf price from a day on.

    Such as: shelf-price LACE-90 4.80 --from 2027-01-04. Sales of earlier days keep the price of theirs.
    """
    with desk.open_counter(place) as counter:
        day = desk.day(since) if since else desk.now().date()
        changed = flows.shelf_price(counter.book, material, desk.money(price, counter.shop), day, at=desk.now())
        much = counter.formats.money(changed.sell_price or 0)
        facts = {"material": changed.code, "price": desk.price(changed.sell_price or 0, counter.shop), "from": str(day)}
        elsewhere = changed.price_elsewhere
        also = f" ({counter.formats.fine(half_up(elsewhere[1] * MILLI))} a {elsewhere[0].name})" if elsewhere else ""
        said = f"{changed.code} ({changed.name}): {much} a {changed.unit.name}{also} from {counter.formats.day(day)}."
        desk.tell(facts, said, as_json=as_json)


@click.command()
@click.argument("document", type=int)
@click.option("--to", "folder", type=click.Path(file_okay=False, path_type=Path), help="Folder to write a page into.")
@desk.view
def receipt(counter: Counter, *, document: int, folder: Path | None, as_json: bool) -> None:
    """Write a customer's receipt of a sale or a finished ticket, with its tax.

    DOCUMENT is its number: see stockroom documents.
    """
    from stockroom.flows.bench.receipts import make_receipt
    from stockroom.show.receipts import receipt_facts, receipt_html, receipt_text

    made = make_receipt(counter.book, document)
    if folder is not None:
        folder.mkdir(parents=True, exist_ok=True)
        path = folder / f"receipt-{document}.html"
        path.write_text(receipt_html(made, counter.formats), "utf-8")
        desk.tell(receipt_facts(made, counter.shop) | {"file": str(path)}, f"{path}", as_json=as_json)
        return
    desk.tell(receipt_facts(made, counter.shop), receipt_text(made, counter.formats), as_json=as_json)


@click.command()
@click.argument("material")
@click.argument("how_much")
@desk.renamed("--kind", "kind", was="--as", type=click.Choice(list(flows.WRITE_OFFS)), default="waste",
              show_default=True, help="What sort of write-off.")  # fmt: skip
@click.option("--reason", default="", help="What happened to it.")
@desk.anyway_option
@desk.entry
def write_off(counter: Counter, entry: TypedEntry, *, material: str, how_much: str, kind: str, reason: str) -> None:
    """Write off waste or expired stock, or take something for own use."""
    found = flows.find_material(counter.book, material)
    amount = desk.amount(how_much, found.unit)
    done = flows.write_off(counter.book, found.code, amount, entry.stamp, kind=flows.WRITE_OFFS[kind], reason=reason)
    told(counter, entry, done, "Written off", amount=amount)


@click.command()
@click.argument("material")
@click.argument("how_much", default="1")
@click.option("--ticket", default="", help="The ticket it was taken off.")
@desk.entry
def keep_part(counter: Counter, entry: TypedEntry, *, material: str, how_much: str, ticket: str) -> None:
    """Keep a part taken off a job to be used again: it joins the shelf at no cost.

    A customer's own material needs no entry: leave the line out of the ticket (--leave-out).
    """
    found = flows.find_material(counter.book, material)
    amount = desk.amount(how_much, found.unit)
    done = flows.keep_part(counter.book, found.code, amount, entry.stamp, ticket=ticket)
    told(counter, entry, done, "Kept", amount=amount)


@click.command()
@click.argument("material")
@click.argument("how_much")
@click.argument("to_site")
@desk.anyway_option
@desk.entry
def move(counter: Counter, entry: TypedEntry, *, material: str, how_much: str, to_site: str) -> None:
    """Move stock to another site."""
    found = flows.find_material(counter.book, material)
    check_site(counter.book, to_site)
    amount = desk.amount(how_much, found.unit)
    done = flows.transfer(counter.book, found.code, amount, entry.stamp, to_site=to_site)
    told(counter, entry, done, f"Moved to {to_site}", amount=amount)


@click.command()
@click.argument("material")
@click.argument("how_much")
@click.option("--supplier", default="", help="Which supplier [the delivery's].")
@click.option("--credit", help="Amount credited, before tax [what it cost, where it was agreed that it may go back].")
@click.option("--delivery", type=click.IntRange(1), help="Document of the delivery it came with.")
@desk.anyway_option
@desk.entry
def send_back(
    counter: Counter,
    entry: TypedEntry,
    *,
    material: str,
    how_much: str,
    supplier: str,
    credit: str | None,
    delivery: int | None,
) -> None:
    """Return goods to a supplier for a credit.

    What may go back by its offer needs its --delivery only, as may-go-back lists it.
    """
    found = flows.find_material(counter.book, material)
    amount = desk.amount(how_much, found.unit)
    paid = None if credit is None else desk.money(credit, counter.shop)
    terms: dict[str, Any] = {"supplier": supplier, "credit": paid, "delivery": delivery}
    done = flows.send_back(counter.book, found.code, amount, entry.stamp, **terms)
    credited = "" if done.price is None else f", credited {counter.formats.money(done.price)}"
    facts = None if done.price is None else desk.price(done.price, counter.shop)
    told(counter, entry, replace(done, price=None), f"Sent back{credited}", amount=amount, credit=facts)


@click.command()
@desk.view
def may_go_back(counter: Counter, *, as_json: bool) -> None:
    """List what may go back to suppliers, and until when, the first last day first."""
    day, write = desk.now().date(), counter.formats
    lines, facts = [], []
    for each, material in flows.may_go_back(counter.book, day):
        much, held = (write.amount(nano, material.unit) for nano in (each.nano, each.there))
        kept = "" if each.nano == each.there else f" of {held}"
        paid = "not to be paid" if each.on_approval else "credited"
        left = f"{(each.until - day).days} days left"
        lines.append(
            f"until {write.day(each.until)} ({left})  {each.supplier}  {much}{kept} {material.name}, "
            f"{write.money(each.credit)} {paid}  (delivery {each.delivery})"
        )
        facts.append({
            "delivery": each.delivery,
            "supplier": each.supplier,
            "material": each.material,
            "supplier_code": each.supplier_code or None,
            **desk.exactly(each.nano, material.unit),
            "there": desk.exactly(each.there, material.unit),
            "packs": each.packs,
            "credit": desk.price(each.credit, counter.shop),
            "came": each.came.isoformat(),
            "until": each.until.isoformat(),
            "days_left": (each.until - day).days,
            "on_approval": each.on_approval,
        })  # fmt: skip
    hint = "To send some back: stockroom send-back MATERIAL HOW_MUCH --delivery DOCUMENT"
    desk.tell(facts, "\n".join([*lines, "", hint]) if lines else "Nothing may go back.", as_json=as_json)


def _item(counter: Counter, line: str, *, packing: bool = False) -> Item:
    name, equals, much = line.partition("=")
    if not equals:
        raise UsageError(f"'{line}' doesn't say how much is sold.", fix="Write it like LACE-90=2.")
    much, _, paid = much.partition(":")
    found = flows.find_material(counter.book, name)
    price = desk.money(paid, counter.shop) if paid else None
    return Item(material=found.code, amount=desk.amount(much, found.unit), price=price, packing=packing)


def _told_parts(counter: Counter, entry: TypedEntry, done: Sold) -> None:
    formats, total = counter.formats, done.total
    lines, facts = [], []
    for part in done.parts:
        unit = done.materials[part.material].unit
        price = "" if part.price is None else f" for {formats.money(abs(part.price))}"
        verb = "wasted" if part.wasted else "back" if part.nano < 0 else "sold"
        if verb == "sold" and not part.price:
            verb, price = "given with it", ""  # packing, or what is free
        left = done.left[part.material]
        below = "  <- below zero" if left < 0 else ""
        much, rest = formats.amount(abs(part.nano), unit), formats.amount(left, unit)
        lines.append(f"  {much} {part.material} {verb}{price}, {rest} left{below}")
        facts.append({
            "material": part.material,
            "sold": desk.exactly(part.nano, unit),
            "price": None if part.price is None else desk.price(part.price, counter.shop),
            "left": desk.exactly(left, unit),
        })  # fmt: skip
    head = f"Document {done.document}" + ("" if total is None else f": {formats.money(total)}") + "."
    again = "" if done.fresh else " That was entered already; nothing changed."
    taken = None if total is None else desk.price(total, counter.shop)
    said = {
        "document": done.document, "new": done.fresh, "price": taken, "lines": facts, "remarks": list(done.remarks),
    }  # fmt: skip
    entry.tell(said, "\n".join([head + again, *lines, *done.remarks, f"A receipt: stockroom receipt {done.document}"]))


def told(
    counter: Counter, entry: TypedEntry, done: CounterResult, verb: str, said: str = "", *,
    amount: Quantity | None = None, **more: Any,
) -> None:  # fmt: skip
    """Answer what a document at the counter did, and with how much: a slip of the unit is seen at once."""
    unit = done.material.unit
    facts = {
        "material": done.material.code,
        "document": done.document,
        "new": done.fresh,
        "left": desk.exactly(done.left, unit),
        "price": None if done.price is None else desk.price(done.price, counter.shop),
        "remarks": list(done.remarks),
        **more,
    }
    taken = f" for {counter.formats.money(done.price)}" if done.price is not None else ""
    again = "" if done.fresh else " That was entered already; nothing changed."
    left = counter.formats.amount(done.left, unit)
    below = " The book is below zero: see stockroom shelf." if done.left < 0 else ""
    much = f"{counter.formats.amount(done.material.to_base(amount).nano, unit)} " if amount else ""
    what = f"{verb}: {much}{done.material.name}{taken}; {left} left (document {done.document})."
    entry.tell(facts, "\n".join([f"{what}{again}{said}{below}", *done.remarks]))
