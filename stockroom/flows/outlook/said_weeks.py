"""What the owner says is usual in a week, as weeks before the book's first: a new shop has a forecast all the same."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from itertools import product
from zlib import crc32

import numpy as np

from stockroom.errors import StockroomError
from stockroom.flows.book.snapshot import BookSnapshot
from stockroom.stock.bounds import MOST_WEEKLY
from stockroom.stock.materials import Material
from stockroom.stock.recipes import Job, Recipe
from stockroom.stock.shoe_sizes import ShoeSize
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState

WEEKS = 26  # that what was said stands for, less those the book has seen itself
_DAYS = 7
_NOON = time(12)


def with_said_weeks(known: BookSnapshot, box: RecipeBox) -> BookSnapshot:
    """Put the usual weeks before what the book has seen itself, as tickets and sales of invented days.

    For the forecast only. What falls on which day is drawn, always the same way: so many in all as was said, spread
    as events without a memory are. Of each choice the usual option is taken by half the tickets; of the sizes that a
    material comes in, the smallest and the largest are asked for half as often as those between: common practice, no
    source, and forgotten as the shop's own tickets come in.
    """
    first = _first_day(known)
    weeks = WEEKS - (known.day - first).days // _DAYS
    if weeks <= 0 or not (any(j.weekly for j in known.jobs) or any(m.weekly for m in known.materials)):
        return known
    tickets = [t for job in known.jobs if job.weekly and job.active for t in _tickets(job, box, (first, weeks), known)]
    sales = [s for m in known.materials if m.weekly and m.active for s in _sales(m, (first, weeks))]
    return replace(known, tickets=(*tickets, *known.tickets), sales=[*sales, *known.sales])


def _first_day(known: BookSnapshot) -> date:
    """Say since when the book has seen the shop's work itself."""
    seen = [t.taken_in.date() for t in known.tickets] + [date.fromisoformat(day) for _, day, _ in known.sales]
    begun = known.shop.start or min(known.stocked.values(), default=known.day)
    return min([known.day, begun, *seen])


def _tickets(job: Job, box: RecipeBox, span: tuple[date, int], known: BookSnapshot) -> Iterator[Ticket]:
    kinds = _kinds(job, box, known)
    if not kinds:
        return
    rng = np.random.default_rng(crc32(job.code.encode()))
    days = _days(job.weekly, span, rng)
    shares = np.array([share for _, share in kinds])
    for n, (day, kind) in enumerate(zip(days, rng.choice(len(kinds), len(days), p=shares / shares.sum()), strict=True)):
        moment = datetime.combine(day, _NOON)
        yield replace(kinds[kind][0], number=f"{job.code}-{n}", taken_in=moment, finished=moment)


def _kinds(job: Job, box: RecipeBox, known: BookSnapshot) -> list[tuple[Ticket, float]]:
    """Give the kinds of tickets a job may have that the catalogue serves, each with its share."""
    recipe = box.recipe(job.code, known.day)
    if recipe is None:
        return []
    moment = datetime.combine(known.day, _NOON)
    chosen = [[(name, option, 1.0 if n == 0 else 1 / (len(options) - 1)) for n, option in enumerate(options)]
              for name, options in recipe.choices.items()]  # fmt: skip
    if "colour" not in recipe.choices and (colours := _colours(recipe, known)):
        chosen.append([("colour", colour, 1.0) for colour in colours])
    found = []
    for choices in product(*chosen):
        share = float(np.prod([each for _, _, each in choices]))
        for size, of in _sizes(job, recipe, known):
            ticket = Ticket(
                number=job.code,
                job=job.code,
                taken_in=moment,
                finished=moment,
                size=size,
                state=TicketState.FINISHED,
                chosen={name: option for name, option, _ in choices},
            )
            try:
                box.by_recipe(ticket, known.day)
            except StockroomError:
                continue
            found.append((ticket, share * of))
    return found


def _variants(recipe: Recipe, known: BookSnapshot) -> Iterator[Sequence[Material]]:
    return (known.shelf.groups[line.material] for line in recipe.lines if line.material in known.shelf.groups)


def _colours(recipe: Recipe, known: BookSnapshot) -> list[str]:
    return list(dict.fromkeys(m.colour for variants in _variants(recipe, known) for m in variants if m.colour))


def _sizes(job: Job, recipe: Recipe, known: BookSnapshot) -> list[tuple[ShoeSize | None, float]]:
    """Give the sizes a job may be asked in, each with its share: those its materials come in, or the recipe's own."""
    if not job.sized:
        return [(None, 1.0)]
    systems = {size.system for size in recipe.reference}
    ranges = {
        (m.size_from, m.size_to or m.size_from)
        for variants in _variants(recipe, known)
        for m in variants
        if m.size_from is not None and (not systems or m.size_from.system in systems)
    }
    whole = {
        replace(low, number=low.number + step)
        for low, high in ranges
        if low is not None and high is not None
        for step in range(int(high.number - low.number) + 1)
    }
    if not whole:
        return [(recipe.reference[0] if recipe.reference else None, 1.0)]
    system = min(size.system for size in whole)
    sizes = sorted((size for size in whole if size.system is system), key=lambda size: size.number)
    third = max(len(sizes) // 3, 1)
    return [(size, 1.0 if third <= n < len(sizes) - third or len(sizes) < 3 else 0.5) for n, size in enumerate(sizes)]  # noqa: PLR2004 -- fewer have no middle


def _sales(material: Material, span: tuple[date, int]) -> Iterator[tuple[str, str, int]]:
    rng = np.random.default_rng(crc32(material.code.encode()))
    for day in _days(material.weekly, span, rng):
        yield material.code, day.isoformat(), -material.unit.nano


def _days(weekly: str, span: tuple[date, int], rng: np.random.Generator) -> list[date]:
    """Draw the days of so many events as fall into the weeks before a day, the first of them in the first week."""
    first, weeks = span
    number = round(min(Decimal(weekly), Decimal(MOST_WEEKLY)) * weeks)
    before = np.sort(rng.integers(0, weeks * _DAYS, number))
    before[:1] = 0  # the weeks count from the first on
    start = first - timedelta(days=weeks * _DAYS)
    return [start + timedelta(days=int(day)) for day in before]
