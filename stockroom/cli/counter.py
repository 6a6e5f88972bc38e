"""At the counter and the shelf: sell, write off, offcut, move, send back."""

from typing import Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.flows.bench import counter as flows
from stockroom.flows.bench.counter import CounterResult
from stockroom.flows.book.opening import check_site


@click.command()
@click.argument("material")
@click.argument("how_much", default="1")
@click.option("--price", help="Amount paid, all together [the shelf price].")
@desk.anyway_option
@desk.entry
def sell(counter: Counter, entry: TypedEntry, *, material: str, how_much: str, price: str | None) -> None:
    """Sell over the counter.

    MATERIAL is a code or enough of a name; HOW_MUCH is in its own unit unless you name one.
    """
    found = flows.find_material(counter.book, material)
    paid = desk.money(price, counter.shop) if price else None
    amount = desk.amount(how_much, found.unit)
    done = flows.sell(counter.book, found.code, amount, entry.stamp, price=paid)
    _told(counter, entry, done, "Sold")


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
    _told(counter, entry, done, "Written off")


@click.command()
@click.argument("sheet")
@click.argument("kept_as")
@click.argument("area")
@click.option("--from-sheet", is_flag=True, help="No job was cut from this piece: all of it leaves the sheet.")
@desk.anyway_option
@desk.entry
def offcut(counter: Counter, entry: TypedEntry, *, sheet: str, kept_as: str, area: str, from_sheet: bool) -> None:
    """Store an offcut: it joins the offcuts, and leaves the sheet unless jobs have drawn it as waste.

    SHEET is the material it was cut from, KEPT_AS the offcut material, AREA its usable area: stockroom offcut
    bend off-bend '3 dm2'. What recipes add for cutting has left the sheet with the jobs already.
    """
    from stockroom.flows.bench.offcuts import keep_offcut as keep

    source = flows.find_material(counter.book, sheet)
    size = desk.amount(area, source.unit)
    kept = flows.find_material(counter.book, kept_as)
    done = keep(counter.book, source.code, kept.code, (size, size), entry.stamp, from_sheet=from_sheet)
    write = counter.formats.amount
    rest = source.to_base(size).nano - done.drawn
    leaves = f"{write(rest, source.unit)} leaves the sheet" if rest else "nothing leaves the sheet a second time"
    said = f" Jobs had drawn {write(done.drawn, source.unit)} of it as waste: {leaves}." if done.drawn else ""
    _told(counter, entry, done.moved, "Stored", said)


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
    _told(counter, entry, done, f"Moved to {to_site}")


@click.command()
@click.argument("material")
@click.argument("how_much")
@click.option("--supplier", required=True, help="Which supplier.")
@click.option("--credit", required=True, help="Amount credited, before tax.")
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
    credit: str,
    delivery: int | None,
) -> None:
    """Return goods to a supplier for a credit."""
    found = flows.find_material(counter.book, material)
    amount, paid = desk.amount(how_much, found.unit), desk.money(credit, counter.shop)
    terms: dict[str, Any] = {"supplier": supplier, "credit": paid, "delivery": delivery}
    done = flows.send_back(counter.book, found.code, amount, entry.stamp, **terms)
    _told(counter, entry, done, "Sent back")


def _told(counter: Counter, entry: TypedEntry, done: CounterResult, verb: str, said: str = "") -> None:
    unit = done.material.unit
    facts = {
        "material": done.material.code,
        "document": done.document,
        "new": done.fresh,
        "left": desk.exactly(done.left, unit),
        "price": None if done.price is None else desk.price(done.price, counter.shop),
    }
    taken = f" for {counter.formats.money(done.price)}" if done.price is not None else ""
    again = "" if done.fresh else " That was entered already; nothing changed."
    left = counter.formats.amount(done.left, unit)
    below = " The book is below zero: see stockroom shelf." if done.left < 0 else ""
    what = f"{verb}: {done.material.name}{taken}; {left} left (document {done.document})."
    entry.tell(facts, f"{what}{again}{said}{below}")
