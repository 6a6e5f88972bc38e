"""What counts teach in the simulated shop, by the product's own learning, and what is believed of its shelves."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from inspect import signature
from typing import Any

import numpy as np

from stockroom.buying.problem import FloatArray
from stockroom.buying.scenario import KnownThen, SeenShelf
from stockroom.counting.learn import learn
from stockroom.counting.observations import Counted, OtherMove, Uses
from stockroom.counting.shelf_posterior import learn_losses, samples
from stockroom.demand.paths import around_one
from stockroom.flows.learning.lessons import Diary, LineKey, Teaching, learnt_from, posteriors
from stockroom.stock.materials import Material
from stockroom.stock.quantities import unit
from tests.benchmarks.shop_year.world import FIRST_DAY, World

READING = 0.04  # a count's own error, as the counting aid states it
MORNING, ORDERS, WORK = time(7), time(8), time(9)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shelves:
    """What lies on the shelves and what jobs take of them: for certain, or as far as it is believed, future by future.

    `on_hand` (n_items, n_paths) less what waiting tickets will take; `needs` (n_jobs, n_items); `beyond` (n_paths,
    n_items), what each future's jobs take over these needs; `lost` (n_paths, n_items), what goes a week on no ticket.
    """

    on_hand: FloatArray
    needs: FloatArray
    beyond: FloatArray
    lost: FloatArray


def shelves(world: World, known_then: KnownThen, rng: np.random.Generator, n_paths: int) -> Shelves:
    """Believe what counts say of the shelves and of what jobs use, as an order list of the product does."""
    taught = teaching(world, known_then)
    learnt, believed = learnt_from(taught), posteriors(taught)
    codes, recipe = [code(item) for item in range(len(known_then.on_hand))], world.scenario.recipe
    needs = recipe * np.array([[learnt.ratio(str(job), each) for each in codes] for job in range(len(recipe))])
    doubt, rate, unsure = (
        np.array([of.get(each, 0.0) for each in codes]) for of in (learnt.doubt, learnt.waste, learnt.waste_doubt)
    )
    beyond = _around_one(doubt, rng, n_paths)
    there = [samples(believed[each], rng, n_paths, **_with(beyond[:, item])) for item, each in enumerate(codes)]
    return Shelves(
        on_hand=np.array(there) - (known_then.waiting @ needs)[:, None] * beyond.T,
        needs=needs,
        beyond=beyond,
        lost=np.maximum(rate, 0.0) * _around_one(unsure, rng, n_paths),
    )


def _around_one(spread: FloatArray, rng: np.random.Generator, n_paths: int) -> FloatArray:
    """Draw factors around one; an older version draws them all from one source."""
    own: Any = rng if "rng" in signature(around_one).parameters else rng.spawn(len(spread))
    return around_one(spread, own, n_paths)


def _with(use: FloatArray) -> dict[str, Any]:
    """What the shelves of each future hang together with; an older version, run beside this one, can't be told."""
    return {"use": use} if "use" in signature(samples).parameters else {}


def teaching(world: World, known_then: KnownThen) -> Teaching:
    """Work out what all counts so far teach."""
    diaries = [diary(world, known_then, item) for item in range(len(known_then.on_hand))]
    learnable = [each for each in diaries if each.keys]
    known = [each.intervals() for each in learnable]
    lessons = learn(known)
    return Teaching(
        moment=_at(known_then.day, ORDERS),
        diaries={each.material.code: each for each in diaries},
        lessons=lessons,
        losses=learn_losses(known, lessons),
    )


def code(item: int) -> str:
    """What a material is called."""
    return f"material {item}"


def diary(world: World, known_then: KnownThen, item: int) -> Diary:
    """One material's counts, what jobs drew of it by the card, and what else moved, as the book has them by now."""
    seen = _occasions([each for each in known_then.seen if each.item == item])
    ends = [*(_moment(each) for each in seen), _at(known_then.day, ORDERS)]
    finished = np.array([*(each.finished for each in seen), known_then.finished])
    moved = np.array([*(each.moved for each in seen), known_then.moved[item]])
    drawn = np.flatnonzero(world.scenario.recipe[:, item] * finished[-1])
    done = np.diff(finished[:, drawn], axis=0, prepend=0).astype(float)
    row, line = np.nonzero(done)
    times = done[row, line]
    return Diary(
        material=Material(code=code(item), name=code(item), family="", unit=unit("ml")),
        counts=[
            Counted(at=at, amount=s.read, error=0.0 if s.exact else READING * s.read)
            for at, s in zip(ends, seen, strict=False)
        ],
        uses=Uses(
            at=np.array(ends, "datetime64[s]")[row],
            line=line,
            amount=times * world.scenario.recipe[drawn[line], item],
            times=times,
            variance=np.zeros(len(row)),
        ),
        moves=[
            OtherMove(at=at, amount=float(much))
            for at, much in zip(ends, np.diff(moved, prepend=0.0), strict=True)
            if much
        ],
        keys={str(key): key for key in (LineKey(job=str(job), line="part") for job in drawn)},
    )


def _occasions(seen: list[SeenShelf]) -> list[SeenShelf]:
    """Of the counts of one day the last."""
    return list({each.day: each for each in seen}.values())


def _moment(seen: SeenShelf) -> datetime:
    return _at(seen.day, WORK if seen.exact else MORNING)


def _at(day: int, hour: time) -> datetime:
    return datetime.combine(FIRST_DAY + timedelta(days=day), hour)
