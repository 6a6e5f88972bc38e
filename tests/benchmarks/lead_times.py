"""Are lead times believed as long as they are: past orders, each judged by what was known on the day it was placed.

Run: python -m tests.benchmarks.lead_times [worlds]     (default 20)

Of every order line, the day on which it came is held against the days believed then: half should come later than the
middle one, a tenth later than the .9, three in a hundred later than the .97. Days are whole, so that many lines come on
the very day: of them half count as later. Suppliers are invented anew from each seed (order days of their own, holidays,
closures, an owner who orders the day after a holiday), and the invented shop's own deliveries are lived anew.
"""

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np

from stockroom.buying import lead_times
from stockroom.buying.lead_times import PastOrder, Terms, learn
from stockroom.demo.seasons import OPEN, closures
from stockroom.demo.shop import lived
from stockroom.demo.trade import SUPPLIERS
from stockroom.stock.calendar import OpenDays, closures_of

QUANTILES = (0.5, 0.9, 0.97)
FIRST = date(2028, 1, 3)  # a Monday
WARMED_UP = 8  # orders before one is judged
SEEDS = 7000  # of the invented suppliers
ONE_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplied:
    """A supplier's terms, his orders in the order placed, their lines, and the days on which goods are taken in."""

    terms: Terms
    orders: Sequence[PastOrder]
    lines: Sequence[int]
    taken_in: OpenDays


def invented(seed: int) -> Supplied:
    """Invent a supplier who works Monday to Friday, and three years of a shop's orders of him."""
    rng = np.random.default_rng([SEEDS, seed])
    stated = int(rng.integers(2, 11))
    named = frozenset(int(n) for n in rng.choice(5, rng.integers(1, 4), replace=False))
    at_once = rng.random() < 0.5  # whatever he says of order days
    shut = tuple(
        (day, day + timedelta(days=int(long)))
        for year in (2028, 2029, 2030)
        for day, long in ((date(year, 8, 5), 13), (date(year, 12, 23), 9), *((d, 0) for d in _holidays(year)))
    )
    own = OpenDays(weekdays=frozenset(range(1, 6)))
    terms = Terms(stated_days=float(stated), order_weekdays=named, closures=shut)
    works = [FIRST + n * ONE_DAY for n in range(1400)]
    works = [day for day in works if day.weekday() < 5 and terms.open_on(day)]
    orders, day = [], FIRST
    while day < date(2030, 12, 1):
        wanted = next(d for d in works if d >= day and (d.weekday() in named or rng.random() < 0.15))
        begins = (
            wanted
            if at_once or wanted.weekday() in named
            else next(d for d in works if d.weekday() in named and d > wanted)
        )
        begins = wanted if not terms.open_on(wanted - ONE_DAY) else begins  # made up after a holiday
        took = max(
            round(0.8 * stated * rng.lognormal(0.0, 0.2)) + (rng.random() < 0.08) * round(rng.exponential(7.0)), 1
        )
        came = next(d for d in works if d >= begins and sum(begins < w <= d for w in works) >= took)
        orders.append(PastOrder(ordered=wanted, received=own.next_open(came)))
        day = wanted + timedelta(days=int(rng.integers(5, 16)))
    return Supplied(terms=terms, orders=orders, lines=[int(n) for n in rng.integers(1, 12, len(orders))], taken_in=own)


def _holidays(year: int) -> tuple[date, ...]:
    """A few Mondays of the year."""
    mondays = [FIRST + timedelta(weeks=n) for n in range(160)]
    return tuple(day for day in mondays if day.year == year and day.month in (2, 4, 5, 6, 10) and day.day <= 7)


def demo(seed: int) -> Iterator[Supplied]:
    """Live the invented shop's years, and give what each supplier delivered."""
    parcels = lived(seed).diary.deliveries
    for supplier in SUPPLIERS:
        own = [p for p in parcels if p.supplier == supplier.code and p.ordered is not None]
        shut = tuple((c.first, c.last) for c in closures_of(supplier.code, closures()))
        terms = Terms(stated_days=float(supplier.lead_days), order_weekdays=supplier.order_weekdays, closures=shut)
        own.sort(key=lambda p: (p.ordered, p.received))
        orders = [PastOrder(ordered=p.ordered, received=p.received.date()) for p in own if p.ordered]
        yield Supplied(terms=terms, orders=orders, lines=[len(p.lines) for p in own], taken_in=OPEN)


def later(supplied: Supplied) -> Iterator[tuple[int, tuple[float, ...]]]:
    """Give of each order its lines, and how far each believed day was passed: 1 later, a half on the day, 0 sooner."""
    shown = getattr(lead_times, "as_shown", lambda terms, *_: terms)  # an older version has no such thing
    for n, (order, lines) in enumerate(zip(supplied.orders, supplied.lines, strict=True)):
        if n < WARMED_UP or order.received is None:
            continue
        placed, before = order.ordered, supplied.orders[:n]
        belief, terms = learn(before, supplied.terms, placed), shown(supplied.terms, before, placed)
        days = lead_times.arrivals(belief, placed, placed, terms, 1.0 - np.array(QUANTILES))
        said = [supplied.taken_in.next_open(placed + timedelta(days=round(float(each)))) for each in days]
        yield lines, tuple(0.5 * (order.received >= each) + 0.5 * (order.received > each) for each in said)


def told(name: str, supplies: Sequence[Supplied]) -> str:
    """Write the shares of lines that came later; orders, not lines, are what chance works on."""
    found = [each for one in supplies for each in later(one)]
    lines, passed = np.array([n for n, _ in found]), np.array([p for _, p in found])
    share = lines @ passed / lines.sum()
    error = np.sqrt((lines[:, None] ** 2 * (passed - share) ** 2).sum(axis=0)) / lines.sum()
    shown = "  ".join(f"{1 - q:.2f} -> {s:.3f} ± {e:.3f}" for q, s, e in zip(QUANTILES, share, error, strict=True))
    return f"{name:<22} later than believed: {shown}   ({len(found)} orders, {lines.sum()} lines)"


def main(worlds: int) -> None:
    """Print a line for either kind of world."""
    print(told("invented suppliers", [invented(seed) for seed in range(worlds)]))
    print(told("the invented shop", [each for seed in range(100, 100 + max(worlds // 5, 1)) for each in demo(seed)]))


if __name__ == "__main__":
    main(int(sys.argv[1]) if sys.argv[1:] else 20)
