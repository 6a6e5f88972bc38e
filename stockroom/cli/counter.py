"""At the counter and the shelf: sell, write off, offcut, move, send back."""

from typing import Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.flows.bench import counter as flows
from stockroom.flows.bench.counter import CounterResult
from stockroom.stock.moves import DocumentKind

WRITE_OFFS = {"waste": DocumentKind.WASTE, "expiry": DocumentKind.EXPIRY, "own-use": DocumentKind.OWN_USE}


@click.command()
@click.argument("material")
@click.argument("how_much", default="1")
@click.option("--price", help="Amount paid, all together [the shelf price].")
@desk.entry
def sell(counter: Counter, entry: TypedEntry, *, material: str, how_much: str, price: str | None) -> None:
    """Sell over the counter.

    MATERIAL is a code or enough of a name; HOW_MUCH is in its own unit unless you name one.
    """
    found = flows.find_material(counter.book, material)
    paid = desk.money(price, counter.shop) if price else None
    done = flows.sell(counter.book, found.code, desk.amount(how_much, found.unit), entry.stamp, price=paid)
    _told(counter, entry, done, "Sold")


@click.command()
@click.argument("material")
@click.argument("how_much")
@desk.renamed("--kind", "kind", was="--as", type=click.Choice(list(WRITE_OFFS)), default="waste", show_default=True,
              help="What sort of write-off.")  # fmt: skip
@click.option("--reason", default="", help="What happened to it.")
@desk.entry
def write_off(counter: Counter, entry: TypedEntry, *, material: str, how_much: str, kind: str, reason: str) -> None:
    """Write off waste or expired stock, or take something for own use."""
    found = flows.find_material(counter.book, material)
    amount = desk.amount(how_much, found.unit)
    done = flows.write_off(counter.book, found.code, amount, entry.stamp, kind=WRITE_OFFS[kind], reason=reason)
    _told(counter, entry, done, "Written off")


@click.command()
@click.argument("sheet")
@click.argument("kept_as")
@click.argument("area")
@desk.entry
def offcut(counter: Counter, entry: TypedEntry, *, sheet: str, kept_as: str, area: str) -> None:
    """Store an offcut: it leaves the sheet and joins the offcuts.

    SHEET is the material it was cut from, KEPT_AS the offcut material, AREA its usable area.
    """
    source = flows.find_material(counter.book, sheet)
    size = desk.amount(area, source.unit)
    kept = flows.find_material(counter.book, kept_as)
    done = flows.keep_offcut(counter.book, source.code, kept.code, (size, size), entry.stamp)
    _told(counter, entry, done, "Stored")


@click.command()
@click.argument("material")
@click.argument("how_much")
@click.argument("to_site")
@desk.entry
def move(counter: Counter, entry: TypedEntry, *, material: str, how_much: str, to_site: str) -> None:
    """Move stock to another site."""
    found = flows.find_material(counter.book, material)
    desk.the_site(counter, to_site)
    done = flows.transfer(counter.book, found.code, desk.amount(how_much, found.unit), entry.stamp, to_site=to_site)
    _told(counter, entry, done, f"Moved to {to_site}")


@click.command()
@click.argument("material")
@click.argument("how_much")
@click.option("--supplier", required=True, help="Which supplier.")
@click.option("--credit", required=True, help="Amount credited, before tax.")
@click.option("--delivery", type=click.IntRange(1), help="Document of the delivery it came with.")
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


def _told(counter: Counter, entry: TypedEntry, done: CounterResult, verb: str) -> None:
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
    entry.tell(facts, f"{verb}: {done.material.name}{taken}; {left} left (document {done.document}).{again}{below}")
