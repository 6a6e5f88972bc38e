"""How many more of each job the shelf allows: of each choice by itself, and in the best mix of all."""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from itertools import product
from math import ceil

from stockroom.buying.capacity import best_mix, scarcest
from stockroom.errors import StockroomError
from stockroom.flows.book.snapshot import BookSnapshot, book_snapshot
from stockroom.stock.agreements import DoesWork, who_does_it
from stockroom.stock.recipes import PAIR, Job, Recipe, options_taken
from stockroom.stock.shoe_sizes import ShoeSize
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState
from stockroom.store.book import Book

Needs = Mapping[str, int]  # nano by material


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """One way of doing a job that takes materials of its own, in the size most asked for of those that take them."""

    size: ShoeSize | None
    needs: Needs
    most: int  # of this way alone, with what does the work of what is lacking
    ended_by: str  # the material that ends it
    in_mix: int  # how many the job's best mix has of it


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What can be chosen of a job, and how many the shelf allows of it: the best mix of its sizes."""

    chosen: Mapping[str, str]
    most: int
    ways: tuple[Way, ...]  # the size asked for most first

    @property
    def words(self) -> str:
        """Say what is chosen: 'black, leather'."""
        return ", ".join(self.chosen.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class CanDo:
    """How many more pairs of a job the shelf allows: the best mix of all it can be."""

    job: Job
    choices: tuple[Choice, ...]  # the one asked for most first

    @property
    def most(self) -> int:
        """How many, in the best mix."""
        return sum(way.in_mix for choice in self.choices for way in choice.ways)


def can_do(book: Book, moment: datetime, *, site: str | None = None) -> list[CanDo]:
    """Say how many more of each job the shelf allows, the scarcest first.

    What counts is what the book holds and no booked ticket has a claim on. A job finished draws what its card says, or
    what does that work in its place, so the number is exact: so many can be finished, and one more would put the book
    below zero.
    """
    with book.reading() as session:
        facts = book_snapshot(session, moment, site=site)
    return can_do_of(facts)


def can_do_of(facts: BookSnapshot) -> list[CanDo]:
    """Say it of what is known of a book."""
    box = RecipeBox(facts.recipes, facts.shelf)
    bench = _Bench(free=_free(facts, box), who=who_does_it(facts.substitutes, facts.shelf.materials))
    asked = _asked(facts.tickets)
    found = [_job(job, box, facts.day, bench, asked.get(job.code, Counter())) for job in facts.jobs if job.active]
    return sorted((each for each in found if each.choices), key=lambda each: (each.most, each.job.name))


def _free(facts: BookSnapshot, box: RecipeBox) -> dict[str, int]:
    """Give what no booked ticket has a claim on, in nano; what has expired serves no job."""
    left = Counter(dict(facts.on_hand))
    for code, lots in facts.lots.items():
        left[code] -= sum(lot.nano for lot in lots if lot.expired(facts.day))
    for ticket in facts.tickets:
        if ticket.state is TicketState.BOOKED:
            with suppress(StockroomError):  # a ticket whose parts are unclear sets nothing aside
                for need in box.to_come(ticket, facts.day):
                    left[need.material] -= need.nano
    return dict(left)


Chosen = tuple[tuple[str, str], ...]
Kind = tuple[Chosen, ShoeSize | None]  # what is chosen, and the size


def _asked(tickets: Sequence[Ticket]) -> dict[str, Counter[Kind]]:
    """Count the kinds of work asked for, by job."""
    found: dict[str, Counter[Kind]] = {}
    for ticket in tickets:
        if ticket.state is not TicketState.CANCELLED:
            kind = (tuple(sorted(ticket.chosen.items())), ticket.size)
            found.setdefault(ticket.job, Counter())[kind] += 1
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bench:
    """What is free, in nano by material, and what does whose work."""

    free: Needs
    who: Mapping[str, Sequence[DoesWork]]

    def variants(self, needs: Needs) -> list[Needs]:
        """Give the needs of a job as its card has them, and with what lies there in place of each material."""
        instead = [
            [(code, 1, 1), *((o.other, o.does.denominator, o.does.numerator) for o in self._there(code))]
            for code in needs
        ]
        found: list[Needs] = []
        for taken in product(*instead):
            total: Counter[str] = Counter()
            for (code, up, down), need in zip(taken, needs.values(), strict=True):
                total[code] += ceil(need * up / down) if (up, down) != (1, 1) else need
            found.append(total)
        return found

    def _there(self, code: str) -> list[DoesWork]:
        return [each for each in self.who.get(code, ()) if self.free.get(each.other, 0) > 0]

    def mix(self, ways: Sequence[Needs]) -> list[int]:
        """Say how many of each way the best mix has."""
        laid = [(n, each) for n, needs in enumerate(ways) for each in self.variants(needs)]
        counts = [0] * len(ways)
        for (n, _), many in zip(laid, best_mix([each for _, each in laid], self.free), strict=True):
            counts[n] += many
        return counts

    def ended_by(self, needs: Needs) -> str:
        """Name the material that ends a way, with all that does its work."""
        whole = {
            code: self.free.get(code, 0) + sum(int(self.free[o.other] * o.does) for o in self._there(code))
            for code in needs
        }
        return scarcest(needs, whole)


def _job(job: Job, box: RecipeBox, day: date, bench: _Bench, asked: Counter[Kind]) -> CanDo:
    recipe = box.recipe(job.code, day)
    kinds = _kinds(job, recipe, box, day, asked) if recipe else {}
    mix = dict(zip(kinds, bench.mix([needs for _, needs in kinds.values()]), strict=True)) if kinds else {}
    by_choice: dict[Chosen, list[Way]] = {}
    for key, (size, needs) in kinds.items():
        alone, ends = sum(bench.mix([needs])), bench.ended_by(needs)
        way = Way(size=size, needs=needs, most=alone, ended_by=ends, in_mix=mix[key])
        by_choice.setdefault(key[0], []).append(way)
    choices = [
        Choice(chosen=dict(chosen), most=sum(bench.mix([way.needs for way in ways])), ways=tuple(ways))
        for chosen, ways in by_choice.items()
    ]
    return CanDo(job=job, choices=tuple(choices))


def _kinds(
    job: Job, recipe: Recipe, box: RecipeBox, day: date, asked: Counter[Kind]
) -> dict[tuple[Chosen, frozenset[str]], tuple[ShoeSize | None, Needs]]:
    """Give one kind of work for each choice and set of materials: the one asked for most, else the first there is."""
    found: dict[tuple[Chosen, frozenset[str]], tuple[ShoeSize | None, Needs]] = {}
    for chosen, size in [*[kind for kind, _ in asked.most_common()], *_possible(job, recipe, box, asked)]:
        if needs := _needs(job, box, day, (chosen, size)):
            whole = tuple(sorted((dict(chosen) | options_taken(recipe, dict(chosen))).items()))
            found.setdefault((whole, frozenset(needs)), (size, needs))
    return found


def _needs(job: Job, box: RecipeBox, day: date, kind: Kind) -> Needs:
    """Add up what a pair needs; nothing where the catalogue doesn't serve it."""
    chosen, size = kind
    ticket = Ticket(
        number="", job=job.code, taken_in=datetime.combine(day, datetime.min.time()), chosen=dict(chosen), size=size,
        shoes=PAIR,
    )  # fmt: skip
    total: Counter[str] = Counter()
    with suppress(StockroomError):
        for need in box.needs(ticket, day):
            total[need.material] += need.nano
    return {code: nano for code, nano in total.items() if nano > 0}


def _possible(job: Job, recipe: Recipe, box: RecipeBox, asked: Counter[Kind]) -> Iterator[Kind]:
    """Give every kind of work the card allows, asked for or not."""
    variants = [v for line in recipe.lines for v in box.shelf.groups.get(line.material, ())]
    colours = sorted({v.colour for v in variants if v.colour})
    sizes: list[ShoeSize | None] = [] if job.sized else [None]
    sizes += list(dict.fromkeys([s for (_, s), _ in asked.most_common() if s] + list(recipe.reference[:1])))
    sizes += sorted({v.size_from for v in variants if v.size_from}, key=str)
    options = recipe.choices | ({"colour": tuple(colours)} if colours else {})
    for size in sizes:
        for taken in product(*options.values()):
            yield tuple(sorted(zip(options, taken, strict=True))), size
