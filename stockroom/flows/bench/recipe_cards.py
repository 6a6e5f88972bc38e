"""Materials, jobs and recipes as an entry at the bench reads them, and what a ticket takes by them."""

from collections.abc import Mapping, Sequence
from datetime import date
from functools import cached_property

from stockroom.errors import UnknownError, UsageError
from stockroom.phrases import phrase
from stockroom.stock.recipes import (
    OTHER,
    Catalogue,
    Job,
    Need,
    Recipe,
    in_force,
    needs,
    options_taken,
    recipe_catalogue,
)
from stockroom.stock.tickets import Ticket
from stockroom.stock.typed import find, material_meant
from stockroom.store import catalogue
from stockroom.store.book import Session


class Cards:
    """Materials, jobs and recipes, read once in a transaction, when first asked for."""

    def __init__(self, session: Session) -> None:
        self.session = session

    @cached_property
    def shelf(self) -> Catalogue:
        """Materials and their groups."""
        return recipe_catalogue(catalogue.read_materials(self.session))

    @cached_property
    def jobs(self) -> dict[str, Job]:
        """The price list, and work that is on none."""
        return {OTHER.code: OTHER} | {job.code: job for job in catalogue.read_jobs(self.session)}

    def job(self, typed: str) -> Job:
        """Find the job that a few letters mean."""
        return self.jobs[find("job", typed, {code: job.name for code, job in self.jobs.items()})]

    def material(self, typed: str) -> str:
        """Find the code of the material that a few letters mean."""
        return material_meant(typed, self.shelf.materials).code

    def recipe(self, job: str, day: date) -> Recipe | None:
        """Give the recipe valid on a day; None where the job has none at all yet.

        Raises
        ------
        UnknownError
            If it has one, but none valid by then.
        """
        versions = catalogue.read_recipes(self.session, job)
        found = in_force(versions, day)
        if found is None and versions:
            raise UnknownError(
                phrase("%(job)s has no recipe valid on %(day)s.", job=job, day=day),
                fix="Load one that is valid from then or earlier.",
            )
        return found

    def by_recipe(self, ticket: Ticket, day: date) -> tuple[Need, ...]:
        """Say what the recipe valid on a day asks for; nothing where the job has none yet."""
        recipe = self.recipe(ticket.job, day)
        return needs(recipe, ticket.work, self.shelf) if recipe else ()

    def to_come(self, ticket: Ticket, day: date) -> tuple[Need, ...]:
        """Say what an open ticket takes from now on."""
        return ticket.still_takes(self.by_recipe(ticket, day))


def choices_of(recipe: Recipe | None, chosen: Mapping[str, str], shelf: Catalogue) -> dict[str, str]:
    """Complete what was chosen; refuses a choice the recipe doesn't have, but keeps any where there is no recipe."""
    if recipe is None:
        return dict(chosen)
    named = recipe.choices
    chosen = _as_named(chosen, named)
    colours = any(m.colour for line in recipe.lines for m in shelf.groups.get(line.material, ()))
    strange = [name for name in chosen if name not in named and not (name == "colour" and colours)]
    if strange:
        offered = "; ".join(f"{name}: {', '.join(options)}" for name, options in named.items()) or phrase("none")
        raise UsageError(
            phrase("%(job)s has no choice '%(choice)s'.", job=recipe.job, choice=strange[0]),
            fix=phrase("Its choices: %(offered)s.", offered=offered),
        )
    return chosen | options_taken(recipe, chosen)


def _as_named(chosen: Mapping[str, str], named: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """Write choices and options as the recipe does, where they differ in capitals only."""
    spelt = {name.casefold(): name for name in named}
    said = {name if name in named else spelt.get(name.casefold(), name): option for name, option in chosen.items()}
    return {name: _like(option, named.get(name, ())) for name, option in said.items()}


def _like(option: str, options: Sequence[str]) -> str:
    return option if option in options else {each.casefold(): each for each in options}.get(option.casefold(), option)
