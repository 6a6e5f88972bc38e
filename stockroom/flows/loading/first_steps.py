"""How far a new shop has come: what its book says, and what is still missing before the first true order list."""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from stockroom.flows.counts.sheets import places
from stockroom.flows.loading.lists import LISTS, Entry, entries
from stockroom.phrases import Phrase, phrase, plural
from stockroom.stock.materials import Family, Purpose
from stockroom.store import catalogue, counts, ledger
from stockroom.store.book import Book, Session

_NAMED = 4  # of those a gap is about


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """Something that is missing, and where it is filled in."""

    said: Phrase
    table: str  # of the list
    names: tuple[str, ...]  # the first few it is about
    more: int  # how many others
    needed: bool = True  # whether the first order list is wrong without it


@dataclass(frozen=True, slots=True, kw_only=True)
class StartStanding:
    """How far a new shop has come."""

    suppliers: int
    materials: int
    jobs: int
    recipes: int
    bins: int
    counted: int  # bins counted, entered or not
    waiting: int  # bins counted, and not entered yet
    moved: bool  # whether the ledger has anything
    gaps: tuple[Gap, ...]

    def gap(self, table: str) -> bool:
        """Say whether something of a table is missing."""
        return any(each.table == table and each.needed for each in self.gaps)

    @property
    def step(self) -> str:
        """Where to go on: the first table that lacks what is needed, else the count, else the first orders."""
        first = next((each.table for each in self.gaps if each.needed), "")
        return first or ("orders" if self.moved else "count")


def standing(book: Book, day: date) -> StartStanding:
    """Say how far a new shop has come."""
    found = {stem: entries(book, LISTS[stem], day) for stem in ("suppliers", "materials", "jobs", "recipes", "offers")}
    for stem in ("materials", "jobs"):
        found[stem] = [e for e in found[stem] if e.noun.active]
    with book.reading() as session:
        waiting, moved = _waiting(session), ledger.has_moved(session)
        known = set(counts.last_counted(session))
    there = places(book)
    counted = sum(place.bins - place.uncounted for place in there) + len(waiting - known)
    return StartStanding(
        suppliers=len(found["suppliers"]),
        materials=len(found["materials"]),
        jobs=len(found["jobs"]),
        recipes=len(found["recipes"]),
        bins=sum(place.bins for place in there),
        counted=counted,
        waiting=len(waiting),
        moved=moved,
        gaps=tuple(_gaps(found)),
    )


def _gaps(found: dict[str, list[Entry]]) -> Iterable[Gap]:
    """Say what is missing, in the order of the steps."""
    suppliers, materials, jobs = found["suppliers"], found["materials"], found["jobs"]
    if not suppliers:
        yield _gap("suppliers", (), phrase("There is no supplier yet."))
    yield from _gaps_of_materials(materials, {e.noun.material for e in found["offers"]})
    if not jobs:
        yield _gap("jobs", (), phrase("There is no job yet."))
    if each := [e for e in jobs if not e.noun.weekly]:
        said = plural(
            "Of %(num)s job it isn't said how many come in a week.",
            "Of %(num)s jobs it isn't said how many come in a week.",
            len(each),
        )
        yield _gap("jobs", each, said)
    if each := [e for e in jobs if e.noun.price is None]:
        yield _gap("jobs", each, plural("%(num)s job has no price.", "%(num)s jobs have no price.", len(each)))
    if each := [e for e in jobs if e.key[0] not in {recipe.key[0] for recipe in found["recipes"]}]:
        said = plural(
            "Of %(num)s job it isn't said what it uses.", "Of %(num)s jobs it isn't said what they use.", len(each)
        )
        yield _gap("recipes", each, said)
    if jobs and (each := _idle(materials, {line.material for e in found["recipes"] for line in e.noun.lines})):
        said = plural(
            "%(num)s material is used by no job, and not sold.",
            "%(num)s materials are used by no job, and not sold.",
            len(each),
        )
        yield replace(_gap("recipes", each, said), needed=False)


def _gaps_of_materials(materials: list[Entry], offered: Collection[str]) -> Iterable[Gap]:
    sold = [e for e in materials if e.noun.purpose is not Purpose.BENCH]
    if not materials:
        yield _gap("materials", (), phrase("There is no material yet."))
    bought = [e for e in materials if e.noun.family is not Family.OFFCUTS]
    if each := [e for e in bought if e.key[0] not in offered]:
        said = plural("%(num)s material has no supplier.", "%(num)s materials have no supplier.", len(each))
        yield _gap("materials", each, said)
    if each := [e for e in sold if e.noun.sell_price is None]:
        said = plural(
            "%(num)s material that is sold has no shelf price.",
            "%(num)s materials that are sold have no shelf price.",
            len(each),
        )
        yield _gap("materials", each, said)
    if each := [e for e in sold if not e.noun.weekly]:
        said = plural(
            "Of %(num)s material that is sold it isn't said how much in a week.",
            "Of %(num)s materials that are sold it isn't said how much in a week.",
            len(each),
        )
        yield _gap("materials", each, said)


def _idle(materials: Iterable[Entry], taken: Collection[str]) -> list[Entry]:
    """Give the materials of the bench that nothing takes, by their code or their group; offcuts stand in for sheets."""
    bench = [e for e in materials if e.noun.purpose is Purpose.BENCH and e.noun.family is not Family.OFFCUTS]
    return [e for e in bench if e.noun.code not in taken and (not e.noun.group or e.noun.group not in taken)]


def _gap(table: str, found: Sequence[Entry], said: Phrase) -> Gap:
    names = tuple(e.name for e in found[:_NAMED])
    return Gap(said=said, table=table, names=names, more=len(found) - len(names))


def never_moved(book: Book) -> bool:
    """Say whether the ledger is empty still."""
    with book.reading() as session:
        return not ledger.has_moved(session)


def counted_by_place(book: Book) -> dict[str, int]:
    """Give how many bins of each location are counted for the first time and not entered yet."""
    with book.reading() as session:
        at = {m.code: m.place for m in catalogue.read_materials(session)}
        waiting = _waiting(session) - set(counts.last_counted(session))
    return dict(Counter(at[code] for code in waiting))


def _waiting(session: Session) -> set[str]:
    """Give the materials whose count is open."""
    lines = counts.read_lines(session, catalogue.dimensions(session), state="open")
    return {kept.line.material for kept in lines}
