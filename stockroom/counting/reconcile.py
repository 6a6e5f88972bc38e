"""Book against shelf: differences, what is within tolerance, and record accuracy over time."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction
from itertools import groupby
from math import comb, isqrt

from stockroom.phrases import Named
from stockroom.stock.counts import CountLine, CountReason
from stockroom.stock.money import half_up
from stockroom.stock.quantities import NANO


class Grade(StrEnum):
    """Class of a material by what a year's use of it is worth."""

    A = "A"
    B = "B"
    C = "C"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rules:
    """How close is close enough; every figure adjustable.

    Notes
    -----
    Defaults: A the first 80 % of yearly value, B the next 15 %, C the rest; 1, 3 and 5 %; four, two and one counts
    a year (a practitioner's page, supplychainmetric.com). Never closer than twice what the aid itself can be wrong
    by.
    """

    cut_a: Fraction = Fraction(80, 100)
    cut_b: Fraction = Fraction(95, 100)
    share: Mapping[Grade, Fraction] = field(
        default_factory=lambda: {Grade.A: Fraction(1, 100), Grade.B: Fraction(3, 100), Grade.C: Fraction(5, 100)}
    )
    counts_a_year: Mapping[Grade, int] = field(default_factory=lambda: {Grade.A: 4, Grade.B: 2, Grade.C: 1})
    errors: int = 2  # standard errors of the aid that never count as a difference

    def __post_init__(self) -> None:
        if (
            not 0 < self.cut_a <= self.cut_b <= 1
            or min(self.share.values()) < 0
            or min(self.counts_a_year.values()) < 1
        ):
            raise ValueError("cut-offs must rise within (0, 1], tolerances not be negative, counts a year at least 1")


class CountVerdict(Named):
    """What to do about one counted bin."""

    AGREES = "agrees"
    WITHIN = "within tolerance"
    RECOUNT = "recount first", "count again"
    CONFIRMED = "confirmed by recount"


@dataclass(frozen=True, slots=True, kw_only=True)
class Bin:
    """One bin counted, with the book at the count's own time; amounts in billionths of the base unit."""

    material: str
    booked: int
    counted: int
    error: int = 0  # one standard error of the measuring
    recounted: int | None = None
    cost: Fraction = Fraction(0)  # minor units of money per base unit
    grade: Grade = Grade.C
    reason: CountReason = CountReason.OTHER
    family: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One bin's difference: counted less booked, so a shortage is negative."""

    bin: Bin
    amount: int  # billionths of the base unit
    value: int  # whole minor units of money
    share: Fraction | None  # of the booked amount; None where the book says nothing is there
    verdict: CountVerdict

    @property
    def right(self) -> bool:
        """The book was right about this bin, or near enough."""
        return self.verdict in {CountVerdict.AGREES, CountVerdict.WITHIN}

    @property
    def postable(self) -> bool:
        """The difference may be posted as it is."""
        return self.verdict is not CountVerdict.RECOUNT


def grades(yearly_value: Mapping[str, int], rules: Rules | None = None) -> dict[str, Grade]:
    """Sort materials into A, B and C by what a year's use is worth.

    Parameters
    ----------
    yearly_value : mapping of str to int
        Minor units of money a year, by material, >= 0.
    rules : Rules, optional
        Cut-offs.

    Returns
    -------
    dict of str to Grade
        A material belongs to the class in which its share of the total begins, so the dearest is always A; nothing
        used is C.

    Raises
    ------
    ValueError
        If a value is negative.
    """
    rules = rules or Rules()
    if min(yearly_value.values(), default=0) < 0:
        raise ValueError("a year's use can't be worth less than nothing")
    total, before, found = sum(yearly_value.values()), 0, {}
    for name in sorted(yearly_value, key=lambda each: (-yearly_value[each], each)):
        begins = Fraction(before, total) if yearly_value[name] else Fraction(1)
        found[name] = Grade.A if begins < rules.cut_a else Grade.B if begins < rules.cut_b else Grade.C
        before += yearly_value[name]
    return found


def allowed(of: Bin, rules: Rules) -> int:
    """Largest difference that still counts as right, billionths of the base unit."""
    return max(int(abs(of.booked) * rules.share[of.grade]), rules.errors * of.error)


def compare(of: Bin, rules: Rules | None = None) -> Difference:
    """Set one bin against the book; a recount replaces the count and, where the two agree, confirms it."""
    rules = rules or Rules()
    found = of.counted if of.recounted is None else of.recounted
    amount = found - of.booked
    return Difference(
        bin=of,
        amount=amount,
        value=half_up(amount * of.cost / NANO),
        share=Fraction(amount, of.booked) if of.booked else None,
        verdict=_verdict(of, amount, rules),
    )


