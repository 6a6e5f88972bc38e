"""Cut or buy: what a pair of soles costs from the sheet, by size, against the pre-cut pair."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt
from typing import Self

from stockroom.margins.sole_layout import Outline, Plate, SheetLayout, lay_out, sole_area
from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.moves import Move, MoveKind
from stockroom.stock.quantities import NANO, Dimension, unit
from stockroom.stock.recipes import PAIR, Per, Recipe, RecipeLine
from stockroom.stock.shoe_sizes import ShoeSize, grown, scale
from stockroom.stock.tickets import Ticket


@dataclass(frozen=True, slots=True, kw_only=True)
class CuttingSheet:
    """Sheet goods to cut from: a bend, a hide, a sheet of rubber."""

    area: int  # nano of dm2, as bought
    cost: int  # thousandths of the minor unit, with carriage
    cutting: int = 0  # thousandths of the minor unit of bench time to cut a pair


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """A pair's net area at a reference size, from the shop's own patterns."""

    pair_area: int  # nano of dm2
    reference: tuple[ShoeSize, ...]
    growth: Fraction = Fraction(2)  # by which power of the length the area grows

    @classmethod
    def of(cls, recipe: Recipe, line: RecipeLine) -> Self:
        """Take the pattern a recipe's line says."""
        pairs = PAIR if line.per is Per.SHOE else 1
        return cls(pair_area=line.amount.nano * pairs * line.coats, reference=recipe.reference, growth=line.power)

    def area(self, size: ShoeSize) -> Fraction:
        """Net area of a pair in a size."""
        return self.pair_area * grown(scale(size, self.reference), self.growth)


MM2 = 10_000  # in a square decimetre


def sole_length(area: float, outline: Outline) -> float:
    """Give the length in mm of a sole of an area in nano of dm2, as an outline draws it."""
    return sqrt(area / NANO * MM2 / sole_area(1.0, outline))


def sheet_layout(pattern: Pattern, size: ShoeSize, plate: Plate, outline: Outline) -> SheetLayout:
    """Lay a sheet out with soles of a size; each is drawn as long as its net area asks of the outline."""
    return lay_out([(str(size), sole_length(float(pattern.area(size)) / PAIR, outline))], plate, outline)


def twice_as_long(area: int, gap: float) -> Plate:
    """Take a sheet of an area in nano of dm2 whose sides nobody states as twice as long as wide."""
    width = sqrt(area / NANO * MM2 / 2)
    return Plate(width=round(width), length=round(2 * width), gap=gap)


@dataclass(frozen=True, slots=True, kw_only=True)
class SizeCosts:
    """Cut or buy for one size. Costs a pair in thousandths of the minor unit."""

    size: ShoeSize
    cut: int
    bought: int | None
    break_even: Fraction | None  # the yield at which both cost the same; above 1: cutting never pays

    @property
    def saved(self) -> int | None:
        """What cutting saves a pair; negative where buying is cheaper."""
        return None if self.bought is None else self.bought - self.cut


@dataclass(frozen=True, slots=True, kw_only=True)
class Yield:
    """What part of a sheet ends in soles, as far as is known, and between what it lies nine times in ten."""

    share: float
    low: float
    high: float
    layout: float  # what a sheet laid out gives: where it starts from
    counted: float | None = None  # what the counts say by themselves
    sheets: float = 0.0  # how many sheets' worth of work lies between the counts

    @property
    def exact(self) -> Fraction:
        """The share to reckon with: a tenth of a per cent is as fine as anything is known."""
        return Fraction(self.share).limit_denominator(1000)


def cut_or_buy(
    pattern: Pattern, sheet: CuttingSheet, bought: Mapping[ShoeSize, int | None], *, share: Fraction
) -> list[SizeCosts]:
    """Compare cutting with buying for each size.

    Parameters
    ----------
    pattern : Pattern
        The net area of a pair.
    sheet : Sheet
        What is cut, and its cost.
    bought : mapping of ShoeSize to int or None
        Cost of a pre-cut pair, in thousandths of the minor unit; None where there is none to buy.
    share : Fraction
        Yield: net area of soles for an area bought, above 0, at most 1.

    Returns
    -------
    list of Choice
        By size.

    Raises
    ------
    ValueError
        If the yield is not above 0 and at most 1, or the sheet has no area.

    Notes
    -----
    cost = net area / yield x cost of the area + cutting; break-even yield = net area x cost of the area /
    (pre-cut cost - cutting). That cutting from a bend comes out a little cheaper than pre-made soles is common
    practice, no source: this shows when it is so.
    """
    if not 0 < share <= 1 or sheet.area <= 0:
        raise ValueError("the yield must be above 0 and at most 1, and the sheet must have an area")
    rate = Fraction(sheet.cost, sheet.area)
    made = [_choice(size, pattern.area(size) * rate, (sheet.cutting, price), share) for size, price in bought.items()]
    return sorted(made, key=lambda choice: (choice.size.system, choice.size.number))


# How far the layout may be from a shop's own cutting, and one sheet from the next: set by us, no source.
_LAYOUT_OFF = 0.10
_SHEET_OFF = 0.08
_LEAST = 0.01
_NINE_IN_TEN = 1.645  # standard deviations to each side of a normal distribution's mean


