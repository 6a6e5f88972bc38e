"""How long a supplier may take: learnt from his deliveries, his own word, and orders still open."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cache, lru_cache
from math import erf

import numpy as np

from stockroom.buying.problem import FloatArray

# What is believed of a supplier without deliveries; our own assumptions, weak enough to be outvoted
# by about a dozen deliveries. Spreads are of logarithms.
WORD_SPREAD = 0.3  # his usual time is what he says, give or take a third of it for two suppliers of three
USUAL_SPREAD, SPREADS_SPREAD = 0.25, 0.5  # usual deliveries vary by about a quarter: mostly by 15 to 40 per cent
LATE_WEIGHT = 9.0  # one delivery in ten is late, as a Beta(1, 9)
DELAY, DELAY_SPREAD = (0.5, 4.0), 0.7  # and then by half the stated days and four days, or half or twice as much
TWO_SPEEDS, SLOW_WEIGHT = 0.2, 2.0  # one supplier in five sends one order in three, as a Beta(1, 2), by a slower way
STRAYS, STRAY_DELAY = 0.2, 3  # and one in five of these by any number of days, of the fourth mean below
ONE_DAY = timedelta(days=1)
LONGEST = 120.0  # days after which an order counts as lost and would be chased or bought elsewhere

# The suppliers there may be: every usual time with every spread, kind of lateness and share of late deliveries.
USUAL_LOGS = np.arange(np.log(0.3), np.log(1.1 * LONGEST), 0.05)
SPREADS = np.geomspace(0.05, 0.8, 8)
DELAYS = np.geomspace(1.2, 60.0, 6)  # late by any number of days, with this mean
SLOWER = np.arange(2, 8)  # or by just so many: the next post after the weekend, the weekly lorry
LATE_SHARES = np.linspace(0.04, 0.9, 12) ** 2
DAYS = 2 * int(LONGEST)
TINY = 1e-12  # chance of a delivery that no such supplier would make


Closed = tuple[tuple[date, date], ...]  # first and last day, both included


@dataclass(frozen=True, slots=True, kw_only=True)
class Terms:
    """What a supplier says: usual days, weekdays he takes orders (0 = Monday), and when he is closed.

    `away` is when the shop is shut itself. `at_once` is what no one says but deliveries show (`as_shown`): that he
    starts on an order whatever the weekday.
    """

    stated_days: float
    order_weekdays: frozenset[int] = frozenset(range(7))
    closures: Closed = ()
    away: Closed = ()
    at_once: bool = False

    def open_on(self, day: date) -> bool:
        """Whether he works on a day."""
        return not _within(self.closures, day)

    def takes_orders(self, day: date) -> bool:
        """Whether a day is one of his order days: a weekday named, or the first on which a lost one is made up.

        An order that a holiday kept from going out on Monday goes out on Tuesday, not a week later.
        """
        if not self.open_on(day):
            return False
        return day.weekday() in self.order_weekdays or self._makes_up(day)

    def _makes_up(self, day: date) -> bool:
        before = day - ONE_DAY
        while self._lost(before):
            if before.weekday() in self.order_weekdays:
                return not _within(self.away, day)
            before -= ONE_DAY
        return False

    def _lost(self, day: date) -> bool:
        return _within(self.closures, day) or _within(self.away, day)


def _within(closed: Closed, day: date) -> bool:
    return any(first <= day <= last for first, last in closed)


@dataclass(frozen=True, slots=True, kw_only=True)
class PastOrder:
    """An order, or a part of one: when it was placed and came (None: still open), and which share of it."""

    ordered: date
    received: date | None
    share: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LeadTime:
    """Belief about a supplier's working days from order to shelf.

    `chances` are those of taking so many days or more, from none on; what comes on a day is spread over half a day
    before and after it. `usual_days` is the middle of the deliveries that are not late.
    """

    chances: tuple[float, ...]
    usual_days: float

    def beyond(self, days: FloatArray) -> FloatArray:
        """Chance of taking longer than so many days."""
        chance: FloatArray = np.interp(days, *_curve(self), right=0.0)
        return chance

    def sample(self, lead_time_quantile: FloatArray, *, age: float = 0.0) -> FloatArray:
        """Give the total days of orders already `age` days old and not here, shape (n,).

        Parameters
        ----------
        lead_time_quantile : (n,) float
            From `lead_time_quantiles`: the chance, in each future, of taking longer still.
        age : float
            Given its age, an order takes what the belief holds beyond it; one that counts as lost, as if it had only
            just been given up.
        """
        days, chance = _curve(self)
        waited = min(age, LONGEST)
        left = np.interp(-lead_time_quantile * np.interp(waited, days, chance), -chance, days) - waited
        total: FloatArray = age + np.minimum(left, LONGEST)
        return total


@lru_cache(256)
def _curve(belief: LeadTime) -> tuple[FloatArray, FloatArray]:
    """Give days, and the chance of taking longer than each."""
    return np.maximum(np.arange(len(belief.chances)) - 0.5, 0.0), np.array(belief.chances)


def lead_time_quantiles(n: int, rng: np.random.Generator) -> FloatArray:
    """Draw the quantile of a supplier's lead time in each future, shape (n,), in 0..1: near 0 he is very late.

    Notes
    -----
    Stratified: one draw from each n-th of the distribution, shuffled, so that few futures still see the tail.
    What is open with one supplier and not yet due, and what is ordered from him now, take the same quantile: orders
    don't overtake each other (Hadley and Whitin, *Analysis of Inventory Systems*, 1963, ch. 4, from memory). Were they
    drawn independently, a second order would seem to insure against the first being late, which it can't.
    """
    drawn: FloatArray = (rng.permutation(n) + rng.random(n)) / n
    return drawn


def learn(orders: Sequence[PastOrder], terms: Terms, as_of: date) -> LeadTime:
    """Learn how long a supplier takes.

    Parameters
    ----------
    orders : sequence of PastOrder
        Past and open orders; parts of one order carry their share of it.
    terms : Terms
        Stated days, order weekdays and closures; closed days are not counted, nor those before he starts.
    as_of : date
        The day on which this is known; later deliveries count as open.

    Returns
    -------
    LeadTime
        Predictive belief.

    Raises
    ------
    ValueError
        If the stated days are not positive.

    Notes
    -----
    A delivery takes a usual time, log-normal with the middle e^m and the spread s, and with the chance p is late
    besides, in a way d: by a geometric delay of some mean, or, with a supplier of two speeds, mostly by a fixed one.
    It is a mixture: of no single delivery is it settled whether it was late. What is believed of (m, s, d, p) is laid
    out on a grid, so that Bayes' rule is a sum (Gelman et al., *Bayesian Data Analysis*, 3rd ed., ch. 10.1: direct
    evaluation on a grid; ch. 22: mixtures): each delivery weighs every point by the chance of its whole day, each order
    still open by the chance of taking as long as it has (right-censoring). What is to come has the chances of all
    points, by their weights.
    """
    if terms.stated_days <= 0:
        raise ValueError("stated days must be positive")
    known = [each for each in orders if each.ordered <= as_of]
    terms = as_shown(terms, known, as_of)
    came, waiting = np.zeros((2, DAYS))
    for each in known:
        here = each.received is not None and each.received <= as_of
        until = each.received if here and each.received else as_of
        (came if here else waiting)[min(int(worked_days(each.ordered, until, terms)), DAYS - 1)] += each.share
    return _belief(_prior(terms.stated_days), came, waiting)


@cache
def _suppliers() -> tuple[FloatArray, FloatArray]:
    """Lay out the chance of taking so many days or more of every supplier there may be.

    Returns
    -------
    usual, late : (DAYS + 1, n_usual, n_spreads) and (DAYS + 1, n_usual, n_spreads, n_ways) float
    """
    edges = np.log(np.arange(DAYS) + 0.5)[:, None, None]
    z = (edges - USUAL_LOGS[:, None]) / SPREADS
    usual = np.concatenate([np.ones((1, *z.shape[1:])), 0.5 - 0.5 * np.vectorize(erf)(z / np.sqrt(2))])
    late = np.ones((*usual.shape, len(DELAYS) + len(SLOWER)))
    delayed, slower = late[..., : len(DELAYS)], late[..., len(DELAYS) :]
    for day in range(1, DAYS + 1):  # each day a late order comes, or not
        delayed[day] = delayed[day - 1] + (usual[day - 1, :, :, None] - delayed[day - 1]) / DELAYS
    for way, days in enumerate(SLOWER.tolist()):
        slower[days:, ..., way] = usual[:-days]
    slower *= 1 - STRAYS
    slower += STRAYS * delayed[..., STRAY_DELAY, None]
    return usual, late


def _prior(stated: float) -> FloatArray:
    """Weigh every supplier by what he says, as a logarithm, shape (n_usual, n_spreads, n_ways, n_shares)."""
    usual = _bell(USUAL_LOGS, stated, WORD_SPREAD)[:, None] + _bell(np.log(SPREADS), USUAL_SPREAD, SPREADS_SPREAD)
    delay = _bell(np.log(DELAYS), DELAY[0] * stated + DELAY[1], DELAY_SPREAD)
    ways = [(1 - TWO_SPEEDS, delay, LATE_WEIGHT), (TWO_SPEEDS, np.zeros(len(SLOWER)), SLOW_WEIGHT)]
    late = np.concatenate([np.log(part) + _shared(way[:, None] + _share(weight)) for part, way, weight in ways])
    prior: FloatArray = usual[:, :, None, None] + late
    return prior


def _bell(logs: FloatArray, middle: float, spread: float) -> FloatArray:
    weight: FloatArray = -0.5 * ((logs - np.log(middle)) / spread) ** 2
    return weight


def _share(weight: float) -> FloatArray:
    """Weigh shares of late deliveries by a Beta(1, weight); they lie at equal distances of their roots."""
    logs: FloatArray = 0.5 * np.log(LATE_SHARES) + (weight - 1) * np.log1p(-LATE_SHARES)
    return logs


def _shared(logs: FloatArray) -> FloatArray:
    """Make weights add up to 1."""
    part: FloatArray = logs - np.log(np.exp(logs).sum())
    return part


def _belief(weight: FloatArray, came: FloatArray, waiting: FloatArray) -> LeadTime:
    """Weigh every supplier by what was delivered, and mix their chances."""
    usual, late = _suppliers()

    def mixed(day: int, until: int | None = None) -> FloatArray:
        prompt, overdue = (each[day] - (each[until] if until else 0.0) for each in (usual, late))
        chance: FloatArray = prompt[:, :, None, None] * (1 - LATE_SHARES) + overdue[..., None] * LATE_SHARES
        return np.log(chance + TINY)

    for day in np.flatnonzero(came).tolist():
        weight = weight + came[day] * mixed(day, day + 1)
    for day in np.flatnonzero(waiting).tolist():
        weight = weight + waiting[day] * mixed(day)
    weight = np.exp(weight - weight.max())
    weight /= weight.sum()
    chances = usual.reshape(DAYS + 1, -1) @ (weight.sum(axis=2) @ (1 - LATE_SHARES)).ravel()
    chances += late.reshape(DAYS + 1, -1) @ (weight @ LATE_SHARES).ravel()
    centre = float(weight.sum(axis=(1, 2, 3)) @ USUAL_LOGS)
    return LeadTime(chances=tuple(chances.tolist()), usual_days=float(np.exp(centre)))


def as_shown(terms: Terms, orders: Iterable[PastOrder], as_of: date) -> Terms:
    """Say what deliveries known on a day show of a supplier's terms.

    One that came before the order day that it should have waited for was not waiting: he starts at once, and all his
    orders count from the first day on which he works. Counted from that order day, it would have taken no time at all.
    """
    came = (each for each in orders if each.received is not None and each.received <= as_of)
    early = any(each.received < starts(each.ordered, terms) for each in came if each.received is not None)
    return replace(terms, at_once=True) if early else terms


def worked_days(ordered: date, until: date, terms: Terms) -> float:
    """Days a supplier has had for an order: from the day he starts on it, closures left out."""
    start = starts(ordered, terms)
    days = (until - start).days
    for first, last in terms.closures:
        low, high = max(first, start), min(last, until - timedelta(days=1))
        days -= max((high - low).days + 1, 0)
    return float(max(days, 0))


def starts(ordered: date, terms: Terms) -> date:
    """First day from an order's date on which the supplier starts on it: his next order day, or day of work."""
    ready = terms.open_on if terms.at_once else terms.takes_orders
    return next((day for ahead in range(400) if ready(day := ordered + timedelta(days=ahead))), ordered)


def order_days(terms: Terms, as_of: date, reach_days: int) -> tuple[float, ...]:
    """Days from now on which he takes orders."""
    days = (ahead for ahead in range(reach_days + 1) if terms.takes_orders(as_of + timedelta(days=ahead)))
    return tuple(map(float, days)) or (float(reach_days),)


def arrivals(belief: LeadTime, ordered: date, as_of: date, terms: Terms, lead_time_quantile: FloatArray) -> FloatArray:
    """Give the arrival, in days from `as_of`, of an order placed on a day and not yet here, shape (n,)."""
    age = worked_days(ordered, as_of, terms)
    start = starts(ordered, terms)
    total = belief.sample(lead_time_quantile, age=age)
    offset = float((start - as_of).days)
    return np.maximum(offset + _with_closures(total, start, terms), 0.0)


def _with_closures(worked: FloatArray, start: date, terms: Terms) -> FloatArray:
    """Calendar days after the start in which so many days are worked."""
    days = worked.copy()
    for first, last in sorted(terms.closures):
        begins, length = (first - start).days, (last - first).days + 1
        if begins + length <= 0:
            continue
        inside = min(length, begins + length)
        days = np.where(days > max(begins, 0), days + inside, days)
    return days
