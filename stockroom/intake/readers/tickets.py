"""Past and booked jobs."""

from collections.abc import Iterable, Mapping
from datetime import datetime

from stockroom.errors import StockroomError, UnknownError, UsageError, nearest
from stockroom.intake.history_columns import EVENING
from stockroom.intake.readers.rows import Context, Seen
from stockroom.intake.tables import Line
from stockroom.phrases import joined, phrase
from stockroom.stock.recipes import PAIR, Recipe, Work, in_force, needs, options_taken
from stockroom.stock.shoe_sizes import ShoeSize
from stockroom.stock.tickets import Ticket, TicketState

MOST_SHOES = 200
_ALWAYS_CHOSEN = ("colour",)  # picks a variant even where the recipe has no such choice

_NEVER = datetime.max  # stands for a time at fault

Facts = tuple[str, int | None, ShoeSize | None, tuple[tuple[str, str], ...]]


def read_tickets(lines: Iterable[Line], context: Context) -> list[Ticket]:
    """Read tickets, and check that each could be drawn down by its recipe."""
    found: list[Ticket] = []
    redone: list[tuple[Line, str]] = []
    seen, recipes = Seen(context, "The ticket"), _Recipes(context)
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


def _ticket(line: Line, context: Context) -> Ticket | None:
    shoes, finished = _shoes(line, context), _finished(line, context)
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
    )


def _state(line: Line) -> TicketState:
    if line["cancelled"]:
        return TicketState.CANCELLED
    return TicketState.FINISHED if line["finished"] else TicketState.BOOKED


def _shoes(line: Line, context: Context) -> int:
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


def _finished(line: Line, context: Context) -> datetime | None:
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
            phrase("It was finished before it was taken in (%(taken)s).", taken=taken), fix="Mend one of the two."
        )
    context.blame(line, error, column="finished", value=done)
    return _NEVER


class _Recipes:
    """Whether tickets fit their recipes; each set of facts is worked out once."""

    def __init__(self, context: Context) -> None:
        self._context = context
        self._sure = not context.book.doubtful & {"materials", "jobs", "recipes"}
        self._tried: dict[Facts, tuple[str, StockroomError] | None] = {}

    def allow(self, line: Line, ticket: Ticket) -> bool:
        """Say whether a ticket's size and choices fit; blames the row where they don't."""
        recipe = self._recipe(ticket)
        version = recipe.valid_from.toordinal() if recipe else None
        facts = (ticket.job, version, ticket.size, tuple(ticket.chosen.items()))
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
        try:
            needs(
                recipe, Work(shoes=ticket.shoes, size=ticket.size, chosen=ticket.chosen), self._context.book.catalogue
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
