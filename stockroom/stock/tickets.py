"""Tickets: a customer's job, from the counter to the shelf of finished work, and what it needs by the recipe cards."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime

from stockroom.errors import check_text, shorten
from stockroom.phrases import Named, phrase
from stockroom.stock.bounds import MOST_SHOES, check_day, check_money, check_number
from stockroom.stock.recipes import PAIR, Catalogue, JobFacts, Need, Recipe, in_force, needs
from stockroom.stock.shoe_sizes import ShoeSize


class TicketState(Named):
    """Where a ticket stands."""

    BOOKED = "booked", "open"
    FINISHED = "finished"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True, kw_only=True)
class Ticket:
    """A job taken in."""

    number: str
    job: str
    taken_in: datetime
    shoes: int = PAIR
    size: ShoeSize | None = None
    chosen: Mapping[str, str] = field(default_factory=dict)
    promised: date | None = None
    price: int | None = None  # minor units, as charged
    state: TicketState = TicketState.BOOKED
    finished: datetime | None = None
    finish_document: int | None = None
    redo_of: str = ""  # the ticket whose work is done again under guarantee
    by_post: bool = False
    post_cost: int | None = None  # minor units
    customer: str = ""  # never part of a document, so that it can be forgotten
    note: str = ""
    site: str = "main"
    added: tuple[Need, ...] = ()  # materials beyond the recipe, each a line of its own
    left_out: tuple[str, ...] = ()  # lines of the recipe that this ticket doesn't take
    drawn: tuple[Need, ...] = ()  # used so far, while the work is under way

    def __post_init__(self) -> None:
        for text in (self.number, self.customer, self.note):
            check_text(text)
        check_number(self.shoes, self._what, MOST_SHOES)
        check_money(self.price, self._what)
        check_money(self.post_cost, self._what)
        for day in (self.taken_in, self.promised, self.finished):
            check_day(day, self._what)

    def _what(self) -> str:
        return phrase("Ticket %(number)s", number=shorten(self.number))

    @property
    def work(self) -> JobFacts:
        """The facts that decide what the job uses."""
        return JobFacts(shoes=self.shoes, size=self.size, chosen=self.chosen)

    @property
    def changed(self) -> bool:
        """Whether it takes something else than its recipe says."""
        return bool(self.added or self.left_out)

    def takes(self, by_recipe: Sequence[Need]) -> tuple[Need, ...]:
        """Say what all its work takes: what the recipe says, less what is left out, and what was added."""
        return (*(need for need in by_recipe if need.line not in self.left_out), *self.added)

    def still_takes(self, by_recipe: Sequence[Need]) -> tuple[Need, ...]:
        """Say what it takes from now on, beyond what was used so far.

        What was used of a line in another material stands for the whole of that line.
        """
        return still_to_draw(self.takes(by_recipe), self.drawn)


def extra_line(material: str) -> str:
    """Name the line of a material that is used beyond the recipe."""
    return f"extra {material}"


def still_to_draw(asked: Sequence[Need], drawn: Sequence[Need]) -> tuple[Need, ...]:
    """Subtract what was drawn, line by line; a line never comes to less than nothing."""
    if not drawn:
        return tuple(asked)
    left = []
    for need in asked:
        mine = [each for each in drawn if each.line == need.line]
        whole = any(each.material != need.material for each in mine)
        rest = 0 if whole else need.nano - sum(each.nano for each in mine)
        if rest > 0 or not mine:  # a line that takes nothing, and took nothing, stays as it is
            left.append(replace(need, nano=rest))
    return tuple(left)


def added_up(drawn: Iterable[Need]) -> tuple[Need, ...]:
    """Put what was drawn of one line and material together; what comes to nothing is left out."""
    sums: dict[tuple[str, str], int] = {}
    for need in drawn:
        sums[need.line, need.material] = sums.get((need.line, need.material), 0) + need.nano
    return tuple(Need(line=line, material=material, nano=nano) for (line, material), nano in sums.items() if nano)


class RecipeBox:
    """Recipe versions by job, and what they come to for the work asked; each kind of work is worked out once."""

    def __init__(self, recipes: Mapping[str, Sequence[Recipe]], shelf: Catalogue) -> None:
        self.recipes = recipes
        self.shelf = shelf
        self._known: dict[object, tuple[Need, ...]] = {}
        self._in_force: dict[tuple[str, date], Recipe | None] = {}

    def recipe(self, job: str, day: date) -> Recipe | None:
        """Give the version valid on a day; for work older than every card, the first one."""
        key = (job, day)
        if key not in self._in_force:
            versions = self.recipes.get(job, ())
            self._in_force[key] = in_force(versions, day) or min(versions, key=lambda r: r.valid_from, default=None)
        return self._in_force[key]

    def needs(self, ticket: Ticket, day: date) -> tuple[Need, ...]:
        """Say what all the work on a ticket takes, by the version valid on a day and what is its own.

        Raises
        ------
        StockroomError
            If the catalogue doesn't serve the ticket.
        """
        by_recipe = self.by_recipe(ticket, day)
        return ticket.takes(by_recipe) if ticket.changed else by_recipe

    def to_come(self, ticket: Ticket, day: date) -> tuple[Need, ...]:
        """Say what an open ticket takes from now on, beyond what was used so far.

        Raises
        ------
        StockroomError
            If the catalogue doesn't serve the ticket.
        """
        return still_to_draw(self.needs(ticket, day), ticket.drawn)

    def by_recipe(self, ticket: Ticket, day: date) -> tuple[Need, ...]:
        """Say what the recipe alone asks for; nothing where the job has none yet.

        Raises
        ------
        StockroomError
            If the catalogue doesn't serve the ticket.
        """
        recipe = self.recipe(ticket.job, day)
        if recipe is None:
            return ()
        kind = (id(recipe), ticket.shoes, ticket.size, *sorted(ticket.chosen.items()))
        if kind not in self._known:
            work = JobFacts(shoes=ticket.shoes, size=ticket.size, chosen=ticket.chosen)
            self._known[kind] = needs(recipe, work, self.shelf)
        return self._known[kind]


def by_job(recipes: Sequence[Recipe]) -> dict[str, tuple[Recipe, ...]]:
    """Arrange recipe versions by job, in the order they were entered."""
    found: dict[str, tuple[Recipe, ...]] = {}
    for recipe in recipes:
        found[recipe.job] = (*found.get(recipe.job, ()), recipe)
    return found
