"""How often each job comes in, how long it takes, and what customers choose. All figures are our own."""

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from fractions import Fraction

from stockroom.demo.catalogue import SHELF
from stockroom.demo.dice import Dice
from stockroom.demo.recipes import CARDS, JOBS
from stockroom.demo.seasons import open_days, pace, weather, working_days_on
from stockroom.stock.calendar import monday
from stockroom.stock.recipes import Job
from stockroom.stock.shoe_sizes import ShoeSize, System
from stockroom.stock.tickets import Ticket, TicketState


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """What is usual for a job."""

    weekly: float
    days: tuple[int, int] = (0, 2)  # worked days at the bench, fewest and most
    women: float = 0.5
    single: float = 0.03  # a single shoe
    weights: dict[str, dict[str, float]] = field(default_factory=dict)  # choice -> option -> weight
    dearer: dict[str, int] = field(default_factory=dict)  # option -> cents on top


_HALF = {"sole": {"rubber": 0.62, "leather": 0.21, "sheet": 0.11, "brown sheet": 0.06}}
_HALF_DEARER = {"leather": 900, "sheet": -300, "brown sheet": -300}

HABITS: dict[str, Habit] = {
    "HEEL-L": Habit(
        weekly=8.6, days=(0, 0), women=1.0, weights={"top": {"8 mm": 0.38, "9 mm": 0.33, "11 mm": 0.13, "block": 0.16}}
    ),
    "HEEL-M": Habit(weekly=4.9, days=(0, 0), women=0.15),
    "HEEL-BLOCK": Habit(weekly=0.7, days=(0, 2), women=0.45),
    "HALF": Habit(weekly=4.0, days=(1, 2), women=0.45, single=0.01, weights=_HALF, dearer=_HALF_DEARER),
    "HALF-HEEL": Habit(weekly=2.3, days=(0, 1), women=0.3, single=0.0, weights=_HALF, dearer=_HALF_DEARER),
    "FULL": Habit(
        weekly=1.5,
        days=(4, 9),
        women=0.2,
        single=0.0,
        weights={"sole": {"leather": 0.46, "bend": 0.24, "rubber": 0.30}},
        dearer={"bend": 1200, "rubber": -1500},
    ),
    "BOOT": Habit(weekly=1.0, days=(4, 10), women=0.4, single=0.0),
    "LIGHT": Habit(weekly=1.0, days=(1, 3), women=0.5),
    "WELT": Habit(weekly=0.6, days=(2, 7), women=0.2, single=0.3),
    "RECORK": Habit(weekly=0.7, days=(2, 6), women=0.6, single=0.05),
    "SLING": Habit(weekly=0.9, days=(0, 0), women=0.85, single=0.6),
    "GLUE": Habit(weekly=4.0, days=(0, 0), single=0.45),
    "STITCH": Habit(weekly=3.6, days=(0, 2), single=0.5),
    "PATCH": Habit(weekly=1.5, days=(1, 2), single=0.5),
    "LINING": Habit(weekly=1.2, days=(1, 2), single=0.15),
    "ZIP": Habit(weekly=1.7, days=(1, 3), women=0.85, single=0.4, weights={"zip": {"25 cm": 0.4, "40 cm": 0.6}}),
    "ELASTIC": Habit(weekly=0.6, days=(2, 6), single=0.1),
    "EYELET": Habit(weekly=0.8, days=(0, 0), single=0.3),
    "BUCKLE": Habit(weekly=1.3, days=(0, 0), women=0.8, single=0.7),
    "HOOK": Habit(weekly=0.8, days=(0, 0), single=0.2),
    "TOE": Habit(weekly=0.9, days=(0, 0), women=0.05),
    "INSOLE": Habit(weekly=1.5, days=(0, 0)),
    "STRETCH": Habit(weekly=1.6, days=(1, 1), single=0.15),
    "DYE": Habit(weekly=0.8, days=(2, 6)),
    "POLISH": Habit(weekly=2.9, days=(0, 0)),
    "PROOF": Habit(weekly=1.2, days=(0, 0)),
    "BAG-STRAP": Habit(weekly=1.0, days=(1, 4), single=0.0),
    "BELT-HOLE": Habit(weekly=2.5, days=(0, 0), single=0.0),
}
COLOURS: dict[str, dict[str, float]] = {job: {"black": 0.62, "brown": 0.38} for job in CARDS}
COLOURS["POLISH"] = {"black": 0.5, "brown": 0.32, "neutral": 0.18}
WOMEN_SIZES: dict[int, float] = {36: 10, 37: 22, 38: 30, 39: 24, 40: 11, 41: 3}
MEN_SIZES: dict[int, float] = {39: 2, 40: 6, 41: 14, 42: 22, 43: 24, 44: 18, 45: 10, 46: 3, 47: 1}
UK_SIZES: dict[int, float] = {6: 5, 7: 15, 8: 25, 9: 28, 10: 18, 11: 9}
CUT_TO_SIZE = {"leather", "sheet", "brown sheet"}  # half soles that need no ready-cut size
ANY_SYSTEM = ("BOOT", "LIGHT", "WELT", "RECORK")  # jobs cut from the sheet, whose shoes may be marked in UK sizes

