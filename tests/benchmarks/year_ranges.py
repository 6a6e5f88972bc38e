"""The year ahead held against years of orders that are played by the rule orders are really chosen by.

Each year follows one of the futures that the year ahead was worked out of; every week the basket is chosen anew, told
what lies on the shelf, what is on its way and the futures of the weeks then ahead, not which of them will come. What is
measured: how often a month, and the whole, lies where eight in ten should lie, and how far the mean is off, for all
suppliers together and for each. Played years may be kept in a file, as they take long and the year ahead does not.

    python -m tests.benchmarks.year_ranges --book BOOK --keep played.json
    python -m tests.benchmarks.year_ranges --world 7 --years 12
"""

import argparse
import json
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.basket import Basket, basket
from stockroom.buying.problem import OnTheWay, OrderProblem, PackOffer, SupplierTerms
from stockroom.buying.scenario import KnownThen, rehearse
from stockroom.buying.year_ahead import by_month, year_of_orders
from stockroom.flows.ordering.plan import at_next_order_day
from stockroom.flows.ordering.year import HIGH, LOW, WEEKS, months_of_orders, taken_in
from stockroom.flows.outlook.run_outs import outlook, read_for_outlook
from stockroom.store.book import open_book
from tests.benchmarks.shop_year import own
from tests.benchmarks.shop_year.world import invent

Floats = NDArray[np.float64]
WEEK, AHEAD, PLAYED = 7.0, 26, 52
LONGER = 14  # weeks more than the year ahead looks at, so that its last orders see as far as the first
MONTH = 365.25 / 12
CENT = 0.005


@dataclass(frozen=True, slots=True)
class Paid:
    """What came on a day, from which supplier, for how much with carriage."""

    day: float
    supplier: int
    money: float


@dataclass(frozen=True, slots=True, eq=False)
class Case:
    """A shop as its next orders see it: months' ends in days, what is known to come, and what is said will come.

    The last two with shape (n_suppliers, n_months, n_paths), the second with the first.
    """

    problem: OrderProblem
    ends: Floats
    known: Floats
    said: Floats


@dataclass(slots=True)
class _Year:
    """A year under way: stock below zero is owed; `comes` are item, amount and day."""

    stock: Floats
    comes: list[tuple[int, float, float]] = field(default_factory=list)
    paid: list[Paid] = field(default_factory=list)


def of_book(place: str, moment: datetime) -> Case:
    """Take the months of a book's own year ahead; the last is not played to its end."""
    seen = outlook(read_for_outlook(open_book(place), moment), weeks=WEEKS + LONGER)
    starts, total = months_of_orders(seen)
    day, problem = seen.known.day, at_next_order_day(seen.question.problem)
    ends = np.array([float((taken_in(seen.known.open_days, each) - day).days) for each in starts[1:-1]])
    said = (total[0] + total[1])[:, : len(ends)]
    return Case(problem=problem, ends=ends, known=said - _planned(problem, ends), said=said)


def of_world(seed: int) -> Case:
    """Take an invented shop on its first day, told how demand and deliveries are drawn."""
    told, asked, world = replace(own.EVERYTHING, weeks=WEEKS + LONGER), list[OrderProblem](), invent(seed)

    def first(known_then: KnownThen) -> list[object]:
        if not asked:
            asked.append(own.knowing(world, seed, told)(known_then))
        return []

    rehearse(world.scenario, first)  # type: ignore[arg-type]
    problem, ends = at_next_order_day(asked[0]), np.array([MONTH * n for n in range(1, 12)])
    said = _planned(problem, ends)
    return Case(problem=problem, ends=ends, known=np.zeros_like(said), said=said)


def _planned(problem: OrderProblem, ends: Floats) -> Floats:
    """Money of the orders that are only planned, by supplier, month and future."""
    total = by_month(
        year_of_orders(problem, basket(problem), float(ends[-1])), ends, len(problem.suppliers), problem.n_paths
    )
    money: Floats = total[0] + total[1]
    return money


def played(problem: OrderProblem, path: int, thin: slice, rng: np.random.Generator) -> list[Paid]:
    """Play a year of orders in one future; gives when each comes, and its goods and carriage."""
    year = _Year(stock=np.array([np.broadcast_to(each.on_hand, (problem.n_paths,))[path] for each in problem.items]))
    for n, item in enumerate(problem.items):
        for way in item.coming:
            year.comes.append((n, way.quantity, float(np.broadcast_to(way.arrives, (problem.n_paths,))[path])))
    for week in range(PLAYED):
        asked = _asked(problem, year, week, thin)
        _place(asked, year, week * WEEK, basket(asked), rng)
        for n, much, day in [each for each in year.comes if each[2] < (week + 1) * WEEK]:
            year.stock[n] += much
            year.comes.remove((n, much, day))
        year.stock -= problem.use[path, :, week]
    return year.paid


def _asked(problem: OrderProblem, year: _Year, week: int, thin: slice) -> OrderProblem:
    """Put the question of a week: its shelf, and the futures of the weeks then ahead."""
    now, coming = week * WEEK, list[list[OnTheWay]]()
    for _ in problem.items:
        coming.append([])
    for n, much, day in year.comes:
        coming[n].append(OnTheWay(quantity=much, arrives=np.array([max(day - now, 0.0)])))
    items = tuple(
        replace(each, on_hand=np.array([year.stock[n]]), coming=tuple(coming[n]), lots=())
        for n, each in enumerate(problem.items)
    )
    span = slice(week, week + AHEAD)
    jobs = problem.jobs
    if jobs is not None:
        jobs = replace(jobs, paths=jobs.paths[thin, :, span])
    return replace(
        problem,
        items=items,
        use=problem.use[thin, :, span],
        offers=tuple(_then(each, now) for each in problem.offers),
        suppliers=tuple(_supplier(each, now, thin) for each in problem.suppliers),
        jobs=jobs,
    )


