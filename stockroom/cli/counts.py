"""Counting: sheets to count by, counted bins, how they differ from the book, settling."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.errors import UsageError
from stockroom.flows import counting as flows
from stockroom.flows.bench import counter as at_counter
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.lists import CountSheet
from stockroom.stock.materials import Material

if TYPE_CHECKING:
    from stockroom.flows.reconciling import Judged

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
    from stockroom.flows.count_sheets import make_sheet

    form = kind or ("xlsx" if folder else "text")
    if folder is None and form != "text":
        raise UsageError(f"A sheet as {form} needs a folder.", fix=f"Write: stockroom count-sheet FOLDER --as {form}")
    with desk.open_counter(place) as counter:
        desk.the_site(counter, wanted["site"])
        only = _worth_counting(counter, minutes, bins) if minutes or bins else None
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


def _worth_counting(counter: Counter, minutes: float | None, bins: int | None) -> list[str]:
    from stockroom.flows.next_count import next_bins

    return [each.material.code for each in next_bins(counter.book, desk.now(), minutes=minutes, bins=bins)]


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
@click.option("--settle", "settle_now", is_flag=True, help="Bring the book to the count at once.")
@desk.entry
def count(counter: Counter, entry: TypedEntry, *, lines: tuple[str, ...], sheet: str | None, **typed: Any) -> None:
    """Enter a counted bin, or a filled-in sheet.

    Each line is MATERIAL=AMOUNT, such as LACE-90='12 pairs', or the path of a filled-in sheet. What you don't name
    or leave blank is not counted. On a sheet, --at is when the bins were counted whose rows don't say.
    """
    if typed["drop"]:
        _drop(counter, entry, typed["drop"], sheet)
        return
    asked = entry.stamp.asking("count", sheet=sheet, lines=lines, aid=typed["aid"]) if entry.key else entry.stamp
    if not lines:
        raise UsageError("Nothing was counted.", fix="Give MATERIAL=AMOUNT, or the path of a filled-in sheet.")
    taken = _taken(counter, entry, lines, sheet, typed["aid"])
    found = flows.take_counts(counter.book, taken, asked, sure=typed["sure"])
    if typed["settle_now"]:
        for key in found:
            flows.settle_count(counter.book, key, replace(entry.stamp, key=f"{entry.stamp.key}:{key}"))
    _tell(counter, entry, found, settled=typed["settle_now"])


def _drop(counter: Counter, entry: TypedEntry, materials: Sequence[str], sheet: str | None) -> None:
    if not sheet:
        raise UsageError("Which sheet?", fix="Name it: --sheet 'C-2026-02-07-1'.")
    codes = [at_counter.find_material(counter.book, name).code for name in materials]
    asked = entry.stamp.asking("drop", sheet=sheet, materials=codes) if entry.key else None
    number = flows.drop_lines(counter.book, sheet, codes, asked)
    entry.tell({"sheet": sheet, "dropped": codes, "lines": number}, f"Left out of {sheet}: {', '.join(codes)}.")


def _taken(
    counter: Counter, entry: TypedEntry, lines: Sequence[str], sheet: str | None, aid: str | None
) -> list[Count]:
    files = [Path(line) for line in lines if line.casefold().endswith(FILES)]
    if files and (len(files) < len(lines) or sheet or aid):
        raise UsageError("Files and typed lines don't go together.", fix="Enter the files first, then the lines.")
    if files:
        from stockroom.flows.filled_sheets import read_filled

        counted = entry.stamp.happened if entry.at else None
        return [
            one for path in files for one in read_filled(counter.book, path, counted=counted, now=entry.stamp.entered)
        ]
    key = sheet or f"count {entry.stamp.happened:%Y-%m-%d %H:%M}"
    made = [_by_aid(counter, entry, aid, lines)] if aid else _typed(counter, entry, lines)
    return [Count(key=key, lines=tuple(made))]


def _by_aid(counter: Counter, entry: TypedEntry, name: str, lines: Sequence[str]) -> CountLine:
    from stockroom.counting.aids import aid as find_aid
    from stockroom.flows.count_sheets import measurable

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


def _tell(
    counter: Counter, entry: TypedEntry, found: Mapping[str, Sequence[flows.Difference]], *, settled: bool
) -> None:
    from stockroom.flows.reconciling import judge

    moment = desk.now()
    facts, words = [], []
    for sheet, differences in found.items():
        judged = judge(counter.book, sheet, moment)
        words += [_words(one, counter) for one in judged]
        words.append("The book agrees now." if settled else _next_step(sheet, judged))
        facts.append(
            {"sheet": sheet, "settled": settled, "bins": len(differences), "differences": [*map(_facts, judged)]}
        )
    entry.tell(facts[0] if len(facts) == 1 else facts, "\n".join(words))


def _next_step(sheet: str, judged: Sequence["Judged"]) -> str:
    """Say what to do next: settling refuses a sheet of which every bin is to be counted again."""
    waiting = [one for one in judged if not (one.settled or one.superseded)]
    held = [one.material.code for one in waiting if not one.difference.postable]
    if not waiting:
        return "Nothing of it is left to settle."
    if len(held) < len(waiting):
        rest = f" (held back until counted again: {', '.join(held)})" if held else ""
        return f"To bring the book to it: stockroom settle '{sheet}'{rest}"
    return f"First count again: {', '.join(held)} (stockroom count --sheet '{sheet}' MATERIAL=AMOUNT)"


def _words(one: "Judged", counter: Counter) -> str:
    unit = one.material.unit
    found, book = (counter.formats.amount(n, unit) for n in (one.found, one.book))
    gap = counter.formats.amount(one.difference.amount, unit)
    return f"{one.material.code}: counted {found}, book says {book}, difference {gap} ({one.verdict})"


def _facts(one: "Judged") -> dict[str, object]:
    unit, found = one.material.unit, one.difference
    return {
        "material": one.material.code,
        "name": one.material.name,
        "place": one.material.place,
        "counted_at": one.line.counted.isoformat(timespec="minutes"),
        "who": one.line.who,
        "aid": one.line.aid,
        "found": desk.exactly(one.found, unit),
        "book": desk.exactly(one.book, unit),
        "difference": desk.exactly(found.amount, unit),
        "value_minor_units": found.value,
        "share": None if found.share is None else float(found.share),
        "class": str(found.bin.grade),
        "verdict": str(found.verdict),
        "why": one.why,
        "reason": str(one.reason),
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
    from stockroom.flows.reconciling import difference_rows, judge, open_sheets
    from stockroom.show.tables.counts import differences_table, differences_xlsx

    if sheet is None:
        waiting = open_sheets(counter.book)
        listed = [f"{key}: {_bins(number)} to settle" for key, number in waiting.items()]
        desk.tell(waiting, "\n".join(listed) or "No count waits to be settled.", as_json=as_json)
        return
    judged = judge(counter.book, sheet, desk.now())
    rows = difference_rows(judged)
    if xlsx:
        xlsx.parent.mkdir(parents=True, exist_ok=True)
        xlsx.write_bytes(differences_xlsx(sheet, rows, counter.formats))
    words = differences_table(sheet, rows, counter.formats, width=desk.width())
    desk.tell({"sheet": sheet, "differences": [_facts(one) for one in judged]}, words.rstrip(), as_json=as_json)


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
    from stockroom.flows.reconciling import settle_sheet

    stated = {_code(counter, name): flows.the_reason(why) for name, why in desk.choices(reasons).items()}
    codes = [_code(counter, name) for name in accept]
    done = settle_sheet(counter.book, sheet, entry.stamp, reasons=stated, accept=codes, confirmed=confirmed)
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
