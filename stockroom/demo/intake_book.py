"""Customers of the invented shop: what they bring, when, and what they buy over the counter."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from fractions import Fraction

from stockroom.demo import job_mix as mix
from stockroom.demo.catalogue import SHELF
from stockroom.demo.dice import Dice
from stockroom.demo.price_list import JOBS
from stockroom.demo.recipe_cards import CARDS
from stockroom.demo.seasons import open_days, pace, weather, working_days_on
from stockroom.stock.calendar import monday
from stockroom.stock.recipes import Job
from stockroom.stock.shoe_sizes import ShoeSize, System
from stockroom.stock.tickets import Ticket, TicketState

_OPENS, _LAST_IN, _LAST_OUT = time(9, 30), time(17, 15), time(17, 30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """A ticket as taken in, and when the bench could have it ready."""

    ticket: Ticket
    ready: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What a customer would buy over the counter if it is there."""

    when: datetime
    material: str
    shown_units: int


def take_in(dice: Dice) -> dict[date, list[Intake]]:
    """Draw everything brought in, by day."""
    luck = weather(dice)
    by_day = {}
    for day in open_days():
        drawn = []
        for job in JOBS:
            mean = mix.HABITS[job.code].weekly / 5 * pace(job.family, day, job.code) * luck[job.family, monday(day)]
            drawn += [_intake(job, day, dice) for _ in range(dice.poisson(mean))]
        by_day[day] = drawn
    return by_day


def wishes(dice: Dice) -> dict[date, list[Wish]]:
    """Draw everything customers would buy over the counter, by day."""
    luck = weather(dice)
    by_day: dict[date, list[Wish]] = defaultdict(list)
    for day in open_days():
        for code, (weekly, season) in mix.SALES.items():
            for _ in range(dice.poisson(weekly / 5 * pace(season, day) * luck[season, monday(day)])):
                when = at(day, dice.uniform(), _OPENS, _LAST_OUT)
                by_day[day].append(Wish(when=when, material=code, shown_units=2 if dice.happens(0.1) else 1))
    return by_day


def again(ticket: Ticket, day: date, dice: Dice) -> Intake:
    """Take a finished job in once more under guarantee."""
    redo = replace(ticket, price=0, redo_of=ticket.number, by_post=False, post_cost=None, finished=None)
    return _timed(replace(redo, state=TicketState.BOOKED), day, (0, 2), dice)


def at(day: date, part: float, first: time, last: time) -> datetime:
    """Give the minute at a part of a stretch of a day."""
    start = datetime.combine(day, first)
    return start + timedelta(minutes=int((datetime.combine(day, last) - start).total_seconds() / 60 * part))


def _intake(job: Job, day: date, dice: Dice) -> Intake:
    habit = mix.HABITS[job.code]
    chosen = {choice: dice.weighted(weights) for choice, weights in habit.weights.items()}
    extra = sum(habit.dearer.get(option, 0) for option in chosen.values())
    shoes = 1 if dice.happens(habit.single) else 2
    posted = _has_packing(job.code) and dice.happens(mix.BY_POST)
    ticket = Ticket(
        number="",
        job=job.code,
        taken_in=datetime.combine(day, _OPENS),
        shoes=shoes,
        size=_size(job, chosen, dice),
        chosen=_told(job.code, chosen, dice, posted=posted),
        price=_price((job.price or 0) + extra, shoes, day),
        by_post=posted,
        post_cost=dice.one_of((590, 690, 840)) if posted else None,
        state=TicketState.CANCELLED if dice.happens(mix.CANCELLED) else TicketState.BOOKED,
    )
    return _timed(ticket, day, habit.days, dice)


def _timed(ticket: Ticket, day: date, days: tuple[int, int], dice: Dice) -> Intake:
    taken = at(day, dice.uniform(), _OPENS, _LAST_IN)
    ready_day = working_days_on(day, dice.whole(*days))
    earliest = time(taken.hour, taken.minute) if ready_day == day else _OPENS
    ready = at(ready_day, dice.uniform(0.1, 1), earliest, _LAST_OUT)
    promised = working_days_on(ready_day, dice.whole(0, 3) if days[1] > 1 else dice.whole(0, 1))
    return Intake(ticket=replace(ticket, taken_in=taken, promised=promised), ready=ready)


def _size(job: Job, chosen: dict[str, str], dice: Dice) -> ShoeSize | None:
    woman = dice.happens(mix.HABITS[job.code].women)
    number = dice.weighted(mix.WOMEN_SIZES if woman else mix.MEN_SIZES)
    cut = job.code in mix.ANY_SYSTEM or (job.code == "HALF" and chosen["sole"] in mix.CUT_TO_SIZE)
    if cut and not woman and dice.happens(mix.UK_MARKED):
        return ShoeSize(system=System.UK, number=Fraction(dice.weighted(mix.UK_SIZES)))
    return ShoeSize(system=System.EU, number=Fraction(number)) if job.sized else None


def _told(job: str, chosen: dict[str, str], dice: Dice, *, posted: bool) -> dict[str, str]:
    """Write down what isn't usual: options other than the first, and the colour where it matters."""
    usual = {line.choice: line.option for line in reversed(CARDS[job]) if line.choice}
    told = {choice: option for choice, option in chosen.items() if option != usual[choice]}
    if posted:
        told["packing"] = "box"
    if any(_by_colour(line.material) for line in CARDS[job]):
        told["colour"] = dice.weighted(mix.COLOURS[job])
    return told


def _by_colour(code: str) -> bool:
    return any(variant.colour for variant in SHELF.groups.get(code, ()))


def _has_packing(job: str) -> bool:
    return any(line.choice == "packing" for line in CARDS[job])


def _price(cents: int, shoes: int, day: date) -> int:
    """Give the price of the day, to half a euro; a single shoe costs three fifths of a pair."""
    share = 0.6 if shoes == 1 else 1.0
    return round(cents * share * mix.PRICE_PAST[day.year] / 50) * 50


def by_time(intakes: list[Intake]) -> Iterator[Intake]:
    """Go through what was taken in, earliest first."""
    yield from sorted(intakes, key=lambda intake: intake.ticket.taken_in)
