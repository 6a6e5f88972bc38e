"""Tickets into demand streams: one for each job and set of parts, so that sizes and choices keep their own pattern."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from fractions import Fraction

import numpy as np

from stockroom.demand.history import Dates, Facts, Floats
from stockroom.demand.paths import ChanceLine
from stockroom.errors import StockroomError
from stockroom.stock.quantities import NANO
from stockroom.stock.recipes import Need
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Streams:
    """Demand streams of jobs, when they were asked for, and what one of each uses.

    Parameters
    ----------
    names, jobs : (n_streams,) tuple of str
        A stream's own name and its job's code.
    began : (n_streams,) datetime64[D]
        The day from which a stream could have been asked for: its job's first ticket.
    facts : Facts
        One fact for each ticket, on the day it was taken in.
    uses : (n_streams, n_materials) float
        Base units of each material that one ticket of the stream uses on average, by the recipes in force.
    chances : tuple of ChanceLine
        What of it comes from lines that only some of the tickets need.
    unclear : dict
        Tickets whose use can't be worked out, and why.
    """

    names: tuple[str, ...]
    jobs: tuple[str, ...]
    began: Dates
    facts: Facts
    uses: Floats
    chances: tuple[ChanceLine, ...]
    unclear: Mapping[str, str]


_WHOLE_WEEK = timedelta(days=6)  # a week in which something was offered for some days says nothing yet

StreamKey = tuple[str, frozenset[str]]  # a job, and the materials it takes


@dataclass(slots=True)
class _Kind:
    """Tickets whose recipe asks for exactly the same."""

    key: StreamKey
    asked: tuple[Need, ...]
    chances: Mapping[str, Fraction]  # of each line
    tickets: int = 0
    own: list[Need] = field(default_factory=list)  # what single tickets took beyond it, or left out: then below zero


@dataclass(slots=True)
class _Pile:
    """Tickets of one stream while they are gathered."""

    amounts: Counter[str] = field(default_factory=Counter)
    by_chance: Counter[tuple[str, Fraction]] = field(default_factory=Counter)  # nano, by material and chance
    tickets: int = 0


def streams(
    tickets: Sequence[Ticket],
    box: RecipeBox,
    day: date,
    materials: Sequence[str],
    untried: Mapping[str, date] | None = None,
) -> Streams:
    """Sort tickets into streams.

    Parameters
    ----------
    tickets : sequence of Ticket
        Taken in so far; cancelled ones and re-dos count as work asked for only if not cancelled.
    box : RecipeBox
        The recipe cards.
    day : date
        The day whose recipes say what a ticket uses.
    materials : sequence of str
        Codes, in the order of the columns of `uses`.
    untried : mapping of str to date, optional
        Jobs that were never taken in and may be, and since when; each is a stream of what it usually takes.

    Notes
    -----
    A stream is a job with the set of materials it takes: heel tops of two sizes are two streams, full soles cut
    from one bend are one, whose use per ticket is the mean over the sizes that came in. What single tickets took
    beyond their recipe is spread over the stream as a line of chance, and makes no stream of its own.

    A stream starts where its job's history starts. Started at its own first ticket, a set of materials seen once ten
    weeks ago would count as one in ten weeks: the weeks before, in which it could have been asked for and was not,
    say as much of its rate as the weeks since.
    """
    kinds: dict[tuple[str, int], _Kind] = {}  # the box gives tickets of one kind the same needs, as one object
    rows: list[tuple[StreamKey, date]] = []
    unclear: dict[str, str] = {}
    for ticket in tickets:
        if ticket.state is TicketState.CANCELLED:
            continue
        try:
            asked = box.by_recipe(ticket, day)
        except StockroomError as wrong:
            unclear[ticket.number] = wrong.what
            continue
        kind = kinds.get((ticket.job, id(asked)))
        if kind is None:
            key = (ticket.job, frozenset(need.material for need in asked))
            kind = kinds[ticket.job, id(asked)] = _Kind(key=key, asked=asked, chances=_chances(box, ticket, day))
        kind.tickets += 1
        if ticket.changed:
            kind.own += ticket.added
            kind.own += (replace(need, nano=-need.nano) for need in asked if need.line in ticket.left_out)
        rows.append((kind.key, ticket.taken_in.date()))
    for job, since in (untried or {}).items():
        if all(key[0] != job for key, _ in rows):
            kinds[job, 0] = _untried(job, since, box, day)
    return _streams(_piled(kinds.values()), rows, materials, unclear, untried or {})


def _untried(job: str, since: date, box: RecipeBox, day: date) -> _Kind:
    """Make up what a job that was never taken in takes: a pair at its recipe's size, with the usual of each choice."""
    recipe = box.recipe(job, day)
    size = recipe.reference[0] if recipe and recipe.reference else None
    usual = Ticket(number="", job=job, taken_in=datetime.combine(since, time()), size=size)
    asked: tuple[Need, ...] = ()
    with suppress(StockroomError):  # then nothing is known of what it takes
        asked = box.by_recipe(usual, day)
    key = (job, frozenset(need.material for need in asked))
    return _Kind(key=key, asked=asked, chances=_chances(box, usual, day), tickets=1)


