"""Counting: count sheets, counted items, count differences, posting."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench import counter as at_counter
from stockroom.flows.book.opening import check_site
from stockroom.flows.counts import settle as flows
from stockroom.show.layout import NOTE_INDENT, wrap
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.lists import CountSheet
from stockroom.stock.materials import Material

if TYPE_CHECKING:
    from stockroom.counting.reconcile import Difference

FILES = (".xlsx", ".csv")


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), required=False)
@desk.renamed("--location", "places", was="--place", multiple=True,
              help="Only what is kept there; 'Drawer' is every drawer. Repeatable.")  # fmt: skip
@click.option("--next", "minutes", type=click.FloatRange(1), metavar="MINUTES", help="The items worth counting most.")
@desk.renamed(
    "--items",
    "bins",
    was="--bins",
    type=click.IntRange(1, 10_000),
    help="Most items: those worth counting most.",
)
@click.option("--open", "with_book", is_flag=True, help="Show the book's figures [blind].")
@desk.renamed("--format", "kind", was="--as", type=click.Choice(["xlsx", "html", "text"]),
              help="File format [xlsx in a folder, else text].")  # fmt: skip
@click.option("--site", default="main", show_default=True, help="Where.")
@click.pass_obj
def count_sheet(
    place: str, /, *, folder: Path | None, minutes: float | None, bins: int | None, kind: str | None, **wanted: Any
) -> None:
    """Make a count sheet, by location."""
    from stockroom.flows.counts.sheets import make_sheet

    form = kind or ("xlsx" if folder else "text")
    if folder is None and form != "text":
        raise UsageError(
            f"A sheet as {form} needs a folder.", fix=f"Write: stockroom count-sheet FOLDER --format {form}"
        )
    with desk.open_counter(place) as counter:
        check_site(counter.book, wanted["site"])
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
@click.option("--sheet", help="Key of the sheet: entering it twice changes nothing [day and time].")
@click.option("--aid", help="Counting method; then MATERIAL and its answers, such as gross=1860 tare=410.")
@click.option(
    "--drop", multiple=True, metavar="MATERIAL", help="Leave out an item of --sheet that was entered wrongly."
)
@click.option("--yes", "sure", is_flag=True, help="Enter it though an amount looks wrong or the sheet is old.")
@desk.renamed(
    "--post", "settle_now", was="--settle", is_flag=True, help="Post it at once, by the same rule as 'post-count'."
)
@click.option("--accept", multiple=True, metavar="MATERIAL", help="With --post: post it though far from the book.")
@desk.entry
def count(counter: Counter, entry: TypedEntry, *, lines: tuple[str, ...], sheet: str | None, **typed: Any) -> None:
    """Enter a counted item, or a filled-in count sheet.

    Each line is MATERIAL=AMOUNT, such as LACE-90='12 pairs', or the path of a filled-in sheet. What you don't name
    or leave blank is not counted. On a sheet, --at is when the items were counted whose rows don't say.
    """
    if typed["drop"]:
        _drop(counter, entry, typed["drop"], sheet)
        return
    if typed["accept"] and not typed["settle_now"]:
        raise UsageError("--accept goes with --post.", fix="Add --post, or post the sheet: stockroom post-count.")
    if not lines:
        raise UsageError("Nothing was counted.", fix="Give MATERIAL=AMOUNT, or the path of a filled-in sheet.")
    asked = entry.stamp.asking("count", sheet=sheet, lines=lines, aid=typed["aid"]) if entry.key else entry.stamp
    sheets = flows.take_counts(
        counter.book, _taken(counter, entry, lines, sheet, typed["aid"]), asked, sure=typed["sure"]
    )
    if typed["settle_now"]:
        _settle(counter, entry, sheets, [_code(counter, name) for name in typed["accept"]])
    _tell(counter, entry, sheets, asked=typed["settle_now"])


def _settle(counter: Counter, entry: TypedEntry, sheets: Sequence[str], accept: Sequence[str]) -> None:
    """Settle each sheet as `settle` would; where all of it is to be counted again, there is nothing to settle yet."""
    from stockroom.flows.counts.review import review

    for sheet in sheets:
        found = review(counter.book, sheet, desk.now())
        mine = {one.bin.material.code for one in found if one.waiting}
        named = [code for code in accept if code in mine]
        if any(flows.is_ready(one, named=one.bin.material.code in named) for one in found):
            flows.settle_count(
                counter.book, sheet, replace(entry.stamp, key=f"{entry.stamp.key}:{sheet}"), accept=named
            )


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
        from stockroom.flows.counts.sheets import read_filled

        counted = entry.stamp.happened if entry.at else None
        return [
            one for path in files for one in read_filled(counter.book, path, counted=counted, now=entry.stamp.entered)
        ]
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
                f"'{line}' is not a counted item.",
                fix="Write it like LACE-90='12 pairs', or name a file (.xlsx, .csv).",
            )
        material = at_counter.find_material(counter.book, name)
        if material.code in made:
            raise UsageError(f"{material.code} is on the sheet twice.", fix="Count each item once a sheet.")
        made[material.code] = _line(entry, material, much)
    return list(made.values())


def _line(entry: TypedEntry, material: Material, much: str) -> CountLine:
    amount = material.to_base(desk.amount(much, material.unit))
    if amount.nano < 0:
        raise UsageError(f"{material.code}: a count can't be below zero.", fix="Count again.")
    stamp = entry.stamp
    return CountLine(material=material.code, amount=amount, counted=stamp.happened, who=stamp.who, site=stamp.site)


def _tell(counter: Counter, entry: TypedEntry, sheets: Sequence[str], *, asked: bool) -> None:
    from stockroom.flows.counts.review import review
    from stockroom.flows.loading.first_steps import never_moved

    moment = desk.now()
    facts, words = [], []
    for sheet in sheets:
        found = review(counter.book, sheet, moment)
        held = [one.bin.material.code for one in found if one.waiting and not one.postable]
        words += [_words(one, counter) for one in found]
        new = never_moved(counter.book)
        words.append(_FIRST if new else _next_step(sheet, found, held, asked=asked))
        facts.append({
            "sheet": sheet, "settled": all(one.settled for one in found), "bins": len(found), "held_back": held,
            "differences": [*map(_facts, found)],
        })  # fmt: skip
    entry.tell(facts[0] if len(facts) == 1 else facts, "\n".join(words))


_FIRST = "This is a new book: to enter all that was counted as the opening stock: stockroom post-count --opening"


def _next_step(sheet: str, found: Sequence["Difference"], held: Sequence[str], *, asked: bool) -> str:
    """Say what to do next: posting refuses a sheet of which every item is to be counted again."""
    waiting = sum(one.waiting for one in found)
    if not waiting:
        return "The book agrees now." if asked else "Nothing of it is left to post."
    if len(held) < waiting:
        rest = f" (not posted until counted again: {', '.join(held)})" if held else ""
        return f"To post the count: stockroom post-count '{sheet}'{rest}"
    again = f"stockroom count --sheet '{sheet}' MATERIAL=AMOUNT"
    if not asked:
        return f"First count again: {', '.join(held)} ({again})"
    accept = " ".join(f"--accept {code}" for code in held)
    return (
        f"Not posted: {', '.join(held)}, too far from the book. Count again: {again}; or, if it is right: "
        f"stockroom post-count '{sheet}' {accept}"
    )


def _words(one: "Difference", counter: Counter) -> str:
    unit = one.bin.material.unit
    found, book, gap = (counter.formats.amount(n, unit) for n in (one.bin.found, one.bin.booked, one.amount))
    says, verdict = ("said", "posted") if one.settled else ("says", one.verdict.label)
    note = f" ({one.bin.line.note})" if one.bin.line.note else ""
    return f"{one.bin.material.code}: counted {found}{note}, book {says} {book}, difference {gap} ({verdict})"


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
    """Show the count differences of a sheet, and what to count again.

    Without a sheet, the sheets that are not posted yet are listed.
    """
    from stockroom.flows.counts.review import open_sheets, review
    from stockroom.show.tables.counts import differences_table, differences_xlsx

    if sheet is None:
        waiting = open_sheets(counter.book)
        listed = [f"{key}: {_bins(number)} to post" for key, number in waiting.items()]
        desk.tell(waiting, "\n".join(listed) or "No count waits to be posted.", as_json=as_json)
        return
    rows = review(counter.book, sheet, desk.now())
    if xlsx:
        xlsx.parent.mkdir(parents=True, exist_ok=True)
        xlsx.write_bytes(differences_xlsx(sheet, rows, counter.formats))
    words = differences_table(sheet, rows, counter.formats, width=desk.width())
    desk.tell({"sheet": sheet, "differences": [_facts(one) for one in rows]}, words.rstrip(), as_json=as_json)


@click.command()
@click.argument("sheet", required=False)
@click.option("--reason", "reasons", multiple=True, metavar="MATERIAL=REASON", help="Why an item differs.")
@click.option("--accept", multiple=True, metavar="MATERIAL", help="Post an item though it should be counted again.")
@click.option("--confirmed", is_flag=True, help="Post every item, also those that should be counted again.")
@click.option("--opening", is_flag=True, help="In a new book: what was counted is the opening stock.")
@desk.entry
def post_count(
    counter: Counter,
    entry: TypedEntry,
    *,
    sheet: str | None,
    reasons: tuple[str, ...],
    accept: tuple[str, ...],
    confirmed: bool,
    opening: bool,
) -> None:
    """Post a count: from then on the book says what was counted.

    SHEET may be left out where only one waits. Items outside the tolerance of their ABC class are not posted until
    they are counted again. In a new book, --opening enters all that was counted as the opening stock.
    """
    if opening:
        _open(counter, entry, alone=not (sheet or reasons or accept or confirmed))
        return
    sheet = sheet or _the_only_sheet(counter)
    stated = {_code(counter, name): flows.the_reason(why) for name, why in desk.choices(reasons).items()}
    codes = [_code(counter, name) for name in accept]
    done = flows.settle_count(counter.book, sheet, entry.stamp, reasons=stated, accept=codes, confirmed=confirmed)
    facts = {
        "document": done.document, "new": done.fresh, "moves": done.corrected, "posted": list(done.posted),
        "held_back": list(done.held),
    }  # fmt: skip
    again = "" if done.fresh else " It was posted already; nothing changed."
    held = f"\nTo be counted again first: {', '.join(done.held)}." if done.held else ""
    entry.tell(facts, f"Document {done.document}: {_bins(done.corrected)} corrected.{again}{held}")


def _open(counter: Counter, entry: TypedEntry, *, alone: bool) -> None:
    """Enter what was counted of materials that never moved as the opening stock."""
    if not alone:
        raise UsageError("--opening goes alone.", fix="It takes every count that waits: stockroom post-count --opening")
    done = flows.enter_opening(counter.book, entry.stamp)
    waiting = f"\nCounted after it moved, to be posted as a count: {', '.join(done.waiting)}." if done.waiting else ""
    facts = {"document": done.document or None, "materials": done.materials, "waiting": list(done.waiting)}
    entry.tell(facts, f"Opening stock: {_bins(done.materials)} entered.{waiting}")


def _the_only_sheet(counter: Counter) -> str:
    """Give the one sheet that waits to be posted."""
    from stockroom.flows.counts.review import open_sheets

    waiting = list(open_sheets(counter.book))
    if len(waiting) == 1:
        return waiting[0]
    if not waiting:
        raise RefusedError("No count waits to be posted.", fix="Enter one first: stockroom count MATERIAL=AMOUNT")
    listed = ", ".join(f"'{sheet}'" for sheet in waiting)
    raise UsageError("Several counts wait to be posted.", fix=f"Name one: {listed}.")


def _bins(number: int) -> str:
    return "1 item" if number == 1 else f"{number} items"


def _code(counter: Counter, name: str) -> str:
    return at_counter.find_material(counter.book, name).code


if TYPE_CHECKING:
    from stockroom.flows.counts.choose import Chosen
    from stockroom.show.formats import Formats
    from stockroom.show.tables.counts import CountReport


@click.command()
@click.option("--minutes", type=click.FloatRange(1), help="Time there is [15, unless --items is given].")
@desk.renamed("--items", "bins", was="--bins", type=click.IntRange(1, 10_000), help="Most items to count.")
@desk.renamed("--as-of", "on", was="--on", metavar="DAY", help="As of a day or moment [now].")
@click.option("--site", help="One site only [all sites together].")
@desk.view
def count_next(
    counter: Counter, *, minutes: float | None, bins: int | None, on: str | None, site: str | None, as_json: bool
) -> None:
    """Choose what to count now: where being wrong costs most."""
    from stockroom.flows.counts.choose import next_bins

    moment = desk.moment(on) if on else desk.now()
    time = 15.0 if minutes is None and bins is None else minutes
    if site:
        check_site(counter.book, site)
    found = next_bins(counter.book, moment, minutes=time, bins=bins, site=site)
    total = counter.formats.number(sum(each.minutes for each in found), 0)
    words = [_chosen_words(each) for each in found] + [f"{len(found)} items, about {total} minutes."]
    desk.tell([_chosen_facts(each) for each in found], "\n".join(words), as_json=as_json)


def _chosen_words(each: "Chosen") -> str:
    place = f" ({each.material.place})" if each.material.place else ""
    return f"{each.material.code}, {each.material.name}{place}\n{wrap(each.words, desk.width(), indent=NOTE_INDENT)}"


def _chosen_facts(each: "Chosen") -> dict[str, object]:
    return {
        "material": each.material.code,
        "name": each.material.name,
        "place": each.material.place,
        "minutes": round(each.minutes, 2),
        "saves_minor_units": round(each.saves, 2),
        "corrects_minor_units": round(each.corrects, 2),
        "overdue": each.overdue,
        "nearly_empty": each.nearly_empty,
        "last_counted": each.last_counted.isoformat() if each.last_counted else None,
        "why": each.words,
    }


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), required=False)
@click.option("--since", help="From this day on [the last year].")
@desk.renamed("--as-of", "on", was="--on", metavar="DAY", help="As of a day or moment [now].")
@desk.view
def count_report(counter: Counter, *, folder: Path | None, since: str | None, on: str | None, as_json: bool) -> None:
    """Show the accuracy of the stock record, why it differed, and which items drift.

    With a FOLDER, also as a spreadsheet, JSON and a chart.
    """
    from stockroom.flows.counts import accuracy as flows
    from stockroom.show.tables.counts import report_tables

    moment = desk.moment(on) if on else desk.now()
    report = flows.count_report(counter.book, moment, since=desk.day(since) if since else None)
    words = report_tables(report, counter.formats, width=desk.width()).rstrip()
    written = _write(folder, report, counter.formats) if folder else []
    desk.tell(_report_facts(report), "\n".join([words, *map(str, written)]), as_json=as_json)


def _write(folder: Path, report: "CountReport", formats: "Formats") -> list[Path]:
    import json

    from stockroom.flows.counts.accuracy import accuracy
    from stockroom.show.charts.past import accuracy_chart
    from stockroom.show.tables.counts import report_xlsx

    facts = json.dumps(_report_facts(report), ensure_ascii=False, indent=2)
    files = {
        "count-report.xlsx": report_xlsx(report, formats),
        "count-report.json": facts.encode(),
        "count-accuracy.png": accuracy_chart(accuracy(report), formats),
    }
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in files.items():
        (folder / name).write_bytes(content)
    return [folder / name for name in files]


def _report_facts(report: "CountReport") -> dict[str, object]:
    return {
        "since": report.since.isoformat(),
        "until": report.until.isoformat(),
        "accuracy": [
            {"period": p.period, "bins": p.bins, "right": p.right, "share": p.right / p.bins,
             "net_minor_units": p.net, "gross_minor_units": p.gross}
            for p in report.periods
        ],
        "reasons": [
            {"reason": r.reason, "family": r.family, "bins": r.bins, "net_minor_units": r.net,
             "gross_minor_units": r.gross}
            for r in report.reasons
        ],
        "drifting": [
            {"material": d.material, "name": d.name, "counts": d.counts, "less": d.short, "more": d.over,
             "average": desk.exactly(d.average, d.unit), "value_minor_units": d.value, "chance": d.chance}
            for d in report.drifting
        ],
    }  # fmt: skip
