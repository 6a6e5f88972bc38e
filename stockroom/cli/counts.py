"""Counting: enter counted bins, see how they differ from the book, settle."""

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, Entry
from stockroom.errors import UsageError
from stockroom.flows import counter as at_counter
from stockroom.flows import counting as flows
from stockroom.flows.counting import Difference
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.materials import Material


@click.command()
@click.argument("lines", nargs=-1, required=True, metavar="MATERIAL=AMOUNT...")
@click.option("--sheet", help="Mark of the sheet: entering it twice changes nothing [day and hour].")
@click.option("--settle", "settle_now", is_flag=True, help="Bring the book to the count at once.")
@desk.entry
def count(
    counter: Counter, entry: Entry, *, lines: tuple[str, ...], sheet: str | None, settle_now: bool
) -> None:  # fmt: skip
    """Enter a counted bin, or a filled-in sheet.

    Each line is MATERIAL=AMOUNT, such as LACE-90='12 pairs'. What you don't name is not counted.
    """
    stamp = entry.stamp
    key = sheet or f"count {stamp.happened:%Y-%m-%d %H:%M}"
    materials: dict[str, Material] = {}
    made = [_line(counter, entry, line, materials) for line in lines]
    found = flows.take_count(counter.book, Count(key=key, lines=tuple(made)), stamp)
    if settle_now:
        flows.settle_count(counter.book, key, stamp)
    facts = {"sheet": key, "settled": settle_now, "differences": [_facts(d, materials[d.material]) for d in found]}
    words = [_words(d, materials[d.material], counter) for d in found]
    words.append("The book agrees now." if settle_now else f"To bring the book to it: stockroom settle '{key}'")
    entry.tell(facts, "\n".join(words))


@click.command()
@click.argument("sheet")
@click.option("--reason", "reasons", multiple=True, metavar="MATERIAL=REASON", help="Why a bin differs.")
@desk.entry
def settle(counter: Counter, entry: Entry, *, sheet: str, reasons: tuple[str, ...]) -> None:
    """Bring the book to what was counted."""
    done = flows.settle_count(counter.book, sheet, entry.stamp, desk.choices(reasons))
    facts = {"document": done.document, "new": done.fresh, "moves": len(done.moves)}
    again = "" if done.fresh else " It was settled already; nothing changed."
    entry.tell(facts, f"Document {done.document}: {len(done.moves)} bins corrected.{again}")


def _line(counter: Counter, entry: Entry, line: str, materials: dict[str, Material]) -> CountLine:
    name, equals, much = line.rpartition("=")
    if not equals:
        raise UsageError(f"'{line}' is not a counted bin.", fix="Write it like LACE-90='12 pairs'.")
    material = at_counter.find_material(counter.book, name)
    if material.code in materials:
        raise UsageError(f"{material.code} is on the sheet twice.", fix="Count each bin once a sheet.")
    materials[material.code] = material
    amount = material.to_base(desk.amount(much, material.unit))
    if amount.nano < 0:
        raise UsageError(f"{material.code}: a count can't be below zero.", fix="Count again.")
    stamp = entry.stamp
    return CountLine(material=material.code, amount=amount, counted=stamp.happened, who=stamp.who, site=stamp.site)


def _facts(d: Difference, material: Material) -> dict[str, object]:
    return {
        "material": d.material,
        "counted_at": d.counted,
        "found": desk.exactly(d.found, material.unit),
        "book": desk.exactly(d.book, material.unit),
        "difference": desk.exactly(d.nano, material.unit),
    }


def _words(d: Difference, material: Material, counter: Counter) -> str:
    found, book, gap = (counter.formats.amount(n, material.unit) for n in (d.found, d.book, d.nano))
    return f"{d.material}: counted {found}, book says {book}, difference {gap}"
