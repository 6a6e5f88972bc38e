"""Jobs and the versions of their recipes."""

from collections.abc import Iterable
from datetime import date
from fractions import Fraction
from itertools import groupby
from typing import Any

from stockroom.errors import StockroomError, UsageError
from stockroom.intake.readers.rows import Context, Seen, one_spelling, tax
from stockroom.intake.tables import Line
from stockroom.phrases import phrase
from stockroom.stock.materials import Material
from stockroom.stock.quantities import Quantity
from stockroom.stock.recipes import Job, Per, Recipe, RecipeLine, Sizing
from stockroom.stock.shoe_sizes import ShoeSize

Version = tuple[str, date]


def read_jobs(lines: Iterable[Line], context: Context) -> list[Job]:
    """Read jobs, and take them up in the book."""
    found, seen = [], Seen(context, "The code")
    for line in lines:
        if line.bad:
            context.book.declare("jobs", line["code"])
            continue
        job = _job(line)
        if not seen.again(line, job.code.casefold(), job) and one_spelling(line, context, "jobs"):
            context.book.add_job(job)
            found.append(job)
    return found


def read_recipes(lines: Iterable[Line], context: Context) -> list[Recipe]:
    """Read recipes: rows of one job and day are one version, in the order in which they stand."""
    versions: dict[Version, list[tuple[Line, RecipeLine]]] = {}
    spoilt: set[Version] = set()
    seen = Seen(context, "The line")
    for line in lines:
        used = _amount(line, context)
        version = (line["job"], line["valid from"])
        if line.bad or used is None:
            spoilt.add(version)
            continue
        made = _recipe_line(line, used)
        if not seen.again(line, (*version, made.name.casefold()), made):
            versions.setdefault(version, []).append((line, made))
    found = [
        recipe
        for version, rows in versions.items()
        if version not in spoilt and (recipe := _recipe(version, rows, context)) is not None
    ]
    for recipe in found:
        context.book.add_recipe(recipe)
    return found


def _job(line: Line) -> Job:
    return Job(
        code=line["code"],
        name=line["name"],
        family=line["family"],
        price=line["price"],
        tax_rate=tax(line["tax %"]),
        bench_minutes=line["bench minutes"] or 0,
        sized=bool(line["sized"]),
        active=line["active"] is not False,
    )


def _recipe_line(line: Line, used: Quantity) -> RecipeLine:
    return RecipeLine(
        name=line["line"],
        material=line["material"],
        amount=used,
        per=Per(line["per"] or Per.PAIR),
        sizing=Sizing(line["sizing"] or Sizing.FIXED),
        choice=line["choice"],
        option=line["option"],
        waste=Fraction(line["waste %"] or 0),
        coats=line["coats"] or 1,
        chance=line["chance"] or Fraction(1),
    )


def _amount(line: Line, context: Context) -> Quantity | None:
    """Read a line's amount; every variant of a group must be able to take it."""
    if bool(line["choice"]) is not bool(line["option"]):
        error = UsageError("A choice needs an option, and an option a choice.", fix="Fill in both, or neither.")
        context.blame(line, error, column="option" if line["choice"] else "choice")
        return None
    stated, variants = line["amount"], _variants(line["material"], context)
    if stated is None or not variants:
        return None
    unit = line["unit"] or variants[0].unit
    try:
        used: Quantity = unit.of(stated)
        for variant in variants:
            variant.to_base(used)
    except StockroomError as wrong:
        context.blame(line, wrong, column="unit", value=unit.name)
        return None
    return used


def _variants(code: str, context: Context) -> tuple[Material, ...]:
    material = context.book.materials.get(code)
    return (material,) if material else context.book.catalogue.groups.get(code, ())


def _recipe(version: Version, rows: list[tuple[Line, RecipeLine]], context: Context) -> Recipe | None:
    """Put a version together, if its rows agree."""
    job, valid_from = version
    made = tuple(line for _, line in rows)
    lines = [line for line, _ in rows]
    try:
        reference = _agreed("reference size", lines) or ()
        source = _agreed("source", lines) or ""
        _check_version(job, made, reference, context)
    except UsageError as wrong:
        context.blame(lines[0], wrong, column="job", value=f"{job} {valid_from}")
        return None
    return Recipe(job=job, valid_from=valid_from, lines=made, reference=reference, source=source)


def _agreed(column: str, lines: list[Line]) -> Any:  # noqa: ANN401 -- a column's value
    stated = [found for found, _ in groupby(line[column] for line in lines if line[column])]
    if any(found != stated[0] for found in stated):
        raise UsageError(
            phrase("The rows of this version don't agree on '%(column)s'.", column=column),
            fix="Write the same on each of them, or on the first.",
        )
    return stated[0] if stated else None


def _check_version(job: str, lines: tuple[RecipeLine, ...], reference: tuple[ShoeSize, ...], context: Context) -> None:
    growing = [line.name for line in lines if line.sizing is not Sizing.FIXED]
    if growing and not reference:
        raise UsageError(
            phrase("'%(row)s' grows with the shoe, but no reference size is stated.", row=growing[0]),
            fix="Fill in 'reference size', such as EU 42 = UK 8.",
        )
    sized = growing or [line.name for line in lines if _by_size(line, context)]
    known = context.book.jobs.get(job)
    if sized and known is not None and not known.sized:
        raise UsageError(
            phrase("'%(row)s' depends on the shoe size, but %(job)s doesn't ask for one.", row=sized[0], job=job),
            fix=phrase("Write yes under 'sized' for %(job)s in jobs.", job=job),
        )


def _by_size(line: RecipeLine, context: Context) -> bool:
    variants = _variants(line.material, context)
    return line.material not in context.book.materials and all(variant.size_from for variant in variants)
