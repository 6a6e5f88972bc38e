"""Soles laid out on a sheet: how many pairs it gives, and the outlines for a picture.

Soles lie along the grain, side by side in bands, every other one turned head to tail where that saves room. This is
a plan a person would lay, not the best there can be.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

ROWS = 200  # slices of a sole along its length
_SHIFTS = 9  # ways of sliding a turned sole along its neighbour that are tried
_FEET = ("left", "right")
_LEAST_POINTS = 3
_BLUNT = 0.02  # heel and toe of an outline by its measures are so wide at least, in parts of its width
_NEAR = 1e-6  # mm
_SLICES = 61  # of an outline given by its points or its measures

Point = tuple[float, float]
Edges = tuple[NDArray[np.float64], NDArray[np.float64]]

# Half-widths of a left sole from heel to toe in parts of its length, inner and outer side: drawn for this program
# after no particular last. A shop's own outline replaces it.
_STATIONS = (0, 0.03, 0.08, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.72, 0.8, 0.88, 0.94, 0.98, 1)
_INNER = (0, 0.07, 0.098, 0.11, 0.104, 0.082, 0.075, 0.1, 0.15, 0.165, 0.16, 0.14, 0.11, 0.07, 0)
_OUTER = (0, 0.07, 0.098, 0.112, 0.12, 0.126, 0.14, 0.158, 0.17, 0.168, 0.15, 0.115, 0.08, 0.045, 0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outline:
    """A left sole: its edges to both sides of a middle line, at stations from heel to toe (parts of its length)."""

    stations: tuple[float, ...] = _STATIONS
    inner: tuple[float, ...] = _INNER
    outer: tuple[float, ...] = _OUTER

    def polygon(self, length: float) -> tuple[Point, ...]:
        """Draw a left sole of a length: up one side and down the other."""
        return _polygon(self, length, (0.0, 0.0), foot="left", turned=False)


def drawn_outline(points: Sequence[Point]) -> Outline:
    """Take a shop's own outline of a left sole.

    Parameters
    ----------
    points : sequence of (float, float)
        Along its edge, in mm: across and along, heel at the bottom, toe on top.

    Raises
    ------
    ValueError
        If they are no outline: fewer than three, or with no length, width or area.

    Notes
    -----
    A slice is taken from its leftmost to its rightmost point, so that a hollow counts as cut away from the side it is
    on only where it opens to that side; slices are taken at every point and between them.
    """
    if len(points) < _LEAST_POINTS:
        raise ValueError("an outline has three points at least")
    xs, ys = np.array([float(x) for x, _ in points]), np.array([float(y) for _, y in points])
    length, middle = float(np.ptp(ys)), float(xs.min() + xs.max()) / 2
    if length <= 0 or np.ptp(xs) <= 0 or _polygon_area(points) <= 0:
        raise ValueError("the points enclose no area")
    at = np.unique(np.concatenate([(ys - ys.min()) / length, np.linspace(0, 1, _SLICES)]).round(6))
    sides = [_crossings(xs, ys, float(ys.min() + part * length)) for part in at]
    return Outline(
        stations=tuple(at.tolist()),
        inner=tuple((right - middle) / length for _, right in sides),
        outer=tuple((middle - left) / length for left, _ in sides),
    )


def measured_outline(length: float, width: float, fill: float) -> Outline:
    """Make an outline of a length, a width and what part of that rectangle the sole fills.

    Raises
    ------
    ValueError
        If a measure is not above zero, or the part not above 0 and at most 1.

    Notes
    -----
    As wide along its length as the usual outline, and alike on both sides; its widths are raised to the power that
    fills the wanted part: 1 is the whole rectangle.
    """
    if min(length, width) <= 0 or not 0 < fill <= 1:
        raise ValueError("length and width must be above zero, and the part filled above 0 and at most 1")
    usual = Outline()
    at = np.linspace(0, 1, _SLICES)
    whole = np.interp(at, usual.stations, np.array(usual.inner) + np.array(usual.outer))
    wide, low, high = (whole / whole.max()).clip(_BLUNT), 0.0, 64.0
    for _ in range(60):
        power = (low + high) / 2
        low, high = (power, high) if _mean(wide**power, at) > fill else (low, power)
    half = tuple((wide**low * width / length / 2).tolist())
    return Outline(stations=tuple(at.tolist()), inner=half, outer=half)


@dataclass(frozen=True, slots=True, kw_only=True)
class Plate:
    """The sheet: its size, the grain along its length, and the gap to leave between pieces (mm)."""

    width: float
    length: float
    gap: float = 3.0
    turning: bool = True  # soles may lie head to tail; no where nap or print has a direction


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A sole on the sheet, its outline in mm from the sheet's corner."""

    size: str
    foot: str
    outline: tuple[Point, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLayout:
    """A sheet laid out."""

    plate: Plate
    pieces: tuple[Piece, ...]
    pairs: int
    share: float  # area of whole pairs / area of the sheet


@dataclass(frozen=True, slots=True)
class _Band:
    """Soles side by side across the sheet: where each lies and how much of the length they take."""

    places: tuple[tuple[float, float, bool], ...]  # x, y, turned
    height: float


def lay_out(wanted: Sequence[tuple[str, float]], plate: Plate, outline: Outline | None = None) -> SheetLayout:
    """Fill a sheet with soles.

    Parameters
    ----------
    wanted : sequence of (str, float)
        Sizes and their sole lengths in mm; bands take them in turn, longest first, until the sheet is full.
    plate : Plate
        The sheet.
    outline : Outline, optional
        The shop's own pattern.

    Returns
    -------
    Layout
        Pieces lie inside the sheet and keep the gap from each other along and across the grain.

    Raises
    ------
    ValueError
        If no size is wanted, or a length is not above zero.

    Notes
    -----
    Each sole is sliced along its length; its edges are grown by half the gap (the upper envelope of discs along the
    edge), and the next sole in a band goes as near as the slices allow. Of several ways to slide turned soles along
    each other the one with most soles for its height is taken.
    """
    if not wanted or min(length for _, length in wanted) <= 0:
        raise ValueError("give at least one size with a length above zero")
    shape = outline or Outline()
    pieces: list[Piece] = []
    low = 0.0
    for turn in range(10_000):
        fitting = [(size, length) for size, length in wanted if low + length <= plate.length]
        if not fitting:
            break
        size, length = sorted(fitting, key=lambda pair: -pair[1])[turn % len(fitting)]
        band = _best_band(shape, length, plate, plate.length - low)
        if not band.places:
            break
        balance = sum(1 if piece.foot == "left" else -1 for piece in pieces if piece.size == size)
        pieces += _pieces(band, low, size, (shape, length), mirror=plate.width if balance > 0 else None)
        low += band.height + plate.gap
    return _layout(plate, pieces)


def sole_area(length: float, outline: Outline | None = None) -> float:
    """Net area of one sole in square millimetres."""
    shape = outline or Outline()
    widths = np.array(shape.inner) + np.array(shape.outer)
    return float(np.sum((widths[1:] + widths[:-1]) / 2 * np.diff(shape.stations)) * length**2)


def _layout(plate: Plate, pieces: list[Piece]) -> SheetLayout:
    kept: list[Piece] = []
    for size in dict.fromkeys(piece.size for piece in pieces):
        same = [piece for piece in pieces if piece.size == size]
        each = min(sum(piece.foot == foot for piece in same) for foot in _FEET)
        for foot in _FEET:
            kept += [piece for piece in same if piece.foot == foot][:each]
    used = sum(_polygon_area(piece.outline) for piece in kept)
    return SheetLayout(plate=plate, pieces=tuple(kept), pairs=len(kept) // 2, share=used / (plate.width * plate.length))


def _best_band(shape: Outline, length: float, plate: Plate, room: float) -> _Band:
    bands = [_band(shape, length, plate, shift, turning=False) for shift in (0.0,)]
    if plate.turning:
        most = min(room - length, length / 2)
        bands += [_band(shape, length, plate, shift, turning=True) for shift in np.linspace(0, max(most, 0), _SHIFTS)]
    return max(bands, key=lambda band: len(band.places) / (band.height + plate.gap))


def _band(shape: Outline, length: float, plate: Plate, shift: float, *, turning: bool) -> _Band:
    """Lay soles across the sheet: left and right in turn, every other one turned and slid by `shift`."""
    straight = _grown(_edges(shape, length), plate.gap / 2, length)
    inner, outer = straight
    kinds = [
        (outer, inner, False),  # left foot, its outer side to the left
        (outer[::-1], inner[::-1], True) if turning else (inner, outer, False),  # right foot, turned or not
    ]
    step = length / ROWS
    slid = round(shift / step) if turning else 0
    places: list[tuple[float, float, bool]] = []
    for n in range(10_000):
        left, right, turned = kinds[n % 2]
        x = float(left.max()) - plate.gap / 2
        if n:
            x = places[-1][0] + _apart(kinds[(n - 1) % 2][1], left, slid if n % 2 else -slid)
        if n > 1:  # where soles are slid, the next but one is a neighbour too
            x = max(x, places[-2][0] + _apart(right, left, 0))
        if x + float(right.max()) - plate.gap / 2 > plate.width:
            break
        places.append((x, slid * step if turned else 0.0, turned))
    return _Band(tuple(places), length + slid * step)


def _apart(before: NDArray[np.float64], after: NDArray[np.float64], slid: int) -> float:
    """How far the middle lines of neighbours must lie apart; `slid` is how many slices the second lies further on."""
    one = before[max(slid, 0) : ROWS + min(slid, 0)]
    two = after[max(-slid, 0) : ROWS + min(-slid, 0)]
    return float(np.max(one + two))


def _edges(shape: Outline, length: float) -> Edges:
    """Give each slice the wider of its two ends, so that nothing sticks out of it."""
    at = np.arange(ROWS + 1) / ROWS
    sides = (np.interp(at, shape.stations, side) * length for side in (shape.inner, shape.outer))
    inner, outer = (np.maximum(side[1:], side[:-1]) for side in sides)
    return inner, outer


def _grown(edges: Edges, by: float, length: float) -> Edges:
    """Grow both edges by a disc of radius `by` rolled along them."""
    reach = int(by / (length / ROWS))
    offsets = np.arange(-reach, reach + 1)
    lifts = np.sqrt(np.maximum(by**2 - (offsets * length / ROWS) ** 2, 0))
    grown = []
    for edge in edges:
        padded = np.pad(edge, reach, mode="edge")
        shifted = [padded[reach + o : reach + o + ROWS] + lift for o, lift in zip(offsets, lifts, strict=True)]
        grown.append(np.max(shifted, axis=0))
    return grown[0], grown[1]


def _pieces(band: _Band, low: float, size: str, cut: tuple[Outline, float], *, mirror: float | None) -> list[Piece]:
    """Draw a band; mirrored across the sheet it begins with a right sole, where lefts are too many."""
    shape, length = cut
    made = []
    for n, (x, y, turned) in enumerate(band.places):
        foot = _FEET[n % 2 if mirror is None else 1 - n % 2]
        x = x if mirror is None else mirror - x  # noqa: PLW2901 -- the same place, seen from the other edge
        made.append(
            Piece(size=size, foot=foot, outline=_polygon(shape, length, (x, low + y), foot=foot, turned=turned))
        )
    return made


def _polygon(shape: Outline, length: float, at: Point, *, foot: str, turned: bool) -> tuple[Point, ...]:
    """Draw an outline: up one side and down the other, mirrored for the right foot, turned about its middle."""
    stations = np.array(shape.stations) * length
    left, right = (shape.outer, shape.inner) if foot == "left" else (shape.inner, shape.outer)
    xs = np.concatenate([-np.array(left), np.array(right)[::-1]]) * length
    ys = np.concatenate([stations, stations[::-1]])
    if turned:
        xs, ys = -xs, length - ys
    return tuple((round(float(x) + at[0], 2), round(float(y) + at[1], 2)) for x, y in zip(xs, ys, strict=True))


def _crossings(xs: NDArray[np.float64], ys: NDArray[np.float64], at: float) -> tuple[float, float]:
    """Give the leftmost and rightmost point of a closed line at a height."""
    x1, y1 = np.roll(xs, -1), np.roll(ys, -1)
    meets = (np.minimum(ys, y1) - _NEAR <= at) & (np.maximum(ys, y1) + _NEAR >= at)
    low, high = np.where(ys <= y1, xs, x1)[meets], np.where(ys <= y1, x1, xs)[meets]
    bottom, top = np.minimum(ys, y1)[meets], np.maximum(ys, y1)[meets]
    part = np.divide(at - bottom, top - bottom, out=np.zeros_like(top), where=top - bottom > _NEAR).clip(0, 1)
    found = np.concatenate([low + part * (high - low), high[top - bottom <= _NEAR]])
    return float(found.min()), float(found.max())


def _mean(values: NDArray[np.float64], at: NDArray[np.float64]) -> float:
    return float(np.sum((values[1:] + values[:-1]) / 2 * np.diff(at)))


def _polygon_area(points: Sequence[Point]) -> float:
    ahead = [*points[1:], points[0]]
    return abs(sum(x0 * y1 - x1 * y0 for (x0, y0), (x1, y1) in zip(points, ahead, strict=True))) / 2
