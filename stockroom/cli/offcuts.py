"""Offcuts: kept with their size, listed, trimmed, counted; and the outline of a shop's soles."""

from collections.abc import Mapping
from fractions import Fraction
from pathlib import Path
from typing import Any

import click

from stockroom.cli import desk
from stockroom.cli.counter import told
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.errors import UsageError
from stockroom.flows.bench import counter as flows
from stockroom.flows.bench import offcuts as pieces
from stockroom.stock.materials import Material
from stockroom.stock.offcuts import Offcut, PieceSize, is_size, piece_size


@click.command()
@click.argument("sheet")
@click.argument("kept_as")
@click.argument("area")
@click.option("--odd", is_flag=True, help="A piece of an odd shape, with a number of its own though it has no sides.")
@click.option("--from-sheet", is_flag=True, help="No job was cut from this piece: all of it leaves the sheet.")
@desk.anyway_option
@desk.entry
def offcut(
    counter: Counter, entry: TypedEntry, *, sheet: str, kept_as: str, area: str, odd: bool, from_sheet: bool
) -> None:
    """Store an offcut: it joins the offcuts, and leaves the sheet unless jobs have drawn it as waste.

    SHEET is the material it was cut from, KEPT_AS the offcut material, AREA its sides or its usable area: stockroom
    offcut bend off-bend '30 x 20 cm'. With its sides it gets a number, to be written on it, and is offered when a job
    fits. What recipes add for cutting has left the sheet with the jobs already.
    """
    source = flows.find_material(counter.book, sheet)
    size = piece_size(area) if is_size(area) else None
    much = size.area if size else desk.amount(area, source.unit)
    kept = flows.find_material(counter.book, kept_as)
    piece: PieceSize | pieces.Odd | None = size or ("odd" if odd else None)
    done = pieces.keep_offcut(
        counter.book, source.code, kept.code, (much, much), entry.stamp, from_sheet=from_sheet, piece=piece
    )
    write = counter.formats.amount
    rest = source.to_base(much).nano - done.drawn
    leaves = f"{write(rest, source.unit)} leaves the sheet" if rest else "nothing leaves the sheet a second time"
    said = f" Jobs had drawn {write(done.drawn, source.unit)} of it as waste: {leaves}." if done.drawn else ""
    mark = f" Write {done.piece} on it." if done.piece else ""
    told(counter, entry, done.moved, "Stored", said + mark, piece=done.piece)


@click.command()
@click.argument("material", default="")
@click.option("--site", default="main", show_default=True, help="Where.")
@desk.view
def offcuts(counter: Counter, *, material: str, site: str, as_json: bool) -> None:
    """List the offcuts kept, by their numbers.

    MATERIAL is a sheet, or what its offcuts are kept as; without it, all of them: stockroom offcuts bend
    """
    found = pieces.offcuts(counter.book, material, site=site)
    known = {code: flows.find_material(counter.book, code) for each in found for code in (each.sheet, each.material)}
    lines = [
        f"{each.number}: {_sides(each, known, counter)} of {known[each.sheet].name} ({each.material}), kept since "
        f"{counter.formats.day(each.stored.date())}"
        for each in found
    ]
    facts = [piece_facts(each, known[each.material]) for each in found]
    desk.tell(facts, "\n".join(lines) or "No offcut is kept with a number.", as_json=as_json)


def piece_facts(piece: Offcut, kept: Material) -> dict[str, Any]:
    """Give a piece to a program."""
    return {
        "number": piece.number,
        "sheet": piece.sheet,
        "kept_as": piece.material,
        "sides_mm": [float(side) for side in piece.size.mm] if piece.size else None,
        **desk.exactly(piece.nano, kept.unit),
        "since": piece.stored.date().isoformat(),
        "site": piece.site,
    }


def _sides(piece: Offcut, known: dict[str, Material], counter: Counter) -> str:
    area = counter.formats.amount(piece.nano, known[piece.material].unit)
    return f"{piece.size} ({area})" if piece.size else f"{area}, odd shape,"


@click.command()
@click.argument("number", type=click.IntRange(1))
@click.argument("left")
@click.option("--reason", default="", help="What happened to it.")
@desk.entry
def trim_offcut(counter: Counter, entry: TypedEntry, *, number: int, left: str, reason: str) -> None:
    """Enter that an offcut is smaller than it was, or gone; what is missing is waste.

    NUMBER is the one written on it, LEFT what stays of it: its sides, an area, or none. stockroom trim-offcut 1
    '20 x 15 cm' --reason 'a hole in it'
    """
    done = pieces.trim_offcut(counter.book, number, left, entry.stamp, reason=reason)
    told(counter, entry, done, f"Offcut {number} trimmed", piece=number)


