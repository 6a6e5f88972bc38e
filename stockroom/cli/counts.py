"""Counting: sheets to count by, counted bins, how they differ from the book, settling."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.errors import UsageError
from stockroom.flows.bench import counter as at_counter
from stockroom.flows.counts import settle as flows
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.lists import CountSheet
from stockroom.stock.materials import Material

if TYPE_CHECKING:
    from stockroom.counting.reconcile import Difference

FILES = (".xlsx", ".csv")


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), required=False)
@click.option("--place", "places", multiple=True, help="Only what lies there; 'Drawer' is every drawer. Repeatable.")
@click.option("--next", "minutes", type=click.FloatRange(1), metavar="MINUTES", help="The bins worth counting most.")
@click.option("--bins", type=click.IntRange(1), help="At most this many, those worth counting most.")
@click.option("--open", "with_book", is_flag=True, help="Show the book's figures [blind].")
@click.option("--as", "kind", type=click.Choice(["xlsx", "html", "text"]), help="Form [xlsx in a folder, else text].")
@click.option("--site", default="main", show_default=True, help="Where.")
@click.pass_obj
def count_sheet(
    place: str, /, *, folder: Path | None, minutes: float | None, bins: int | None, kind: str | None, **wanted: Any
) -> None:
    """Make a sheet to count by, by shelf place."""
    from stockroom.flows.counts.sheets import make_sheet

    form = kind or ("xlsx" if folder else "text")
    if folder is None and form != "text":
        raise UsageError(f"A sheet as {form} needs a folder.", fix=f"Write: stockroom count-sheet FOLDER --as {form}")
    with desk.open_counter(place) as counter:
        desk.the_site(counter, wanted["site"])
        only = _worth_counting(counter, minutes, bins, wanted["site"]) if minutes or bins else None
        sheet = make_sheet(counter.book, desk.now(), only=only, **wanted)
        written = _written(sheet, counter, form)
    if folder is None:
        click.echo(written.decode(), nl=False)
        return
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"count-sheet-{sheet.key}.{'txt' if form == 'text' else form}"
    path.write_bytes(written)
    filled = f" Filled in: stockroom count {path}" if form == "xlsx" else ""
    click.echo(f"{path}: {_bins(len(sheet.lines))}.{filled}")


def _worth_counting(counter: Counter, minutes: float | None, bins: int | None, site: str) -> list[str]:
    from stockroom.flows.counts.choose import next_bins

    found = next_bins(counter.book, desk.now(), minutes=minutes, bins=bins, site=site)
    return [each.material.code for each in found]


def _written(sheet: CountSheet, counter: Counter, form: str) -> bytes:
    if form == "xlsx":
        from stockroom.show.count_sheets import sheet_xlsx

        return sheet_xlsx(sheet)
    if form == "html":
        from stockroom.show.count_sheets import sheet_html

        return sheet_html(sheet, counter.formats).encode()
    from stockroom.show.tables.listing import sheet_table

    return sheet_table(sheet, counter.formats, width=desk.width()).encode()


@click.command()
@click.argument("lines", nargs=-1, metavar="MATERIAL=AMOUNT... | FILE...")
@click.option("--sheet", help="Mark of the sheet: entering it twice changes nothing [day and hour].")
@click.option("--aid", help="Counting aid; then MATERIAL and its answers, such as gross=1860 tare=410.")
@click.option("--drop", multiple=True, metavar="MATERIAL", help="Leave out a bin of --sheet that was entered wrongly.")
@click.option("--yes", "sure", is_flag=True, help="Enter it though an amount looks wrong or the sheet is old.")
@click.option("--settle", "settle_now", is_flag=True, help="Settle it at once, by the same rule as 'settle'.")
@click.option("--accept", multiple=True, metavar="MATERIAL", help="With --settle: post it though far from the book.")
@desk.entry
def count(counter: Counter, entry: TypedEntry, *, lines: tuple[str, ...], sheet: str | None, **typed: Any) -> None:
    """Enter a counted bin, or a filled-in sheet.

    Each line is MATERIAL=AMOUNT, such as LACE-90='12 pairs', or the path of a filled-in sheet. What you don't name
    or leave blank is not counted. On a sheet, --at is when the bins were counted whose rows don't say.
    """
    if typed["drop"]:
        _drop(counter, entry, typed["drop"], sheet)
        return
    if typed["accept"] and not typed["settle_now"]:
        raise UsageError("--accept goes with --settle.", fix="Add --settle, or settle the sheet: stockroom settle.")
    if not lines:
        raise UsageError("Nothing was counted.", fix="Give MATERIAL=AMOUNT, or the path of a filled-in sheet.")
    taken = _taken(counter, entry, lines, sheet, typed["aid"])
    for each in taken:
        flows.take_count(counter.book, each, entry.stamp, sure=typed["sure"])
    if typed["settle_now"]:
        _settle(counter, entry, taken, [_code(counter, name) for name in typed["accept"]])
    _tell(counter, entry, taken, asked=typed["settle_now"])


def _settle(counter: Counter, entry: TypedEntry, taken: Sequence[Count], accept: Sequence[str]) -> None:
    """Settle each sheet as `settle` would; where all of it is to be counted again, there is nothing to settle yet."""
    from stockroom.flows.counts.review import review

    for each in taken:
        found = review(counter.book, each.key, desk.now())
        mine = {one.bin.material.code for one in found if one.waiting}
        named = [code for code in accept if code in mine]
        if any(flows.is_ready(one, named=one.bin.material.code in named) for one in found):
            own = entry.stamp if len(taken) == 1 else replace(entry.stamp, key=f"{entry.stamp.key}:{each.key}")
            flows.settle_count(counter.book, each.key, own, accept=named)


def _drop(counter: Counter, entry: TypedEntry, materials: Sequence[str], sheet: str | None) -> None:
    if not sheet:
        raise UsageError("Which sheet?", fix="Name it: --sheet 'C-2026-02-07-1'.")
    codes = [at_counter.find_material(counter.book, name).code for name in materials]
    number = flows.drop_lines(counter.book, sheet, codes)
    entry.tell({"sheet": sheet, "dropped": codes, "lines": number}, f"Left out of {sheet}: {', '.join(codes)}.")


def _taken(
    counter: Counter, entry: TypedEntry, lines: Sequence[str], sheet: str | None, aid: str | None
) -> list[Count]:
    files = [Path(line) for line in lines if line.casefold().endswith(FILES)]
    if files and (len(files) < len(lines) or sheet or aid):
        raise UsageError("Files and typed lines don't go together.", fix="Enter the files first, then the lines.")
    if files:
        from stockroom.flows.counts.sheets import read_filled

        counted = entry.stamp.happened if entry.at else None
        return [one for path in files for one in read_filled(counter.book, path, counted=counted)]
    key = sheet or f"count {entry.stamp.happened:%Y-%m-%d %H:%M}"
    made = [_by_aid(counter, entry, aid, lines)] if aid else _typed(counter, entry, lines)
    return [Count(key=key, lines=tuple(made))]


def _by_aid(counter: Counter, entry: TypedEntry, name: str, lines: Sequence[str]) -> CountLine:
    from stockroom.counting.aids import aid as find_aid
    from stockroom.flows.counts.sheets import measurable

    material = at_counter.find_material(counter.book, lines[0])
    aid = find_aid(name)
    measured = aid.measure(desk.choices(tuple(lines[1:])), measurable(material))
    stamp = entry.stamp
    return CountLine(
        material=material.code, amount=measured.amount, error=measured.error, counted=stamp.happened, aid=aid.name,
        who=stamp.who, site=stamp.site, note=" ".join(lines[1:]),
    )  # fmt: skip


def _typed(counter: Counter, entry: TypedEntry, lines: Sequence[str]) -> list[CountLine]:
    made: dict[str, CountLine] = {}
    for line in lines:
        name, equals, much = line.rpartition("=")
        if not equals:
            raise UsageError(
                f"'{line}' is not a counted bin.", fix="Write it like LACE-90='12 pairs', or name a file (.xlsx, .csv)."
            )
        material = at_counter.find_material(counter.book, name)
        if material.code in made:
            raise UsageError(f"{material.code} is on the sheet twice.", fix="Count each bin once a sheet.")
        made[material.code] = _line(entry, material, much)
    return list(made.values())


def _line(entry: TypedEntry, material: Material, much: str) -> CountLine:
    amount = material.to_base(desk.amount(much, material.unit))
    if amount.nano < 0:
        raise UsageError(f"{material.code}: a count can't be below zero.", fix="Count again.")
    stamp = entry.stamp
    return CountLine(material=material.code, amount=amount, counted=stamp.happened, who=stamp.who, site=stamp.site)


def _tell(counter: Counter, entry: TypedEntry, taken: Sequence[Count], *, asked: bool) -> None:
    from stockroom.flows.counts.review import review

    moment = desk.now()
    facts, words = [], []
    for each in taken:
        found = review(counter.book, each.key, moment)
        held = [one.bin.material.code for one in found if one.waiting and not one.postable]
        words += [_words(one, counter) for one in found]
        words.append(_next_step(each.key, found, held, asked=asked))
        facts.append({
            "sheet": each.key, "settled": all(one.settled for one in found), "bins": len(found), "held_back": held,
            "differences": [*map(_facts, found)],
        })  # fmt: skip
    entry.tell(facts[0] if len(facts) == 1 else facts, "\n".join(words))


def _next_step(sheet: str, found: Sequence["Difference"], held: Sequence[str], *, asked: bool) -> str:
    """Say what to do next: settling refuses a sheet of which every bin is to be counted again."""
    waiting = sum(one.waiting for one in found)
    if not waiting:
        return "The book agrees now." if asked else "Nothing of it is left to settle."
    if len(held) < waiting:
        rest = f" (held back until counted again: {', '.join(held)})" if held else ""
        return f"To bring the book to it: stockroom settle '{sheet}'{rest}"
    again = f"stockroom count --sheet '{sheet}' MATERIAL=AMOUNT"
    if not asked:
        return f"First count again: {', '.join(held)} ({again})"
    accept = " ".join(f"--accept {code}" for code in held)
    return (
        f"Not settled: {', '.join(held)}, too far from the book. Count again: {again}; or, if it is right: "
        f"stockroom settle '{sheet}' {accept}"
    )


def _words(one: "Difference", counter: Counter) -> str:
    unit = one.bin.material.unit
    found, book, gap = (counter.formats.amount(n, unit) for n in (one.bin.found, one.bin.booked, one.amount))
    return f"{one.bin.material.code}: counted {found}, book says {book}, difference {gap} ({one.verdict})"


def _facts(one: "Difference") -> dict[str, object]:
    material, line = one.bin.material, one.bin.line
    return {
        "material": material.code,
        "name": material.name,
        "place": material.place,
        "counted_at": line.counted.isoformat(timespec="minutes"),
        "who": line.who,
        "aid": line.aid,
        "found": desk.exactly(one.bin.found, material.unit),
        "book": desk.exactly(one.bin.booked, material.unit),
        "difference": desk.exactly(one.amount, material.unit),
        "value_minor_units": one.value,
        "share": None if one.share is None else float(one.share),
        "class": str(one.bin.grade),
        "verdict": str(one.verdict),
        "why": one.why,
        "reason": str(line.reason),
        "settled": one.settled,
    }


@click.command()
@click.argument("sheet", required=False)
@click.option("--xlsx", type=click.Path(dir_okay=False, path_type=Path), help="Also write it as a spreadsheet.")
@desk.view
def differences(counter: Counter, *, sheet: str | None, xlsx: Path | None, as_json: bool) -> None:
    """Show how a count sheet differs from the book, and what to count again.

    Without a sheet, the sheets that are not settled yet are listed.
    """
    from stockroom.flows.counts.review import open_sheets, review
    from stockroom.show.tables.counts import differences_table, differences_xlsx

    if sheet is None:
        waiting = open_sheets(counter.book)
        listed = [f"{key}: {_bins(number)} to settle" for key, number in waiting.items()]
        desk.tell(waiting, "\n".join(listed) or "No count waits to be settled.", as_json=as_json)
        return
    rows = review(counter.book, sheet, desk.now())
    if xlsx:
        xlsx.parent.mkdir(parents=True, exist_ok=True)
        xlsx.write_bytes(differences_xlsx(sheet, rows, counter.formats))
    words = differences_table(sheet, rows, counter.formats, width=desk.width())
    desk.tell({"sheet": sheet, "differences": [_facts(one) for one in rows]}, words.rstrip(), as_json=as_json)


@click.command()
@click.argument("sheet")
@click.option("--reason", "reasons", multiple=True, metavar="MATERIAL=REASON", help="Why a bin differs.")
@click.option("--accept", multiple=True, metavar="MATERIAL", help="Post a bin though it should be counted again.")
@click.option("--confirmed", is_flag=True, help="Post every bin, also those that should be counted again.")
@desk.entry
def settle(
    counter: Counter,
    entry: TypedEntry,
    *,
    sheet: str,
    reasons: tuple[str, ...],
    accept: tuple[str, ...],
    confirmed: bool,
) -> None:
    """Bring the book to what was counted.

    Bins further off than their class allows are held back until they are counted again.
    """
    stated = {_code(counter, name): flows.the_reason(why) for name, why in desk.choices(reasons).items()}
    codes = [_code(counter, name) for name in accept]
    done = flows.settle_count(counter.book, sheet, entry.stamp, reasons=stated, accept=codes, confirmed=confirmed)
    facts = {
        "document": done.document, "new": done.fresh, "moves": done.corrected, "posted": list(done.posted),
        "held_back": list(done.held),
    }  # fmt: skip
    again = "" if done.fresh else " It was settled already; nothing changed."
    held = f"\nTo be counted again first: {', '.join(done.held)}." if done.held else ""
    entry.tell(facts, f"Document {done.document}: {_bins(done.corrected)} corrected.{again}{held}")


def _bins(number: int) -> str:
    return "1 bin" if number == 1 else f"{number} bins"


def _code(counter: Counter, name: str) -> str:
    return at_counter.find_material(counter.book, name).code
