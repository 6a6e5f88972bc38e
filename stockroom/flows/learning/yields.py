"""What a sheet yields in this shop: one figure for whoever reckons with it, and the outline of its soles."""

import json
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from fractions import Fraction
from typing import Any

from stockroom.errors import RefusedError, UsageError
from stockroom.margins.cutting import (
    Pattern,
    Yield,
    followed_areas,
    learnt_yield,
    sheet_layout,
    twice_as_long,
)
from stockroom.margins.sole_layout import Outline, Plate, drawn_outline, measured_outline, sole_area
from stockroom.phrases import phrase
from stockroom.stock.materials import Material
from stockroom.stock.moves import DocumentKind, Move
from stockroom.stock.quantities import NANO, Dimension
from stockroom.stock.recipes import Recipe, RecipeLine, Sizing, in_force
from stockroom.stock.shoe_sizes import ShoeSize
from stockroom.stock.suppliers import Offer
from stockroom.stock.tickets import Ticket, by_job
from stockroom.store import catalogue, counts, ledger, tickets
from stockroom.store.book import Book, Session

YEAR = timedelta(days=365)
GAP = 3.0  # mm between pieces
_MOST_SIZES = 12
_SHEET = 100 * NANO  # where no supplier says how large one is
_OUTLINE = "outline:"  # beginning of a note; after it the job whose soles it is, or nothing for all others


