"""What to count next: where a minute of counting saves the most money."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import erfc, exp, hypot, inf, isfinite, pi, sqrt

import numpy as np

from stockroom.counting.reconcile import Grade, Rules
from stockroom.phrases import Phrase, joined, phrase, plural

WEEKS_A_YEAR = 52
NEARLY_EMPTY = 0.25  # of the usual full
WALK = 0.5  # minutes to reach a bin, open it and write the figure; common practice, no source
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(21)
_NOISE = 6  # decimals of money a minute; what is beyond them is the order of the sums, no reason to count


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A bin that could be counted; amounts in base units of its material, money in minor units.

    Attributes
    ----------
    mean, spread : float
        Belief about the shelf now: mean and one standard deviation.
    aid_error : float
        Standard error a count would leave.
    weeks_since : float
        Since the last count; infinite if never counted.
    full : float
        What lies there when full, > 0.
    cover, cover_spread : float
        Use expected until an order placed at the next chance arrives, and its standard deviation.
    short_cost, over_cost : float
        Money lost for each base unit missing when wanted, and for each ordered before its time.
    full_minutes : float
        Minutes to count it when full.
    """

    material: str
    mean: float
    spread: float
    aid_error: float
    weeks_since: float
    full: float
    cover: float
    cover_spread: float
    short_cost: float
    over_cost: float
    full_minutes: float = 3.0
    grade: Grade = Grade.C

    def __post_init__(self) -> None:
        least_zero = (self.spread, self.aid_error, self.weeks_since, self.cover_spread, self.short_cost, self.over_cost)
        if min(least_zero) < 0 or not self.full > 0 or not isfinite(self.mean + self.spread + self.cover):
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
    overdue: bool
    nearly_empty: bool

    @property
    def minutes(self) -> float:
        """Minutes it takes."""
        return self.candidate.minutes


def saving(of: Candidate) -> float:
    """Money a count is expected to save at the next chance to order.

    Parameters
    ----------
    of : Candidate
        Belief, costs and the use to be covered.

    Returns
    -------
    float
        Minor units, >= 0; nothing for a shelf known as well as the aid could tell, or far from any decision.

    Notes
    -----
    Preposterior analysis of a two-action problem with linear losses (Raiffa and Schlaifer 1961, ch. 5): waiting
    loses `short_cost` for each unit the shelf lacks, ordering `over_cost` for each unit it had to spare. The count
    resolves the part of the belief's variance its aid doesn't leave; the expectation over what it may find uses 21
    Gauss-Hermite nodes.
    """
    left = _left(of)
    resolved = sqrt(max(of.spread**2 - left**2, 0.0))
    if resolved == 0:
        return 0.0
    now = min(_waits(of, of.mean, of.spread), _orders(of, of.mean, of.spread))
    found = of.mean + resolved * NODES
    then = [min(_waits(of, mean, left), _orders(of, mean, left)) for mean in found.tolist()]
    return max(now - float(WEIGHTS @ np.array(then)) / sqrt(2 * pi), 0.0)


def _left(of: Candidate) -> float:
    """Spread left after a count: belief and aid together."""
    if of.spread == 0:
        return 0.0
    return of.spread * (of.aid_error / hypot(of.spread, of.aid_error))


def _waits(of: Candidate, mean: float, spread: float) -> float:
    return of.short_cost * _beyond(of.cover - mean, hypot(spread, of.cover_spread))


def _orders(of: Candidate, mean: float, spread: float) -> float:
    return of.over_cost * _beyond(mean - of.cover, hypot(spread, of.cover_spread))


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
        In the order of choosing: overdue bins first, then by money saved a minute; a bin that no longer fits is
        passed over.
    """
    rules = rules or Rules()
    most = len(candidates) if bins is None else bins
    chosen: list[CountChoice] = []
    spent = 0.0
    for each in sorted((_choice(one, rules) for one in candidates), key=_rank):
        if len(chosen) < most and spent + each.minutes <= minutes:
            chosen.append(each)
            spent += each.minutes
    return tuple(chosen)


def _choice(of: Candidate, rules: Rules) -> CountChoice:
    return CountChoice(
        candidate=of,
        saves=saving(of),
        overdue=of.weeks_since > WEEKS_A_YEAR / rules.counts_a_year[of.grade],
        nearly_empty=of.fullness <= NEARLY_EMPTY,
    )


def _rank(choice: CountChoice) -> tuple[bool, float, float, str]:
    """Overdue first; equal savings, such as none at all, go to the bin left longest."""
    return (
        not choice.overdue,
        -round(choice.saves / choice.minutes, _NOISE),
        -choice.candidate.weeks_since,
        choice.candidate.material,
    )


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
    parts += [phrase("could be out by %(amount)s", amount=amount(of.material, of.spread))] if of.spread > 0 else []
    saves = round(choice.saves) > 0
    parts += [phrase("a count saves about %(money)s", money=money(choice.saves))] if saves else []
    parts += [phrase("nearly empty, so quick to count")] if choice.nearly_empty else []
    return phrase("%(parts)s.", parts=joined(parts, "; "))


def _last_counted(weeks: int) -> Phrase:
    if weeks < 1:
        return phrase("Last counted less than a week ago")
    return plural("Last counted %(num)s week ago", "Last counted %(num)s weeks ago", weeks)


def rotation(last_counted: Mapping[str, float], bins: int) -> tuple[str, ...]:
    """Choose the bins left longest: the plain rule to compare with (weeks since, by material)."""
    return tuple(sorted(last_counted, key=lambda each: (-last_counted[each], each))[:bins])