BY_POST = 0.08
UK_MARKED = 0.08
REDONE = 0.012
CANCELLED = 0.01
PRICE_PAST = {2023: 0.92, 2024: 0.94, 2025: 0.97, 2026: 1.0}  # of today's price list, by year

# Counter sales: material -> (sold a week, its season).
SALES: dict[str, tuple[float, str]] = {
    "POLISH-BLK": (1.6, "steady"),
    "POLISH-BRN": (1.2, "steady"),
    "POLISH-NEU": (0.9, "steady"),
    "LACE-75-BLK": (1.5, "steady"),
    "LACE-75-BRN": (1.0, "steady"),
    "LACE-90-BLK": (1.7, "steady"),
    "LACE-120-BLK": (1.0, "children"),
    "LACE-150-BOOT": (1.1, "boots"),
    "SPRAY-PROOF": (1.4, "wet weather"),
    "WAX-PROOF": (0.7, "wet weather"),
    "SUEDE-BRUSH": (0.6, "steady"),
    "SHINE-BRUSH": (0.5, "gifts"),
    "CLOTH": (0.8, "gifts"),
    "TREES": (0.4, "gifts"),
    "GIFT-KIT": (0.35, "gifts"),
    "HORN": (0.35, "gifts"),
    "HEEL-GRIP": (0.9, "sandals"),
    "INSOLE-36": (0.25, "comfort"),
    "INSOLE-39": (0.5, "comfort"),
    "INSOLE-42": (0.5, "comfort"),
    "INSOLE-45": (0.2, "comfort"),
}


_OPENS, _LAST_IN, _LAST_OUT = time(9, 30), time(17, 15), time(17, 30)


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """A ticket as taken in, and when the bench could have it ready."""

    ticket: Ticket
    ready: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class CounterWish:
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
            mean = HABITS[job.code].weekly / 5 * pace(job.family, day, job.code) * luck[job.family, monday(day)]
            drawn += [_intake(job, day, dice) for _ in range(dice.poisson(mean))]
        by_day[day] = drawn
    return by_day


def wishes(dice: Dice) -> dict[date, list[CounterWish]]:
    """Draw everything customers would buy over the counter, by day."""
    luck = weather(dice)
    by_day: dict[date, list[CounterWish]] = defaultdict(list)
    for day in open_days():
        for code, (weekly, season) in SALES.items():
            for _ in range(dice.poisson(weekly / 5 * pace(season, day) * luck[season, monday(day)])):
                when = at(day, dice.uniform(), _OPENS, _LAST_OUT)
                by_day[day].append(CounterWish(when=when, material=code, shown_units=2 if dice.happens(0.1) else 1))
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
    habit = HABITS[job.code]
    chosen = {choice: dice.weighted(weights) for choice, weights in habit.weights.items()}
    extra = sum(habit.dearer.get(option, 0) for option in chosen.values())
    shoes = 1 if dice.happens(habit.single) else 2
    posted = _has_packing(job.code) and dice.happens(BY_POST)
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
        state=TicketState.CANCELLED if dice.happens(CANCELLED) else TicketState.BOOKED,
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
    woman = dice.happens(HABITS[job.code].women)
    number = dice.weighted(WOMEN_SIZES if woman else MEN_SIZES)
    cut = job.code in ANY_SYSTEM or (job.code == "HALF" and chosen["sole"] in CUT_TO_SIZE)
    if cut and not woman and dice.happens(UK_MARKED):
        return ShoeSize(system=System.UK, number=Fraction(dice.weighted(UK_SIZES)))
    return ShoeSize(system=System.EU, number=Fraction(number)) if job.sized else None


def _told(job: str, chosen: dict[str, str], dice: Dice, *, posted: bool) -> dict[str, str]:
    """Write down what isn't usual: options other than the first, and the colour where it matters."""
    usual = {line.choice: line.option for line in reversed(CARDS[job]) if line.choice}
    told = {choice: option for choice, option in chosen.items() if option != usual[choice]}
    if posted:
        told["packing"] = "box"
    if any(_by_colour(line.material) for line in CARDS[job]):
        told["colour"] = dice.weighted(COLOURS[job])
    return told


def _by_colour(code: str) -> bool:
    return any(variant.colour for variant in SHELF.groups.get(code, ()))


def _has_packing(job: str) -> bool:
    return any(line.choice == "packing" for line in CARDS[job])


def _price(cents: int, shoes: int, day: date) -> int:
    """Give the price of the day, to half a euro; a single shoe costs three fifths of a pair."""
    share = 0.6 if shoes == 1 else 1.0
    return round(cents * share * PRICE_PAST[day.year] / 50) * 50


def by_time(intakes: list[Intake]) -> Iterator[Intake]:
    """Go through what was taken in, earliest first."""
    yield from sorted(intakes, key=lambda intake: intake.ticket.taken_in)