def _verdict(of: Bin, amount: int, rules: Rules) -> CountVerdict:
    if amount == 0:
        return CountVerdict.AGREES
    if abs(amount) <= allowed(of, rules):
        return CountVerdict.WITHIN
    confirmed = of.recounted is not None and agree(of, replace(of, counted=of.recounted), rules)
    return CountVerdict.CONFIRMED if confirmed else CountVerdict.RECOUNT


def agree(first: Bin, second: Bin, rules: Rules | None = None) -> bool:
    """Say whether two people counting one bin, each at their own moment, found the same difference from the book."""
    rules = rules or Rules()
    apart = abs((first.counted - first.booked) - (second.counted - second.booked))
    measuring = rules.errors * isqrt(first.error**2 + second.error**2)
    return apart <= max(int(abs(second.counted) * rules.share[second.grade]), measuring)


def counted_twice(lines: Iterable[CountLine]) -> dict[tuple[str, str], tuple[CountLine, ...]]:
    """Find bins on more than one line, by material and site, each bin's lines in order of time."""
    kept = sorted(lines, key=lambda line: (line.material, line.site, line.counted))
    groups = {key: tuple(one) for key, one in groupby(kept, key=lambda line: (line.material, line.site))}
    return {key: one for key, one in groups.items() if len(one) > 1}


@dataclass(frozen=True, slots=True, kw_only=True)
class Totals:
    """Differences added up: the net can be nothing while every bin is wrong, so both are given."""

    bins: int
    right: int
    net: int  # minor units
    gross: int  # minor units, every difference counted as positive

    @property
    def accuracy(self) -> Fraction | None:
        """Share of bins that were right; None when nothing was counted."""
        return Fraction(self.right, self.bins) if self.bins else None


def totals(differences: Iterable[Difference]) -> Totals:
    """Add differences up; lines are rounded first, so that the sheet adds up as printed."""
    each = list(differences)
    return Totals(
        bins=len(each),
        right=sum(one.right for one in each),
        net=sum(one.value for one in each),
        gross=sum(abs(one.value) for one in each),
    )


def by_reason(differences: Iterable[Difference]) -> dict[tuple[CountReason, str], Totals]:
    """Totals by reason and family, largest gross value first."""
    kept = sorted(differences, key=lambda one: (one.bin.reason, one.bin.family))
    found = {key: totals(one) for key, one in groupby(kept, key=lambda one: (one.bin.reason, one.bin.family))}
    return dict(sorted(found.items(), key=lambda item: -item[1].gross))


def over_time(dated: Iterable[tuple[str, Difference]]) -> dict[str, Totals]:
    """Record accuracy by period, such as '2031-03' or a week's Monday, in order."""
    kept = sorted(dated, key=lambda pair: pair[0])
    return {period: totals(one for _, one in group) for period, group in groupby(kept, key=lambda pair: pair[0])}


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """A bin the book is wrong about in one direction, count after count."""

    material: str
    counts: int
    short: int  # counts that found less than booked
    over: int
    average: Fraction  # billionths of the base unit a count; negative: the shelf holds less
    chance: Fraction  # of so one-sided a run if differences fell either way alike


def drifts(histories: Mapping[str, Sequence[int]], most_chance: Fraction = Fraction(1, 20)) -> list[Drift]:
    """Find the bins whose differences keep falling on one side.

    Parameters
    ----------
    histories : mapping of str to sequence of int
        Differences (counted less booked) count by count, by material; zeros say nothing.
    most_chance : Fraction
        Largest chance at which to speak up.

    Returns
    -------
    list of Drift
        Least likely first.

    Notes
    -----
    Two-sided sign test (Arbuthnott 1710): with n differences of which k lie on the rarer side, the chance is
    ``2 sum(C(n, i), i <= k) / 2^n``; six the same way are the fewest that can pass 5 %.
    """
    found = [_drift(name, history) for name, history in histories.items() if any(history)]
    return sorted((each for each in found if each.chance <= most_chance), key=lambda each: (each.chance, each.material))


def _drift(name: str, history: Sequence[int]) -> Drift:
    short, over = sum(each < 0 for each in history), sum(each > 0 for each in history)
    n = short + over
    tail = sum(comb(n, i) for i in range(min(short, over) + 1))
    return Drift(
        material=name,
        counts=len(history),
        short=short,
        over=over,
        average=Fraction(sum(history), len(history)),
        chance=min(Fraction(2 * tail, 2**n), Fraction(1)),
    )