def learnt_yield(layout: float, followed: tuple[float, float], sheet: float) -> Yield:
    """Learn what part of a sheet ends in soles: from a sheet laid out, and from what counts found of real work.

    Parameters
    ----------
    layout : float
        Part of a sheet that is soles when it is laid out.
    followed : (float, float)
        Net area of the soles cut between counts, and the area that went; in any one unit. Nothing went: no count yet.
    sheet : float
        Area of a sheet, in the same unit.

    Notes
    -----
    Normal prior around the layout, normal likelihood of the ratio of the sums, whose spread falls with the square root
    of the sheets that went: the mean is weighed by precisions (Gelman et al., Bayesian Data Analysis, 3rd ed. 2013,
    section 2.5; from memory). Sums, not a mean of ratios: what one count finds too little the next finds too much.
    """
    net, gone = followed
    weight, mean = _LAYOUT_OFF**-2, layout
    counted = min(net / gone, 1.0) if gone > 0 and net > 0 else None
    sheets = gone / sheet if counted is not None else 0.0
    if counted is not None:
        learnt = sheets / _SHEET_OFF**2
        mean = (weight * layout + learnt * counted) / (weight + learnt)
        weight += learnt
    off = _NINE_IN_TEN / sqrt(weight)
    return Yield(
        share=min(max(mean, _LEAST), 1.0),
        low=max(mean - off, _LEAST),
        high=min(mean + off, 1.0),
        layout=layout,
        counted=counted,
        sheets=sheets,
    )


def _choice(size: ShoeSize, whole: Fraction, costs: tuple[int, int | None], share: Fraction) -> SizeCosts:
    cutting, price = costs
    room = None if price is None else price - cutting
    return SizeCosts(
        size=size,
        cut=round(whole / share) + cutting,
        bought=price,
        break_even=whole / room if room and room > 0 else None,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """Pre-cut parts that could be bought for a job instead of being cut, size by size."""

    material: str  # a code or a group's
    choices: tuple[SizeCosts, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """A job that is cut from the sheet."""

    job: str
    line: str
    recipe_share: Fraction  # yield the recipe reckons with
    rivals: tuple[Rival, ...]
    layout: SheetLayout | None
    layout_size: ShoeSize | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CutOrBuy:
    """A sheet material, what it yields, and every job cut from it."""

    material: Material
    sheet: CuttingSheet
    pack: str
    learnt: Yield
    share: Fraction  # the yield reckoned with: the one asked for, or the one learnt
    jobs: tuple[Cutting, ...]


_WORK = (MoveKind.JOB_USE, MoveKind.REDO_USE)
_GONE = (*_WORK, MoveKind.WASTE, MoveKind.COUNT, MoveKind.OFFCUT)  # what offcuts keep of jobs' waste came back


def followed_areas(
    moves: Iterable[Move], patterns: Mapping[str, Pattern], tickets: Mapping[str, Ticket]
) -> tuple[float, float]:
    """Add up what ended in soles of a sheet and its offcuts, and what went.

    Parameters
    ----------
    moves : iterable of Move
        Of the sheet and of what its offcuts are kept as, up to a count.
    patterns : mapping of str to Pattern
        Net area of a pair by job, from the shop's own patterns.
    tickets : mapping of str to Ticket
        By number, for sizes and shoes.

    Returns
    -------
    (float, float)
        Net area cut and area gone, in nano.

    Notes
    -----
    Gone is what jobs drew, waste and what counts found missing, less offcuts kept. Without counts it would repeat the
    recipe's own waste. Work without a pattern, or without a size it can be scaled to, is left out on both sides.
    """
    drawn: dict[str, int] = {}  # by ticket; '' for what no ticket drew
    for move in moves:
        if move.kind in _GONE:
            number = move.ticket if move.kind in _WORK else ""
            drawn[number] = drawn.get(number, 0) - move.nano
    areas = {number: _area(tickets.get(number), patterns) for number in drawn if number and drawn[number] > 0}
    cut = {number: area for number, area in areas.items() if area is not None}
    return sum(cut.values()), float(drawn.get("", 0) + sum(drawn[number] for number in cut))


def pre_cut_names(line: RecipeLine, recipe: Recipe, materials: Mapping[str, Material]) -> list[str]:
    """Name what the same choice of the recipe offers by the piece or pair instead of a line cut from a sheet."""
    if not line.choice:
        return []
    others = [
        other
        for other in recipe.lines
        if other.material and other.choice == line.choice and other.option != line.option
    ]
    return list(dict.fromkeys(other.material for other in others if _pre_cut(other.material, materials)))


def _pre_cut(name: str, materials: Mapping[str, Material]) -> bool:
    found = [m for m in materials.values() if name in (m.code, m.group)]
    return bool(found) and all(m.dimension is Dimension.COUNT and m.family == "pre-cut soles" for m in found)


def bought_pair(
    name: str, size: ShoeSize, materials: Mapping[str, Material], costs: Mapping[str, Fraction]
) -> int | None:
    """Give what a pair of the variant that fits a size costs, in thousandths; None where nobody offers one."""
    fitting = [
        m.code
        for m in materials.values()
        if m.active and name in (m.code, m.group) and (m.size_from is None or m.fits(size))
    ]
    each = [costs[code] * unit("pair").nano for code in fitting if code in costs]
    return half_up(min(each)) if each else None


def _area(ticket: Ticket | None, patterns: Mapping[str, Pattern]) -> float | None:
    """Give the net area of a ticket's soles, or None where its pattern or size can't be told."""
    if ticket is None or ticket.size is None or ticket.job not in patterns:
        return None
    pattern = patterns[ticket.job]
    if ticket.size.system not in {size.system for size in pattern.reference}:
        return None
    return float(pattern.area(ticket.size) * ticket.shoes / PAIR)
