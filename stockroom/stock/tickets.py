"""Tickets: a customer's job, from the counter to the shelf of finished work, and what it needs by the recipe cards."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from stockroom.errors import UnknownError, check_text, shorten
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
        """Say what a ticket needs by the version valid on a day.

        Raises
        ------
        StockroomError
            If the job has no recipe, or the catalogue doesn't serve the ticket.
        """
        recipe = self.recipe(ticket.job, day)
        if recipe is None:
            raise UnknownError(
                phrase("%(job)s has no recipe valid on %(day)s.", job=ticket.job, day=day),
                fix="Load one that is valid from then or earlier.",
            )
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
