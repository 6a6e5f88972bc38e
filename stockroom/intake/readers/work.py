"""Jobs and the versions of their recipes."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from itertools import groupby
from typing import Any

from stockroom.errors import StockroomError, UnknownError, UsageError, nearest
from stockroom.intake.columns import EVENING
from stockroom.intake.tables import Context, ReadRow, RowsSeen, another, one_spelling, tax, weekly
from stockroom.phrases import joined, phrase
from stockroom.stock.bounds import MOST_SHOES
from stockroom.stock.busy_months import busy_months
from stockroom.stock.materials import Material
from stockroom.stock.quantities import Dimension, Quantity
from stockroom.stock.recipes import (
    PAIR,
    Job,
    JobFacts,
    Need,
    Per,
    Recipe,
    RecipeLine,
    Sizing,
    in_force,
    needs,
    options_taken,
)
from stockroom.stock.shoe_sizes import ShoeSize
from stockroom.stock.tickets import Ticket, TicketState, extra_line
from stockroom.stock.typed import amount

Version = tuple[str, date]


def read_jobs(lines: Iterable[ReadRow], context: Context) -> list[Job]:
    """Read jobs, and take them up in the book."""
    found, seen = [], RowsSeen(context, "The code")
    for line in lines:
        if line.bad:
            context.book.declare("jobs", line["code"])
            continue
        job = _job(line, context)
        try:
            busy_months(job.season)
        except UsageError as wrong:
            context.blame(line, wrong, column="season", value=job.season)
        if not seen.again(line, job.code.casefold(), job) and one_spelling(line, context, "jobs"):
            context.book.add_job(job)
            found.append((line, job))
    return [replace(job, alike=another(line, context, "jobs", "like")) for line, job in found]


def read_recipes(lines: Iterable[ReadRow], context: Context) -> list[Recipe]:
    """Read recipes: rows of one job and day are one version, in the order in which they stand."""
    versions: dict[Version, list[tuple[ReadRow, RecipeLine]]] = {}
    spoilt: set[Version] = set()
    seen = RowsSeen(context, "The line")
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


def _job(line: ReadRow, context: Context) -> Job:
    return Job(
        code=line["code"],
        name=line["name"],
        family=line["family"],
        price=line["price"],
        single_price=line["price of one shoe"],
        tax_rate=tax(line["tax %"]),
        bench_minutes=line["bench minutes"] or 0,
        sized=bool(line["sized"]),
        weekly=weekly(line, context),
        active=line["active"] is not False,
        season=line["season"],
        alike=line["like"],
    )


def _recipe_line(line: ReadRow, used: Quantity) -> RecipeLine:
    return RecipeLine(
        name=line["line"],
        material=line["material"] or "",
        amount=used,
        per=Per(line["per"] or Per.PAIR),
        sizing=Sizing(line["sizing"] or Sizing.FIXED),
        choice=line["choice"],
        option=line["option"],
        waste=Fraction(line["waste %"] or 0),
        coats=line["coats"] or 1,
        chance=Fraction(1) if line["chance"] is None else line["chance"],
        machine=line["machine"],
        minutes=_fraction(line["machine minutes"]),
        life_hours=_fraction(line["life in hours"]),
        growth=None if line["growth"] is None else Fraction(line["growth"]),
    )


def _fraction(number: Decimal | None) -> Fraction | None:
    return None if number is None else Fraction(number)


def _machine_fault(line: ReadRow) -> UsageError | None:
    """Say what is wrong with what a row says of its machine."""
    states = line["machine minutes"] is not None or line["life in hours"] is not None or line["per"] == Per.MINUTE
    if states and not line["machine"]:
        return UsageError("Which machine runs isn't stated.", fix="Name it under 'machine', as on your other rows.")
    if line["machine"] and not states:
        return UsageError(
            phrase("How long '%(machine)s' runs isn't stated.", machine=line["machine"]),
            fix="Fill in 'machine minutes', or 'life in hours', or state the amount per machine minute.",
        )
    if line["life in hours"] is not None and line["per"] not in ("", None, Per.PAIR):
        return UsageError(
            "An amount that lasts some hours is for no pair, shoe or minute.", fix="Leave 'per' blank, or the life."
        )
    return None


def _amount(line: ReadRow, context: Context) -> Quantity | None:
    """Read a line's amount; every variant of a group must be able to take it."""
    if not line.bad and (wrong := _machine_fault(line)) is not None:
        context.blame(line, wrong, column="machine", value=line["machine"])
        return None
    if bool(line["choice"]) is not bool(line["option"]):
        error = UsageError("A choice needs an option, and an option a choice.", fix="Fill in both, or neither.")
        context.blame(line, error, column="option" if line["choice"] else "choice")
        return None
    if not line["material"] or not line["amount"] or line["chance"] == 0:
        return _nothing(line, context)
    stated, variants = line["amount"], _variants(line["material"], context)
    if not variants:
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