def _piled(kinds: Iterable[_Kind]) -> dict[StreamKey, _Pile]:
    """Add up what the tickets of each stream take."""
    piles: dict[StreamKey, _Pile] = {}
    kinds = list(kinds)
    for kind in kinds:
        pile = piles.setdefault(kind.key, _Pile())
        pile.tickets += kind.tickets
        for need in kind.asked:
            nano = need.nano * kind.tickets
            pile.amounts[need.material] += nano
            if kind.chances.get(need.line, 1) != 1:
                pile.by_chance[need.material, kind.chances[need.line]] += nano
    for kind in kinds:
        _add_own(piles[kind.key], kind.own)
    return piles


def _add_own(pile: _Pile, own: Sequence[Need]) -> None:
    """Let what single tickets took beyond the recipe be a line that only such a share of the tickets needs."""
    times = Counter(need.material for need in own if need.nano > 0)
    for need in own:
        pile.amounts[need.material] += need.nano
        if need.nano > 0:
            share = min(Fraction(times[need.material], pile.tickets), Fraction(1))
            pile.by_chance[need.material, share] += need.nano


def _chances(box: RecipeBox, ticket: Ticket, day: date) -> dict[str, Fraction]:
    recipe = box.recipe(ticket.job, day)
    return {line.name: line.chance for line in recipe.lines} if recipe else {}


def _streams(
    piles: dict[StreamKey, _Pile],
    rows: list[tuple[StreamKey, date]],
    materials: Sequence[str],
    unclear: dict[str, str],
    untried: Mapping[str, date],
) -> Streams:
    keys = sorted(piles, key=lambda key: (key[0], sorted(key[1])))
    place = {key: n for n, key in enumerate(keys)}
    column = {code: n for n, code in enumerate(materials)}
    uses = np.zeros((len(keys), len(materials)))
    chances = []
    for key, pile in piles.items():
        for (code, chance), nano in pile.by_chance.items():
            amount = nano / NANO / pile.tickets / float(chance)
            chances.append(ChanceLine(stream=place[key], material=column[code], amount=amount, chance=float(chance)))
        for code, nano in pile.amounts.items():
            uses[place[key], column[code]] = nano / NANO / pile.tickets
    facts = Facts(
        series=np.array([place[key] for key, _ in rows], dtype=np.intp),
        dates=np.array([day for _, day in rows], dtype="datetime64[D]"),
        quantity=np.ones(len(rows)),
    )
    return Streams(
        names=tuple(f"{job} #{n}" for n, (job, _) in enumerate(keys)),
        jobs=tuple(job for job, _ in keys),
        began=_first_days(keys, rows, untried),
        facts=facts,
        uses=uses,
        chances=tuple(chances),
        unclear=unclear,
    )


def _first_days(
    keys: Sequence[StreamKey], rows: Iterable[tuple[StreamKey, date]], untried: Mapping[str, date]
) -> Dates:
    """Give each stream the day of its job's first ticket, or since when there might have been one."""
    first = {job: since + _WHOLE_WEEK for job, since in untried.items()}
    for (job, _), day in rows:
        first[job] = min(first.get(job, day), day)
    return np.array([first[job] for job, _ in keys], dtype="datetime64[D]")
