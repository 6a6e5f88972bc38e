"""Let a material stand in for another: its past counts for the new one, and recipes that name it take the new one."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from stockroom.errors import UsageError
from stockroom.flows.loading.load import NotKept, keep
from stockroom.phrases import phrase
from stockroom.stock.materials import Material
from stockroom.stock.quantities import Bridge
from stockroom.stock.recipes import Recipe, RecipeLine, in_force
from stockroom.stock.tickets import by_job
from stockroom.store import catalogue, list_changes
from stockroom.store.book import Book
from stockroom.store.catalogue import the_material


@dataclass(frozen=True, slots=True, kw_only=True)
class Replacement:
    """What is to be replaced by what, by their codes."""

    old: str
    new: str
    rate: Bridge | None = None  # so much of the new one does for so much of the old one; None: as is said, or as much
    since: date | None = None  # from when recipes take the new one; None: today


@dataclass(frozen=True, slots=True, kw_only=True)
class Replaced:
    """What replacing did."""

    document: int | None
    old: Material
    new: Material
    jobs: tuple[str, ...]  # whose recipes take the new one


def replace_material(
    book: Book, asked: Replacement, now: datetime, *, who: str = "", dry_run: bool = False
) -> Replaced:
    """Let a material stand in for another from a day on, in one document.

    Raises
    ------
    UnknownError
        If a material isn't there.
    UnitsError
        If nothing says how much of one does for how much of the other.
    UsageError
        If one would stand in for itself, at the end of a chain too.
    """
    done: list[Replaced] = []
    try:
        with book.writing(at=now, who=who) as session:
            materials = catalogue.read_materials(session)
            before, after = the_material(materials, asked.old), the_material(materials, asked.new)
            _refuse_circle(before, after, materials)
            said = after.replaces_at if after.replaces == before.code else None
            after = replace(after, replaces=before.code, replaces_at=asked.rate or said)
            after.in_place_of(before, before.unit.of(1))
            catalogue.save_materials(session, [after])
            recipes = _changed(catalogue.read_recipes(session), before, after, asked.since or now.date())
            catalogue.add_recipes(session, recipes, back=True)
            document = list_changes.say_now(session)
            jobs = tuple(dict.fromkeys(recipe.job for recipe in recipes))
            done.append(Replaced(document=document, old=before, new=after, jobs=jobs))
            keep(dry_run=dry_run)
    except NotKept:
        pass
    return done[0]


def _refuse_circle(before: Material, after: Material, materials: Iterable[Material]) -> None:
    by_code = {m.code: m for m in materials}
    at, met = before.code, set[str]()
    while at and at not in met:
        if at == after.code:
            raise UsageError(
                phrase("%(new)s would stand in for itself.", new=after.code),
                fix="Replace a material by another one.",
            )
        met.add(at)
        at = by_code[at].replaces if at in by_code else ""


def _changed(recipes: Sequence[Recipe], before: Material, after: Material, since: date) -> list[Recipe]:
    """Give new versions of the recipes that are in force on the day, or come later, and name the old material."""
    found = []
    for versions in by_job(recipes).values():
        now = in_force(versions, since)
        later = {each.valid_from: each for each in versions if each.valid_from > since}
        for version in (*([replace(now, valid_from=since)] if now else []), *later.values()):
            lines = tuple(_line(line, before, after) for line in version.lines)
            if lines != version.lines:
                source = f"{after.code} replaces {before.code}"
                found.append(replace(version, lines=lines, source=source))
    return found


def _line(line: RecipeLine, before: Material, after: Material) -> RecipeLine:
    if line.material != before.code:
        return line
    return replace(line, material=after.code, amount=after.in_place_of(before, line.amount))
