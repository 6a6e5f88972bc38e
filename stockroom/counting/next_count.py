"""What to count next: where a count changes most, in orders, held-up jobs and money."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import erfc, exp, hypot, inf, isfinite, pi, sqrt

from stockroom.counting.reconcile import Grade, Rules
from stockroom.counting.shelf_posterior import NINE_IN_TEN, roughly
from stockroom.phrases import Phrase, joined, phrase, plural

WEEKS_A_YEAR = 52
NEARLY_EMPTY = 0.25  # of the usual full
WALK = 0.5  # minutes to reach a bin, open it and write the figure; common practice, no source
SAFETY = 1.3  # spreads of use kept in hand by an order point: nine cycles in ten without a gap; common practice
WORTH_SAYING = 100.0  # minor units of money: nobody walks to a bin for a few cents
AHEAD = 13  # weeks for which a count is good: until the bin would be counted anyway
_NOISE = 6  # decimals of money a minute; what is beyond them is the order of the sums, no reason to count


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A bin that could be counted; amounts in base units of its material, money in minor units.

    Attributes
    ----------
    mean, spread : float
        Belief about the shelf now: mean and one standard deviation.
    booked : float
        What the book says is there.
    aid_error : float
        Standard error a count would leave.
    weeks_since : float
        Since the last count; infinite if never counted.
    full : float
        What lies there when full, > 0.
    cover, cover_spread : float
        Use expected until an order placed at the next chance arrives, and its standard deviation.
    weekly : float
        Use expected in a week.
    short_cost, over_cost : float
        Money lost for each base unit missing when wanted, and for each ordered before its time.
    cost : float
        What a base unit is worth.
    full_minutes : float
        Minutes to count it when full.
    """

    material: str
    mean: float
    spread: float
    booked: float
    aid_error: float
    weeks_since: float
    full: float
    cover: float
    cover_spread: float
    weekly: float
    short_cost: float
    over_cost: float
    cost: float
    full_minutes: float = 3.0
    grade: Grade = Grade.C

    def __post_init__(self) -> None:
        costs = (self.short_cost, self.over_cost, self.cost)
        least_zero = (self.spread, self.aid_error, self.weeks_since, self.cover_spread, self.weekly, *costs)
        sure = isfinite(self.mean + self.spread + self.cover + self.booked)
        if min(least_zero) < 0 or not self.full > 0 or not sure:
            raise ValueError("a candidate's spreads, costs and times are not negative, its full stock above zero")

    @property
    def fullness(self) -> float:
        """How full it is believed to be, 0 to 1."""
        return min(max(self.mean, 0.0) / self.full, 1.0)

    @property
    def minutes(self) -> float:
        """Minutes to count it as it is now: walking there, then by how full it is."""
        return WALK + self.fullness * max(self.full_minutes - WALK, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class CountChoice:
    """A bin to count, and the facts that chose it."""

    candidate: Candidate
    saves: float  # minor units of money, expected
    corrects: float  # minor units of money by which it is expected to put the book right
    overdue: bool
    nearly_empty: bool

    @property
    def minutes(self) -> float:
        """Minutes it takes."""
        return self.candidate.minutes


def saving(of: Candidate) -> float:
    """Money that a count is expected to save: jobs held up and sales lost, and orders placed before their time.

    Parameters
    ----------
    of : Candidate
        Belief, book, costs and the use to be covered.

    Returns
    -------
    float
        Minor units, >= 0; nothing for a shelf known as well as the aid could tell, or that comes to no order.

    Notes
    -----
    When the book comes to its order point L, the shelf holds L - e, where e is what the book has too much. Until the
    order arrives, N is used, so that ``E[(N - L + e)+] - E[(N - L)+]`` is missing for not knowing e, and ``E[(-e)+]``
    is ordered too early; normal e and N make both the unit normal loss function (Silver, Pyke and Peterson 1998, ch.
    7). Weighed by how likely it is that the order point is reached before the bin is counted anyway; what the aid
    leaves open is not resolved (preposterior analysis, Raiffa and Schlaifer 1961, ch. 5).
    """
    if of.spread == 0 and of.booked == of.mean:
        return 0.0
    return max(_comes_to_order(of) * (_loses(of, of.booked - of.mean, of.spread) - _loses(of, 0.0, left(of))), 0.0)


def correction(of: Candidate) -> float:
    """Money by which a count is expected to put the book right, minor units, >= 0."""
    wrong = of.booked - of.mean
    now = _beyond(wrong, of.spread) + _beyond(-wrong, of.spread)
    return max(of.cost * (now - 2 * _beyond(0.0, left(of))), 0.0)


def left(of: Candidate) -> float:
    """Spread left after a count: belief and aid together."""
    if of.spread == 0:
        return 0.0
    return of.spread * (of.aid_error / hypot(of.spread, of.aid_error))


def order_point(of: Candidate) -> float:
    """Stock at which an order is due."""
    return of.cover + SAFETY * of.cover_spread


def _comes_to_order(of: Candidate) -> float:
    """Give the share of bins like this one whose book reaches the order point while a count is good."""
    above = of.booked - order_point(of)
    if of.weekly == 0:
        return 0.0
    return 1.0 if above <= 0 else min(AHEAD * of.weekly / above, 1.0)


def _loses(of: Candidate, wrong: float, spread: float) -> float:
    """Money lost where the book has so much too much, give or take."""
    in_hand = SAFETY * of.cover_spread
    missing = _beyond(wrong - in_hand, hypot(of.cover_spread, spread)) - _beyond(-in_hand, of.cover_spread)
    return of.short_cost * max(missing, 0.0) + of.over_cost * _beyond(-wrong, spread)


def _beyond(mean: float, spread: float) -> float:
    """Give the expected positive part of a normal (unit normal loss function)."""
    if spread == 0:
        return max(mean, 0.0)
    at = mean / spread
    return spread * exp(-0.5 * at * at) / sqrt(2 * pi) + mean * 0.5 * erfc(-at / sqrt(2))


def choose(
    candidates: Sequence[Candidate],
    *,
    minutes: float = inf,
    bins: int | None = None,
    rules: Rules | None = None,
) -> tuple[CountChoice, ...]:
    """Choose the bins to count within a number of minutes, or of bins.

    Parameters
    ----------
    candidates : sequence of Candidate
        Every bin that could be counted.
    minutes : float
        Time there is.
    bins : int, optional
        Most bins to count.
    rules : Rules, optional
        Counts a year each class must get.

    Returns
    -------
    tuple of Choice
        In the order of choosing: overdue bins first, then by what a count saves and puts right, a minute where
        minutes are short; a bin that no longer fits is passed over.
    """
    rules = rules or Rules()
    most = len(candidates) if bins is None else bins
    chosen: list[CountChoice] = []
    spent = 0.0
    short = minutes < inf
    for each in sorted((_choice(one, rules) for one in candidates), key=lambda one: _rank(one, short=short)):
        if len(chosen) < most and spent + each.minutes <= minutes:
            chosen.append(each)
            spent += each.minutes
    return tuple(chosen)


def _choice(of: Candidate, rules: Rules) -> CountChoice:
    return CountChoice(
        candidate=of,
        saves=saving(of),
        corrects=correction(of),
        overdue=of.weeks_since > WEEKS_A_YEAR / rules.counts_a_year[of.grade],
        nearly_empty=of.fullness <= NEARLY_EMPTY,
    )


def _rank(choice: CountChoice, *, short: bool) -> tuple[bool, float, float, str]:
    """Overdue first; equal gains, such as none at all, go to the bin left longest."""
    gain = (choice.saves + choice.corrects) / (choice.minutes if short else 1.0)
    return (not choice.overdue, -round(gain, _NOISE), -choice.candidate.weeks_since, choice.candidate.material)


def why(choice: CountChoice, *, amount: Callable[[str, float], str], money: Callable[[float], str]) -> str:
    """Say in a sentence why a bin is to be counted.

    Parameters
    ----------
    choice : Choice
        What was chosen.
    amount : callable
        Writes an amount of a material (code, base units) for the shop, such as '180 g'.
    money : callable
        Writes minor units of money, such as '3.40'.
    """
    of = choice.candidate
    never = not isfinite(of.weeks_since)
    parts = [phrase("Never counted") if never else _last_counted(round(of.weeks_since))]
    parts += [phrase("due by its ABC class (%(grade)s)", grade=str(of.grade))] if choice.overdue and not never else []
    out = roughly(NINE_IN_TEN * of.spread)
    parts += [phrase("could be out by %(amount)s", amount=amount(of.material, out))] if out > 0 else []
    saves = choice.saves >= WORTH_SAYING
    parts += [phrase("a count saves about %(money)s", money=money(choice.saves))] if saves else []
    corrects = choice.corrects >= WORTH_SAYING
    parts += [phrase("it puts about %(money)s in the book right", money=money(choice.corrects))] if corrects else []
    parts += [phrase("nearly empty, so quick to count")] if choice.nearly_empty else []
    return phrase("%(parts)s.", parts=joined(parts, "; "))


def _last_counted(weeks: int) -> Phrase:
    if weeks < 1:
        return phrase("Last counted less than a week ago")
    return plural("Last counted %(num)s week ago", "Last counted %(num)s weeks ago", weeks)