@dataclass(frozen=True, slots=True, kw_only=True)
class CutLine:
    """A recipe line that is cut from a sheet by the size of the shoe, with the sizes done in a year."""

    recipe: Recipe
    line: RecipeLine
    sizes: tuple[ShoeSize, ...]  # those most often done, in order; the reference sizes where none was

    @property
    def pattern(self) -> Pattern:
        """The net area of a pair."""
        return Pattern.of(self.recipe, self.line)

    @property
    def usual(self) -> ShoeSize | None:
        """The size in the middle of them."""
        return self.sizes[len(self.sizes) // 2] if self.sizes else None


def sheet_lines(
    material: Material, recipes: Sequence[Recipe], done: Sequence[Ticket], day: date
) -> tuple[CutLine, ...]:
    """Find the lines in force on a day that are cut from a sheet by area, as the shoe grows."""
    newest = [in_force(versions, day) for versions in by_job(recipes).values()]
    return tuple(
        CutLine(recipe=recipe, line=line, sizes=_sizes(recipe, done, day))
        for recipe in newest
        if recipe is not None
        for line in recipe.lines
        if line.material == material.code
        and not line.nothing
        and line.sizing is Sizing.AREA
        and line.amount.dimension is Dimension.AREA
    )


def _sizes(recipe: Recipe, done: Sequence[Ticket], day: date) -> tuple[ShoeSize, ...]:
    systems = {size.system for size in recipe.reference}
    often = Counter(
        ticket.size
        for ticket in done
        if ticket.job == recipe.job
        and ticket.size is not None
        and ticket.size.system in systems
        and ticket.finished is not None
        and day - YEAR <= ticket.finished.date() <= day
    )
    found = [size for size, _ in often.most_common(_MOST_SIZES)] or list(recipe.reference)
    return tuple(sorted(found, key=lambda size: (size.system, size.number)))


def sheet_area(offers: Sequence[Offer], material: str) -> int:
    """Give the area of a sheet as the cheapest offer sells it, in nano."""
    mine = [offer for offer in offers if offer.material == material and offer.pack.nano > 0]
    return min(mine, key=lambda o: Fraction(o.cost(1), o.pack.nano)).pack.nano if mine else _SHEET


def sheet_yield(
    session: Session, material: Material, lines: Sequence[CutLine], area: int, plate: Plate | None = None
) -> Yield:
    """Learn what part of a sheet ends in soles.

    It starts from the layout of the line most often cut in its usual size, and follows what went of the sheet and of
    the offcuts kept of it until each site's last count.
    """
    usual = max(lines, key=lambda line: len(line.sizes))
    size = usual.usual
    start = 0.0
    if size is not None:
        outline = outline_for(session, usual.recipe.job)
        start = sheet_layout(usual.pattern, size, plate or twice_as_long(area, GAP), outline).share
    moves = _until_counted(session, material)
    drawn = sorted({move.ticket for move in moves if move.ticket})
    known = {ticket.number: ticket for ticket in tickets.read_tickets(session, numbers=drawn)} if drawn else {}
    patterns = {line.recipe.job: line.pattern for line in lines}
    return learnt_yield(start, followed_areas(moves, patterns, known), float(area))


def _until_counted(session: Session, sheet: Material) -> list[Move]:
    """Give the moves of a sheet and of its offcuts up to the last count of the sheet at each site."""
    last = {anchor.site: anchor.counted for anchor in counts.anchors(session, materials=[sheet.code])}
    if not last:
        return []
    stored = ledger.read_documents(session, subject=sheet.code, kinds=[DocumentKind.OFFCUT])
    pool = {sheet.code} | {move.material for document in stored for move in document.moves}
    return [
        move
        for code in sorted(pool)
        for _, move in ledger.moves_of_material(session, code)
        if move.happened <= last.get(move.site, move.happened.min)
    ]


def outline_for(session: Session, job: str = "") -> Outline:
    """Give the outline of a job's soles: its own, the shop's, or the usual one."""
    kept = catalogue.read_notes(session, _OUTLINE)
    text = kept.get(f"{_OUTLINE}{job}") or kept.get(_OUTLINE)
    if not text:
        return Outline()
    said: Mapping[str, list[float]] = json.loads(text)
    return Outline(**{name: tuple(values) for name, values in said.items()})


def outlines(book: Book) -> dict[str, Outline]:
    """Give the shop's own outlines by job; '' for all jobs that have none."""
    with book.reading() as session:
        kept = catalogue.read_notes(session, _OUTLINE)
        jobs = [name.removeprefix(_OUTLINE) for name, text in kept.items() if text]
        return {job: outline_for(session, job) for job in sorted(jobs)}


_MOST_POINTS = 2000
_FARTHEST = 2000.0  # mm
_SHOWN = 280  # mm: the length an outline is described at


def outline_facts(job: str, outline: Outline) -> dict[str, Any]:
    """Describe an outline: how wide a sole of a usual length is, and how much of that rectangle it fills."""
    across = [x for x, _ in outline.polygon(_SHOWN)]
    width = max(across) - min(across)
    fill = sole_area(_SHOWN, outline) / (width * _SHOWN)
    return {"job": job or None, "length": _SHOWN, "width": round(width), "fill": round(fill, 3)}


def set_outline(book: Book, outline: Outline | None, *, at: datetime, job: str = "") -> None:
    """Keep a shop's own outline of its soles, of one job or of all; None goes back to the usual one.

    Raises
    ------
    RefusedError
        If there is no such job.
    """
    said = {name: list(getattr(outline, name)) for name in ("stations", "inner", "outer")} if outline else {}
    with book.writing(at=at) as session:
        if job and job not in catalogue.read_job_names(session):
            raise RefusedError(phrase("There is no job %(code)s.", code=job), fix="Choose one from the list.")
        catalogue.save_note(session, f"{_OUTLINE}{job}", json.dumps(said) if said else "")


def outline_of_points(text: str) -> Outline:
    """Read an outline's points: two numbers a line, across and along, in mm.

    Raises
    ------
    UsageError
        If a line is none, or the points enclose nothing.
    """
    points: list[tuple[float, float]] = []
    for number, row in enumerate(text.splitlines(), start=1):
        cells = row.replace(";", " ").replace(",", " ").split()
        if not cells or cells[0].startswith("#"):
            continue
        try:
            across, along = (float(cell) for cell in cells)
        except ValueError as wrong:
            if not points and number == 1:  # a heading
                continue
            raise UsageError(
                phrase("Line %(number)s is not a point: '%(text)s'.", number=number, text=row[:60]),
                fix="Write two numbers a line, across and along, in mm, with a decimal point: 12.5, 240",
            ) from wrong
        points.append((across, along))
    try:
        if len(points) > _MOST_POINTS or not all(abs(side) < _FARTHEST for point in points for side in point):
            raise ValueError  # noqa: TRY301 -- refused as any other points that are no outline
        return drawn_outline(points)
    except ValueError as wrong:
        raise UsageError(
            "The points are no outline of a sole.",
            fix="Go once around its edge, heel at the bottom: each line across and along, in mm.",
        ) from wrong


def outline_of_measures(length: float, width: float, fill: float) -> Outline:
    """Make an outline of a sole's length and width, and what part of that rectangle it fills.

    Raises
    ------
    UsageError
        If they are no measures of a sole.
    """
    try:
        return measured_outline(length, width, fill)
    except ValueError as wrong:
        raise UsageError(
            "These are no measures of a sole.",
            fix="Give length and width above zero and the part it fills up to 100 %, such as 285 x 105 mm and 68%.",
        ) from wrong