def _nothing(line: ReadRow, context: Context) -> Quantity | None:
    """Read a row that uses nothing: it must name an option, or it couldn't be chosen."""
    if line.bad:
        return None
    runs = line["machine"] and line["machine minutes"] and not line["material"]  # and nothing wears on it
    if (line["choice"] or runs) and not (line["amount"] and line["chance"] != 0):
        return Quantity(nano=0, dimension=line["unit"].dimension if line["unit"] else Dimension.COUNT)
    column = "amount" if line["material"] and not line["amount"] else "share" if line["material"] else "material"
    what = {
        "amount": "How much is used isn't stated.",
        "share": "A row of which no job uses anything does nothing.",
        "material": "What is used isn't stated.",
    }[column]
    fix = (
        "Fill it in; for an option that uses nothing, such as 'old ones kept', state choice and option, and no amount."
    )
    context.blame(line, UsageError(what, fix=fix), column="chance" if column == "share" else column)
    return None


def _variants(code: str, context: Context) -> tuple[Material, ...]:
    material = context.book.materials.get(code)
    return (material,) if material else context.book.catalogue.groups.get(code, ())


def _recipe(version: Version, rows: list[tuple[ReadRow, RecipeLine]], context: Context) -> Recipe | None:
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


def _agreed(column: str, lines: list[ReadRow]) -> Any:  # noqa: ANN401 -- a column's value
    stated = [found for found, _ in groupby(line[column] for line in lines if line[column])]
    if any(found != stated[0] for found in stated):
        raise UsageError(
            phrase("The rows of this version don't agree on '%(column)s'.", column=column),
            fix="Write the same on each of them, or on the first.",
        )
    return stated[0] if stated else None


_MOST_GROWTH = 3


def _check_growth(lines: tuple[RecipeLine, ...]) -> None:
    for line in lines:
        if line.growth is not None and (line.sizing is Sizing.FIXED or not 0 < line.growth <= _MOST_GROWTH):
            raise UsageError(
                phrase("'%(row)s' can't grow by the power of %(power)s.", row=line.name, power=line.growth),
                fix="Give a power above 0 and at most 3, on a row that grows by length or area.",
            )


