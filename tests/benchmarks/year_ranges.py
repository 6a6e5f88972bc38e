"""The year ahead held against years of orders that are played by the rule orders are really chosen by.

Each year follows one of the futures that the year ahead was worked out of; every week the basket is chosen anew, told
what lies on the shelf, what is on its way and the futures of the weeks then ahead, not which of them will come. What is
measured: how often a month, and the whole, lies where eight in ten should lie, and how far the mean is off.

    python -m tests.benchmarks.year_ranges BOOK
"""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date, datetime

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.basket import Basket, basket
from stockroom.buying.problem import OnTheWay, OrderProblem, PackOffer, SupplierTerms
from stockroom.buying.year_ahead import by_month, year_of_orders
from stockroom.flows.ordering.plan import at_next_order_day
from stockroom.flows.ordering.year import HIGH, LOW, WEEKS, months_of_orders
from stockroom.flows.outlook.run_outs import Outlook, outlook, read_for_outlook
from stockroom.store.book import open_book

Floats = NDArray[np.float64]
WEEK, AHEAD, PLAYED = 7.0, 26, 52
LONGER = 14  # weeks more than the year ahead looks at, so that its last orders see as far as the first


@dataclass(slots=True)
class _Year:
    """A year under way: stock below zero is owed; `comes` are item, amount and day."""

    stock: Floats
    comes: list[tuple[int, float, float]] = field(default_factory=list)
    paid: list[tuple[float, float]] = field(default_factory=list)  # day and money


def played(problem: OrderProblem, path: int, thin: slice, rng: np.random.Generator) -> list[tuple[float, float]]:
    """Play a year of orders in one future; gives when each comes, and its goods and carriage."""
    year = _Year(stock=np.array([np.broadcast_to(each.on_hand, (problem.n_paths,))[path] for each in problem.items]))
    for n, item in enumerate(problem.items):
        for way in item.coming:
            year.comes.append((n, way.quantity, float(np.broadcast_to(way.arrives, (problem.n_paths,))[path])))
    for week in range(PLAYED):
        asked = _asked(problem, year, week, thin)
        _place(problem, year, week * WEEK, basket(asked), rng)
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
    days = [day - now for day in supplier.order_days if day >= now]
    leads = supplier.leads[thin] if supplier.leads.size > 1 else supplier.leads
    return replace(supplier, order_days=(0.0, *(day for day in days if day > 0)), leads=leads, delays=())


def _place(problem: OrderProblem, year: _Year, now: float, found: Basket, rng: np.random.Generator) -> None:
    for order in found.orders:
        lines = [line for line in found.lines if line.supplier == order.supplier]
        if not lines:
            continue
        day = now + float(rng.choice(problem.suppliers[order.supplier].leads))
        year.comes += [(line.item, line.quantity, day) for line in lines]
        year.paid.append((day, order.value + order.carriage))


def held_against(place: str, moment: datetime, years: int, futures: int) -> Iterator[str]:
    """Play the years and say what came."""
    seen = outlook(read_for_outlook(open_book(place), moment), weeks=WEEKS + LONGER)
    starts, total = months_of_orders(seen)
    months = len(starts) - 2  # the last is not played to its end
    said, problem = (total[0] + total[1]).sum(axis=0)[:months], at_next_order_day(seen.question.problem)
    known = said - _chosen(seen, starts)[:months]  # what is on its way already and by standing orders
    ends = [(each - seen.known.day).days for each in starts[1 : months + 1]]
    thin = slice(None, None, max(problem.n_paths // futures, 1))
    came = np.zeros((years, months))
    for row, path in enumerate(np.linspace(0, problem.n_paths - 1, years).astype(int).tolist()):
        paid = [each for each in played(problem, path, thin, np.random.default_rng(path)) if each[0] < ends[-1]]
        month = np.searchsorted(ends, [day for day, _ in paid], side="right")
        came[row] = known[:, path] + np.bincount(month, [money for _, money in paid], months)
        yield f"future {path}: {came[row].sum():.0f}, said {said[:, path].sum():.0f}"
    low, high = np.quantile(said, (LOW, HIGH), axis=1)
    within = (came >= low) & (came <= high)
    yield f"months within their range: {within.mean():.2f}; by month {within.mean(axis=0).round(2)}"
    yield f"by month, played {came.mean(axis=0).round()}, said {said.mean(axis=1).round()}"
    sums, (least, most) = came.sum(axis=1), np.quantile(said.sum(axis=0), (LOW, HIGH))
    off = sums.std(ddof=1) / years**0.5
    yield f"all of them: played {sums.mean():.0f} ± {off:.0f}, said {said.sum(axis=0).mean():.0f}"
    yield f"all of them within {least:.0f} to {most:.0f}: {((sums >= least) & (sums <= most)).mean():.2f}"


def _chosen(seen: Outlook, starts: list[date]) -> Floats:
    """Money of the orders that are only planned, by month and future."""
    problem = at_next_order_day(seen.question.problem)
    ends = np.array([float((each - seen.known.day).days) for each in starts[1:]])
    planned = year_of_orders(problem, basket(problem), float(ends[-1]))
    total = by_month(planned, ends, len(problem.suppliers), problem.n_paths)
    chosen: Floats = (total[0] + total[1]).sum(axis=0)
    return chosen


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("book")
    parser.add_argument("--moment", type=datetime.fromisoformat, default=datetime(2026, 11, 21, 18, 30))
    parser.add_argument("--years", type=int, default=8)
    parser.add_argument("--futures", type=int, default=60, help="that each basket is chosen by")
    asked = parser.parse_args()
    for line in held_against(asked.book, asked.moment, asked.years, asked.futures):
        print(line, flush=True)
