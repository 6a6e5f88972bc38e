"""All recipe cards of a shop: what any job asked for on any day, each kind of work worked out once."""

from collections.abc import Mapping, Sequence
from datetime import date

from stockroom.stock.recipes import Catalogue, JobFacts, Need, Recipe, in_force, needs
from stockroom.stock.tickets import Ticket, still_to_draw


class RecipeBox:
    """Recipe versions by job, and what they come to for the work that has been asked."""

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