def _check_version(job: str, lines: tuple[RecipeLine, ...], reference: tuple[ShoeSize, ...], context: Context) -> None:
    _check_growth(lines)
    growing = [line.name for line in lines if line.sizing is not Sizing.FIXED]
    if growing and not reference:
        raise UsageError(
            phrase("'%(row)s' grows with the shoe, but no reference size is stated.", row=growing[0]),
            fix="Fill in 'reference size', such as EU 42 = UK 8.",
        )
    stated = {line.machine for line in lines if line.minutes is not None}
    endless = [line for line in lines if line.by_machine and line.minutes is None and line.machine not in stated]
    if endless:
        raise UsageError(
            phrase(
                "'%(row)s' goes by the minutes of '%(machine)s', but no row says how many.",
                row=endless[0].name,
                machine=endless[0].machine,
            ),
            fix="Fill in 'machine minutes' on that row, or on another of the same machine.",
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
    return (
        bool(variants)
        and line.material not in context.book.materials
        and all(variant.size_from for variant in variants)
    )


_ALWAYS_CHOSEN = ("colour",)  # picks a variant even where the recipe has no such choice

_NEVER = datetime.max  # stands for a time at fault

Facts = tuple[str, int | None, ShoeSize | None, tuple[tuple[str, str], ...], tuple[str, ...]]


def read_tickets(lines: Iterable[ReadRow], context: Context) -> list[Ticket]:
    """Read tickets, and check that each could be drawn down by its recipe."""
    found: list[Ticket] = []
    redone: list[tuple[ReadRow, str]] = []
    seen, recipes = RowsSeen(context, "The ticket"), _Recipes(context)
    for line in lines:
        ticket = _ticket(line, context)
        if line["ticket"]:
            context.book.tickets.add(line["ticket"])
        if ticket is None or seen.again(line, ticket.number, ticket) or not recipes.allow(line, ticket):
            continue
        found.append(ticket)
        if ticket.redo_of:
            redone.append((line, ticket.redo_of))
    for line, number in redone:
        if number not in context.book.tickets:
            error = UnknownError(
                phrase("No ticket has the number '%(number)s'.", number=number),
                fix="Load it too, or leave the cell blank.",
            )
            context.blame(line, error, column="redo of", value=number)
    return found


def _ticket(line: ReadRow, context: Context) -> Ticket | None:
    shoes, finished, added = _shoes(line, context), _finished(line, context), _added(line, context)
    if line.bad or not shoes or finished is _NEVER:
        return None
    return Ticket(
        number=line["ticket"],
        job=line["job"],
        taken_in=line["taken in"],
        shoes=shoes,
        size=line["size"],
        chosen=line["choices"],
        promised=line["promised"],
        price=line["price"],
        state=_state(line),
        finished=finished,
        redo_of=line["redo of"],
        by_post=bool(line["by post"]),
        post_cost=line["post cost"],
        note=line["note"],
        added=added,
        left_out=tuple(filter(None, (name.strip() for name in line["left out"].split(";")))),
    )


def _added(line: ReadRow, context: Context) -> tuple[Need, ...]:
    """Read what was used beyond the recipe."""
    found = []
    for code, much in line["added"].items():
        try:
            material = context.book.materials.get(code)
            if material is None:
                raise UnknownError(
                    phrase("No material has the code '%(code)s'.", code=code),
                    fix=nearest(code, context.book.materials) or "Check the code in materials.",
                )
            nano = material.to_base(amount(much, material.unit)).nano
            if nano <= 0:
                raise UsageError(phrase("'%(text)s' is not above zero.", text=much), fix="Give the amount used.")
            found.append(Need(line=extra_line(code), material=code, nano=nano))
        except StockroomError as wrong:
            context.blame(line, wrong, column="added", value=f"{code}={much}")
    return tuple(found)


def _state(line: ReadRow) -> TicketState:
    if line["cancelled"]:
        return TicketState.CANCELLED
    return TicketState.FINISHED if line["finished"] else TicketState.BOOKED


def _shoes(line: ReadRow, context: Context) -> int:
    """Give the number of shoes from pairs, shoes, or neither: one pair. 0 if they make no sense."""
    pairs, shoes = line["pairs"], line["shoes"]
    found = shoes or PAIR if pairs is None else pairs * PAIR
    if found != int(found):
        error = UsageError(
            phrase("%(pairs)s pairs isn't a whole number of shoes.", pairs=pairs), fix="0.5 is a single shoe, 1 a pair."
        )
    elif shoes is not None and found != shoes:
        error = UsageError(
            phrase("%(pairs)s pairs and %(shoes)s shoes contradict each other.", pairs=pairs, shoes=shoes),
            fix="Fill in one of the two.",
        )
    elif found > MOST_SHOES:
        error = UsageError(
            phrase("%(found)s shoes are too many for one ticket.", found=found),
            fix=phrase("Split it: %(most)s at most.", most=MOST_SHOES),
        )
    else:
        return int(found)
    context.blame(line, error, column="shoes" if pairs is None else "pairs", value=shoes if pairs is None else pairs)
    return 0


def _finished(line: ReadRow, context: Context) -> datetime | None:
    """Give when the work was done; a day alone that is the day of taking in counts as after it."""
    taken, done = line["taken in"], line["finished"]
    if done is None or taken is None or (taken <= done and not line["cancelled"]):
        return done  # type: ignore[no-any-return]  # a declared column's value
    if line["cancelled"]:
        error = UsageError("The ticket is both finished and cancelled.", fix="Clear one of the two cells.")
    elif done.date() == taken.date() and done.time() == EVENING:
        return taken  # type: ignore[no-any-return]
    else:
        error = UsageError(
            phrase("It was finished before it was taken in (%(taken)s).", taken=taken), fix="Correct one of the two."
        )
    context.blame(line, error, column="finished", value=done)
    return _NEVER


class _Recipes:
    """Whether tickets fit their recipes; each set of facts is worked out once."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._sure = not context.book.doubtful & {"materials", "jobs", "recipes"}
        self._tried: dict[Facts, tuple[str, StockroomError] | None] = {}

    def allow(self, line: ReadRow, ticket: Ticket) -> bool:
        """Say whether a ticket's size and choices fit; blames the row where they don't."""
        recipe = self._recipe(ticket)
        version = recipe.valid_from.toordinal() if recipe else None
        facts = (ticket.job, version, ticket.size, tuple(ticket.chosen.items()), ticket.left_out)
        if facts not in self._tried:
            self._tried[facts] = self._fault(ticket, recipe)
        fault = self._tried[facts]
        if fault is not None and ticket.state is not TicketState.CANCELLED:
            column, error = fault
            self._context.blame(line, error, column=column, value=_shown(line[column]))
            return False
        return True

    def _recipe(self, ticket: Ticket) -> Recipe | None:
        """Pick the version of the day; before the first version, the first: old work is explained by what is known."""
        versions = self._context.book.recipes.get(ticket.job)
        if not versions:
            return None
        if len(versions) == 1:
            return versions[0]
        day = (ticket.finished or ticket.taken_in).date()
        return in_force(versions, day) or min(versions, key=lambda version: version.valid_from)

    def _fault(self, ticket: Ticket, recipe: Recipe | None) -> tuple[str, StockroomError] | None:
        job = self._context.book.jobs.get(ticket.job)
        if job is not None and job.sized and ticket.size is None:
            return "size", UsageError(
                phrase("%(job)s needs the shoe size.", job=ticket.job), fix="Fill it in, such as EU 42."
            )
        if recipe is None or not self._sure:
            return None
        if (unknown := _unknown_choice(recipe, ticket.chosen)) is not None:
            return "choices", unknown
        lines = [each.name for each in recipe.lines]
        if strange := [name for name in ticket.left_out if name not in lines]:
            what = phrase("The job does not use '%(name)s'.", name=strange[0])
            return "left out", UnknownError(what, fix=phrase("It uses: %(known)s.", known=", ".join(lines)))
        try:
            needs(
                recipe,
                JobFacts(shoes=ticket.shoes, size=ticket.size, chosen=ticket.chosen),
                self._context.book.catalogue,
            )
        except StockroomError as wrong:
            return _column(recipe, ticket), wrong
        return None


def _column(recipe: Recipe, ticket: Ticket) -> str:
    """Name the cell that keeps a ticket from its recipe: the choices where they alone are wrong, else the size."""
    try:
        options_taken(recipe, ticket.chosen)
    except StockroomError:
        return "choices"
    return "size"


def _unknown_choice(recipe: Recipe, chosen: Mapping[str, str]) -> UnknownError | None:
    for name in chosen:
        if name not in recipe.choices and name not in _ALWAYS_CHOSEN:
            there = phrase("Choices: %(names)s.", names=", ".join(recipe.choices) or phrase("none but colour"))
            return UnknownError(
                phrase("%(job)s has no choice called '%(name)s'.", job=recipe.job, name=name),
                fix=joined((nearest(name, recipe.choices), there)),
            )
    return None


def _shown(value: object) -> str:
    if isinstance(value, Mapping):
        return "; ".join(f"{name}={option}" for name, option in value.items())
    return "" if value is None else str(value)
