"""Cut or buy: what a pair of soles costs from the sheet, by size, against the pre-cut pair."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import sqrt

from stockroom.margins.period import month_of
from stockroom.margins.sole_layout import SheetLayout
from stockroom.stock.layers import LayerEntry
from stockroom.stock.materials import Material
from stockroom.stock.moves import MoveKind
from stockroom.stock.recipes import PAIR
from stockroom.stock.shoe_sizes import ShoeSize, scale
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

    def area(self, size: ShoeSize) -> Fraction:
        """Net area of a pair in a size: it grows with the square of the length."""
        return self.pair_area * scale(size, self.reference) ** 2


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
    """Part of the bought area that ended in soles, with one standard error (None from a single sheet)."""

    share: float
    error: float | None
    sheets: int


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


def measured_yield(sheets: Sequence[tuple[float, float]]) -> Yield:
    """Measure the shop's own yield from sheets used up.

    Parameters
    ----------
    sheets : sequence of (float, float)
        For each sheet: net area of the soles cut from it, and the area bought; any one unit.

    Returns
    -------
    Yield
        The ratio of the sums.

    Raises
    ------
    ValueError
        Without any area bought.

    Notes
    -----
    Standard error of a ratio estimator by linearisation: sqrt(n / (n - 1) sum (net - share x bought)^2) / sum bought
    (Cochran, Sampling Techniques, 3rd ed. 1977, section 6.4; from memory).
    """
    bought = sum(area for _, area in sheets)
    if bought <= 0:
        raise ValueError("no area bought")
    share, n = sum(net for net, _ in sheets) / bought, len(sheets)
    squares = sum((net - share * area) ** 2 for net, area in sheets)
    error = sqrt(n / (n - 1) * squares) / bought if n > 1 else None
    return Yield(share=share, error=error, sheets=n)


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
    measured: Yield | None
    share: Fraction | None  # the yield asked for or measured; None: each job by its recipe's
    jobs: tuple[Cutting, ...]


_WORK = (MoveKind.JOB_USE, MoveKind.REDO_USE)
_GONE = (*_WORK, MoveKind.WASTE, MoveKind.COUNT, MoveKind.OFFCUT)  # offcuts kept lower what went


def own_yield(
    entries: Iterable[LayerEntry], material: str, patterns: Mapping[str, Pattern], tickets: Mapping[str, Ticket]
) -> Yield | None:
    """Measure what part of a sheet material ends in soles.

    Parameters
    ----------
    entries : iterable of Entry
        Cost entries of the ledger.
    material : str
        Code of the sheet material.
    patterns : mapping of str to Pattern
        Net area of a pair by job, from the shop's own patterns.
    tickets : mapping of str to Ticket
        By number, for sizes and shoes.

    Returns
    -------
    Yield or None
        Net area cut over area gone, months standing as sheets; None where nothing was cut.

    Notes
    -----
    Gone is what jobs drew, waste and what counts found missing, less offcuts kept. It is only as true as the counts:
    without them it repeats the recipe's own waste. Work without a pattern, or without a size it can be scaled to, is
    left out on both sides.
    """
    gone: dict[str, dict[str, int]] = {}  # by month and ticket; '' for what no ticket drew
    for entry in entries:
        if entry.move.material == material and entry.kind in _GONE:
            mine = gone.setdefault(month_of(entry.booked_on), {})
            number = entry.move.ticket if entry.kind in _WORK else ""
            mine[number] = mine.get(number, 0) - entry.nano
    areas = {number: _area(tickets.get(number), patterns) for drawn in gone.values() for number in drawn if number}
    sheets = [_month(drawn, areas) for _, drawn in sorted(gone.items())]
    return measured_yield(sheets) if sum(net for net, _ in sheets) > 0 else None


def _month(drawn: Mapping[str, int], areas: Mapping[str, float | None]) -> tuple[float, float]:
    """Give a month's net and gone area; a ticket that was undone drew nothing and has cut nothing."""
    cut = {number: area for number in drawn if (area := areas.get(number)) is not None and drawn[number] > 0}
    return sum(cut.values()), float(drawn.get("", 0) + sum(drawn[number] for number in cut))


def _area(ticket: Ticket | None, patterns: Mapping[str, Pattern]) -> float | None:
    """Give the net area of a ticket's soles, or None where its pattern or size can't be told."""
    if ticket is None or ticket.size is None or ticket.job not in patterns:
        return None
    pattern = patterns[ticket.job]
    if ticket.size.system not in {size.system for size in pattern.reference}:
        return None
    return float(pattern.area(ticket.size) * ticket.shoes / PAIR)
