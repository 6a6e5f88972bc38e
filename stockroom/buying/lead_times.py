"""How long a supplier may take: learnt from his deliveries, his own word, and orders still open."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import lru_cache

import numpy as np

from stockroom.buying.problem import FloatArray
from stockroom.demand.student import student_cdf

# What is believed of a supplier without deliveries; our own assumptions, weak enough to be outvoted
# by about a dozen deliveries.
STATED_WEIGHT = 2.0  # his word counts as so many usual deliveries
USUAL_SPREAD = 0.25  # usual deliveries vary by about a quarter
SPREAD_WEIGHT = 4.0  # deliveries' worth of belief in that spread
SAME_DAY = 0.5  # days that an order takes which comes on the day he starts on it
LATE_SHARE = (1.0, 11.0)  # one delivery in twelve overdue, as a Beta
DELAY_SHAPE = 2.0  # overdue orders: deliveries' worth of belief in their delay
DELAY_MEAN = (0.5, 4.0)  # believed delay: half the stated days and four days
LATE_FACTOR, LATE_DAYS = 1.5, 2.0  # overdue: half as long again as usual, and at least two days more
ONE_DAY = timedelta(days=1)
LONGEST = 120.0  # days after which an order counts as lost and would be chased or bought elsewhere


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
    """Belief about a supplier's working days from order to shelf: a usual time and an overdue tail.

    The logarithm of the usual time has a Student t distribution (`centre`, `scale`, `freedom`), cut at
    `late_after`; with chance `late_chance` an order takes `late_after` and a Pareto delay
    (`delay_shape`, `delay_scale`) more. `deliveries` counts the evidence.
    """

    centre: float
    scale: float
    freedom: float
    late_after: float
    late_chance: float
    delay_shape: float
    delay_scale: float
    deliveries: float

    @property
    def usual_days(self) -> float:
        """Middle of the usual time."""
        return float(np.exp(self.centre))

    def beyond(self, days: FloatArray) -> FloatArray:
        """Chance of taking longer than so many days."""
        usual = self._usual_cdf(np.minimum(days, self.late_after))
        over = np.maximum(days - self.late_after, 0.0)
        tail = (1.0 + over / self.delay_scale) ** -self.delay_shape
        chance: FloatArray = (1 - self.late_chance) * (1 - usual) + self.late_chance * tail
        return chance

    def _usual_cdf(self, days: FloatArray) -> FloatArray:
        top = student_cdf(self.freedom, (float(np.log(self.late_after)) - self.centre) / self.scale)
        z = ((np.log(np.maximum(days, 1e-9)) - self.centre) / self.scale).tolist()
        below = {each: student_cdf(self.freedom, each) for each in set(z)}
        part: FloatArray = np.minimum(np.array([below[each] for each in z]) / top, 1.0)
        return part

    def sample(self, lead_time_quantile: FloatArray, *, age: float = 0.0) -> FloatArray:
        """Give the total days of orders already `age` days old and not here, shape (n,).

        Parameters
        ----------
        lead_time_quantile : (n,) float
            From `lead_time_quantiles`: the chance, in each future, of taking longer still.
        age : float
            Given its age, an order takes what the belief holds beyond it.
        """
        return np.minimum(self._inverse(lead_time_quantile * float(self.beyond(np.array([age]))[0])), age + LONGEST)

    def _inverse(self, beyond: FloatArray) -> FloatArray:
        """Days that are exceeded with these chances."""
        grid, chance = _grid(self)
        days: FloatArray = np.interp(-beyond, -chance, grid)
        return days


@lru_cache(256)
def _grid(belief: LeadTime) -> tuple[FloatArray, FloatArray]:
    """Lay out days, close together where deliveries are usual, with the chance of taking longer than each."""
    usual = np.linspace(0.0, belief.late_after, 200)
    late = belief.late_after + belief.delay_scale * np.expm1(np.linspace(0.02, 6.0, 200))
    days = np.concatenate([usual, late])
    return days, belief.beyond(days)


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
    Usual deliveries: log-normal with a normal-inverse-gamma prior around the stated days, so the
    predictive is Student t (Gelman et al., *Bayesian Data Analysis*, 3rd ed., 3.3). Overdue orders:
    Beta-binomial share; exponential delay with a gamma prior, so the predictive delay is Pareto II
    (Lomax), heavy-tailed. An open overdue order counts as overdue, its delay so far as exposure without
    an event (right-censoring); an open order not yet overdue says how likely it still is to be usual.
    """
    if terms.stated_days <= 0:
        raise ValueError("stated days must be positive")
    known = [each for each in orders if each.ordered <= as_of]
    terms = as_shown(terms, known, as_of)
    closed = [each for each in known if each.received is not None and each.received <= as_of]
    still = [each for each in known if each.received is None or each.received > as_of]
    took = np.array([worked_days(each.ordered, each.received or as_of, terms) for each in closed])
    ages = np.array([worked_days(each.ordered, as_of, terms) for each in still])
    took_share = np.array([each.share for each in closed])
    ages_share = np.array([each.share for each in still])
    return _belief(terms.stated_days, np.maximum(took, SAME_DAY), took_share, (ages, ages_share))


def _belief(stated: float, took: FloatArray, share: FloatArray, still: tuple[FloatArray, FloatArray]) -> LeadTime:
    ages, ages_share = still
    late_after = _late_after(stated, took, share)
    usual = took <= late_after
    centre, scale, freedom = _usual(stated, took[usual], share[usual])
    over = np.maximum(took - late_after, 0.0) @ share + np.maximum(ages - late_after, 0.0) @ ages_share
    late = float(share[~usual].sum())
    overdue = float(ages_share[ages > late_after].sum())
    first, second = LATE_SHARE[0] + late + overdue, LATE_SHARE[1] + float(share[usual].sum())
    believed = DELAY_MEAN[0] * stated + DELAY_MEAN[1]
    return LeadTime(
        centre=centre, scale=scale, freedom=freedom, late_after=late_after,
        late_chance=first / (first + second),
        delay_shape=DELAY_SHAPE + late, delay_scale=believed * (DELAY_SHAPE - 1) + float(over),
        deliveries=float(share.sum()),
    )  # fmt: skip


def _late_after(stated: float, took: FloatArray, share: FloatArray) -> float:
    """Days from which a delivery counts as overdue: well beyond his middle delivery."""
    values = np.concatenate([took, [stated]])
    weights = np.concatenate([share, [STATED_WEIGHT]])
    order = np.argsort(values)
    middle = values[order][np.searchsorted(weights[order].cumsum(), weights.sum() / 2)]
    return float(max(LATE_FACTOR * middle, middle + LATE_DAYS))


def _usual(stated: float, took: FloatArray, share: FloatArray) -> tuple[float, float, float]:
    """Centre, scale and freedom of the log of a usual delivery's days."""
    logs, weight = np.log(took), float(share.sum())
    prior = np.log(stated)
    mean = float(logs @ share / weight) if weight else prior
    kappa = STATED_WEIGHT + weight
    centre = (STATED_WEIGHT * prior + weight * mean) / kappa
    square = SPREAD_WEIGHT * USUAL_SPREAD**2 + float((logs - mean) ** 2 @ share)
    square += STATED_WEIGHT * weight / kappa * (mean - prior) ** 2
    freedom = SPREAD_WEIGHT + weight
    return centre, float(np.sqrt(square / freedom * (1 + 1 / kappa))), freedom


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