@click.command()
@click.argument("material")
@click.argument("numbers", nargs=-1, type=click.IntRange(1))
@click.option("--missing", multiple=True, type=click.IntRange(1), metavar="NUMBER", help="Not there; all others are.")
@desk.entry
def count_offcuts(
    counter: Counter, entry: TypedEntry, *, material: str, numbers: tuple[int, ...], missing: tuple[int, ...]
) -> None:
    """Count offcuts by their numbers: those missing are written off.

    MATERIAL is what they are kept as, NUMBERS are those that are there, or name the missing ones only: stockroom
    count-offcuts off-bend --missing 1
    """
    from stockroom.flows.counts.offcuts import count_offcuts as count

    if bool(numbers) == bool(missing):
        raise UsageError(
            "Which offcuts are there?", fix="Name those that are there, or with --missing those that are not."
        )
    done = count(counter.book, material, numbers, entry.stamp, missing=missing)
    facts = {
        "document": done.document,
        "new": done.fresh,
        "found": [piece.number for piece in done.found],
        "missing": [piece.number for piece in done.missing],
        "written_off": done.lost,
    }
    gone = ", ".join(str(piece.number) for piece in done.missing)
    lost = f" Written off as missing: {gone} (document {done.lost})." if gone else ""
    said = f"{len(done.found)} of {len(done.found) + len(done.missing)} offcuts are there (document {done.document})."
    again = f"That was entered already (document {done.document}); nothing changed."
    entry.tell(facts, said + lost if done.fresh else again)


@click.command()
@click.argument("points", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--size", metavar="LENGTHxWIDTH", help="The sole's length and width instead, such as '285 x 105 mm'.")
@click.option("--fill", type=click.FloatRange(10, 100), default=70, show_default=True,
              help="With --size: per cent of that rectangle that is sole.")  # fmt: skip
@click.option("--job", default="", help="Only for the soles of this job.")
@click.option("--usual", is_flag=True, help="Go back to the usual outline.")
@desk.json_option
@click.pass_obj
def outline(place: str, /, *, points: Path | None, job: str, usual: bool, as_json: bool, **typed: Any) -> None:
    """Give the outline of your soles, to lay out sheets and fit offcuts by; or see what is used.

    POINTS is a file of a left sole's edge: a line for each point, across and along in mm, heel at the bottom, once
    around. Only its shape counts: how long a sole is follows from the recipe's area. Or by its measures: stockroom
    outline --size '285 x 105 mm' --fill 68
    """
    with desk.open_counter(place) as counter:
        _outline(counter, points, job, typed | {"usual": usual}, as_json=as_json)


def _outline(counter: Counter, points: Path | None, job: str, typed: Mapping[str, Any], *, as_json: bool) -> None:
    from stockroom.flows.learning import yields

    code = ""
    if job:
        from stockroom.flows.bench.tickets import find_job

        code = find_job(counter.book, job)
    if points is not None or typed["size"] or typed["usual"]:
        made = None
        if points is not None:
            made = yields.outline_of_points(points.read_text("utf-8-sig"))
        elif typed["size"]:
            long, wide = piece_size(typed["size"]).mm
            made = yields.outline_of_measures(long, wide, float(Fraction(str(typed["fill"])) / 100))
        yields.set_outline(counter.book, made, at=desk.now(), job=code)
    else:
        desk.looked()
    known = yields.outlines(counter.book)
    facts = [yields.outline_facts(name, shape) for name, shape in known.items()]
    lines = [
        f"{'All other jobs' if not name and len(known) > 1 else name or 'All jobs'}: your own outline; a sole as long "
        f"as {counter.formats.number(fact['length'])} mm is {counter.formats.number(fact['width'])} mm wide and fills "
        f"{counter.formats.percent(fact['fill'])} of that rectangle."
        for name, fact in zip(known, facts, strict=True)
    ]
    if "" not in known:
        lines.append("The usual outline is used" + (" for all other jobs." if known else "."))
    desk.tell(facts, "\n".join(lines), as_json=as_json)
