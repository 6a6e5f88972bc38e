"""Book against shelf: differences, what is within tolerance, and record accuracy over time."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from itertools import groupby
from math import comb, isqrt

from stockroom.phrases import Named
from stockroom.stock.counts import CountLine, CountReason
from stockroom.stock.materials import Material
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
    """One bin counted, with the book at the count's own moment."""

    material: Material
    line: CountLine
    booked: int  # billionths of the base unit
    cost: Fraction = Fraction(0)  # minor units of money per base unit
    grade: Grade = Grade.C

    @property
    def found(self) -> int:
        """What was counted, billionths of the base unit."""
        return self.line.amount.nano

    @property
    def error(self) -> int:
        """One standard error of the measuring, billionths of the base unit."""
        return self.line.error.nano if self.line.error else 0

    @property
    def gap(self) -> int:
        """What lies there more (or, below zero, less) than booked, billionths of the base unit."""
        return self.found - self.booked


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """A counted bin against the book, and what to do about it: counted less booked, so a shortage is negative."""

    bin: Bin
    value: int  # whole minor units of money
    share: Fraction | None  # of the booked amount; None where the book says nothing is there
    verdict: CountVerdict
    why: str = ""  # the verdict in a few words
    number: int = 0  # of the kept line, where it is kept
    others: tuple[int, ...] = ()  # kept lines of other counts of the bin that no longer hold once it is settled
    settled: bool = False
    superseded: bool = False  # by a later count on another sheet

    @property
    def amount(self) -> int:
        """Counted less booked, billionths of the base unit."""
        return self.bin.gap

    @property
    def right(self) -> bool:
        """The book was right about this bin, or near enough."""
        return self.verdict in {CountVerdict.AGREES, CountVerdict.WITHIN}

    @property
    def postable(self) -> bool:
        """The difference may be posted as it is."""
        return self.verdict is not CountVerdict.RECOUNT

    @property
    def waiting(self) -> bool:
        """It is still to be settled, and no later count holds in its place."""
        return not (self.settled or self.superseded)

    @property
    def held(self) -> bool:
        """It isn't posted unless its owner names it: count again first."""
        return not self.settled and (self.superseded or not self.postable)


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


def compare(of: Bin, rules: Rules | None = None, others: Sequence[Bin] = ()) -> Difference:
    """Set one bin against the book.

    Parameters
    ----------
    of : Bin
        Its last count.
    rules : Rules, optional
        How close is close enough.
    others : sequence of Bin
        Other counts of the same bin, each against the book at its own moment. The last count holds where the book
        or one of these found the same; where none did, it is to be counted again.
    """
    rules = rules or Rules()
    return Difference(
        bin=of,
        value=half_up(of.gap * of.cost / NANO),
        share=Fraction(of.gap, of.booked) if of.booked else None,
        verdict=_verdict(of, rules, others),
    )


def _verdict(of: Bin, rules: Rules, others: Sequence[Bin]) -> CountVerdict:
    if of.gap == 0:
        return CountVerdict.AGREES
    if abs(of.gap) <= allowed(of, rules):
        return CountVerdict.WITHIN
    backed = any(agree(other, of, rules) for other in others)
    return CountVerdict.CONFIRMED if backed else CountVerdict.RECOUNT


def agree(first: Bin, second: Bin, rules: Rules | None = None) -> bool:
    """Say whether two people counting one bin, each at their own moment, found the same difference from the book."""
    rules = rules or Rules()
    measuring = rules.errors * isqrt(first.error**2 + second.error**2)
    return abs(first.gap - second.gap) <= max(int(abs(second.found) * rules.share[second.grade]), measuring)


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
    kept = sorted(differences, key=_reason_and_family)
    found = {key: totals(one) for key, one in groupby(kept, key=_reason_and_family)}
    return dict(sorted(found.items(), key=lambda item: -item[1].gross))


def _reason_and_family(one: Difference) -> tuple[CountReason, str]:
    return one.bin.line.reason, one.bin.material.family


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