def _then(offer: PackOffer, now: float) -> PackOffer:
    if offer.then is None or offer.changes > now:
        return replace(offer, changes=offer.changes - now)
    return offer.then


def _supplier(supplier: SupplierTerms, now: float, thin: slice) -> SupplierTerms:
    """See a supplier from a later day: what is ordered then waits for his next order day, and for no other."""
    days = np.array([day for day in supplier.order_days if day >= now])
    took = supplier.delay(days) + days - now  # longer than `leads`, from that day on
    leads = supplier.leads[thin] if supplier.leads.size > 1 else supplier.leads
    first, later = float(took[0]), days[1:] - now
    delays = (0.0, *(took[1:] - later - first))
    return replace(
        supplier,
        order_days=(0.0, *later[later > 0].tolist()),
        leads=np.maximum(leads + first, 0.0),
        delays=tuple(map(float, delays)) if any(delays) else (),
        ordered_now=supplier.ordered_now and now == 0,
    )


def _place(asked: OrderProblem, year: _Year, now: float, found: Basket, rng: np.random.Generator) -> None:
    for order in found.orders:
        lines = [line for line in found.lines if line.supplier == order.supplier]
        if not lines:
            continue
        day = now + float(rng.choice(asked.suppliers[order.supplier].leads))
        year.comes += [(line.item, line.quantity, day) for line in lines]
        year.paid.append(Paid(day, order.supplier, order.value + order.carriage))


def years_of(case: Case, years: int, futures: int, keep: Path | None) -> dict[int, list[Paid]]:
    """Play some years, or take those that were kept."""
    kept: dict[str, list[list[float]]] = json.loads(keep.read_text()) if keep and keep.exists() else {}
    thin = slice(None, None, max(case.problem.n_paths // futures, 1))
    paths = np.random.default_rng(1).permutation(case.problem.n_paths)[:years].tolist()
    for path in paths:
        if str(path) not in kept:
            paid = played(case.problem, path, thin, np.random.default_rng(path))
            kept[str(path)] = [[each.day, each.supplier, each.money] for each in paid]
            if keep:
                keep.write_text(json.dumps(kept))
    return {path: [Paid(day, int(by), money) for day, by, money in kept[str(path)]] for path in paths}


def held_against(case: Case, came_in: dict[int, list[Paid]]) -> Iterator[str]:
    """Say what came, beside what was said."""
    n_suppliers, n_months = case.said.shape[:2]
    came, before = np.zeros((len(came_in), n_suppliers, n_months)), np.zeros((len(came_in), n_suppliers))
    for row, (path, paid) in enumerate(came_in.items()):
        came[row] = case.known[:, :, path]
        before[row] = case.said[:, :, path].sum(axis=1)
        for each in paid:
            month = int(np.searchsorted(case.ends, each.day, side="right"))
            if month < n_months:
                came[row, each.supplier, month] += each.money
    said, months = case.said.sum(axis=0), came.sum(axis=1)
    yield f"by month, played {months.mean(axis=0).round()}, said {said.mean(axis=1).round()}"
    spread = [np.round(np.quantile(each, HIGH, axis=-1) - np.quantile(each, LOW, axis=-1)) for each in (months.T, said)]
    yield f"width of eight in ten by month, played {spread[0]}, said {spread[1]}"
    within = _within(months, said)
    yield f"months within their range: {within.mean():.2f}; by month {within.mean(axis=0).round(2)}"
    yield "all of it: " + _beside(months.sum(axis=1), said.sum(axis=0), before.sum(axis=1))
    for number, terms in enumerate(case.problem.suppliers):
        if came[:, number].any() or case.said[number].any():
            its = _within(came[:, number], case.said[number])
            sums = came[:, number].sum(axis=1), case.said[number].sum(axis=0), before[:, number]
            yield f"{terms.name}: months within {its.mean():.2f}; {_beside(*sums)}"


def _within(came: Floats, said: Floats) -> NDArray[np.bool_]:
    low, high = np.quantile(said, (LOW, HIGH), axis=-1)
    within: NDArray[np.bool_] = (came >= low - CENT) & (came <= high + CENT)
    return within


def _beside(came: Floats, said: Floats, same: Floats) -> str:
    low, high = np.quantile(said, (LOW, HIGH))
    off = (same - came) / max(float(came.mean()), 1e-9)
    return (
        f"played {came.mean():.0f} ± {came.std(ddof=1) / len(came) ** 0.5:.0f}, said {said.mean():.0f}, within "
        f"{low:.0f} to {high:.0f} {((came >= low) & (came <= high)).mean():.2f}; future by future said is "
        f"{off.mean():+.1%} ± {off.std(ddof=1) / len(came) ** 0.5:.1%} off"
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--book")
    which.add_argument("--world", type=int)
    parser.add_argument("--moment", type=datetime.fromisoformat, default=datetime(2026, 11, 21, 18, 30))
    parser.add_argument("--years", type=int, default=16)
    parser.add_argument("--futures", type=int, default=60, help="that each basket is chosen by")
    parser.add_argument("--keep", type=Path, help="file of years played already")
    asked = parser.parse_args()
    case = of_book(asked.book, asked.moment) if asked.book else of_world(asked.world)
    for line in held_against(case, years_of(case, asked.years, asked.futures, asked.keep)):
        print(line, flush=True)
