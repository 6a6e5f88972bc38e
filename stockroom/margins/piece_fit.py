"""Whether a shoe's pieces fit into an offcut: laid at every angle in steps, side by side, heel to toe or head to tail.

What is looked for are the smallest rectangles that hold the pieces, whatever the offcut; an offcut serves where one
of them lies in it. So what fits in a rectangle fits in every larger one. A rectangle that is found does hold the
pieces; that there is none smaller is not claimed.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache, partial

import numpy as np
from numpy.typing import NDArray

from stockroom.margins.sole_layout import Outline, Point

STEP = 5  # degrees from one angle to the next
_HALF_TURN = 180
_ROWS = 160  # slices of a piece as it lies
_SHIFTS = 8  # ways of sliding a second piece along the first, up and down, that are tried
_PAIR = 2

_NEAR = 1e-6


_Pieces = list[NDArray[np.float64]]
_Way = tuple[float, float, Callable[[], _Pieces]]  # the sides of a rectangle, and what lays the pieces in it


@dataclass(frozen=True, slots=True, kw_only=True)
class Laid:
    """Pieces laid as close as was found: the rectangle that holds them, and how they lie in it."""

    width: float  # mm, the shorter side
    length: float
    pieces: tuple[tuple[Point, ...], ...]


def lies_in(outline: Outline, length: float, shoes: int, room: tuple[float, float], *, gap: float = 3.0) -> Laid | None:
    """Lay the soles of some shoes in a rectangle.

    Parameters
    ----------
    outline : Outline
        A left sole.
    length : float
        How long it is, in mm.
    shoes : int
        How many soles; of an odd number above one, the last takes the room of a pair.
    room : tuple of float
        The rectangle's sides in mm.
    gap : float
        What is left between pieces.

    Returns
    -------
    Laid or None
        The smallest of the ways found that fit, by area.
    """
    short, long = sorted(room)
    fitting = [laid for laid in ways(outline, length, shoes, gap) if laid.width <= short and laid.length <= long]
    return min(fitting, key=lambda laid: laid.width * laid.length, default=None)


@lru_cache(maxsize=512)
def ways(outline: Outline, length: float, shoes: int, gap: float = 3.0, step: int = STEP) -> tuple[Laid, ...]:
    """Give the rectangles that hold the soles of some shoes, none of which lies in another, narrowest first."""
    found = _singles(outline, length, step) if shoes == 1 else _pairs(outline, length, gap, step)
    if shoes > _PAIR:
        found = [way for one in _narrowing(found) for way in _many(one, -(-shoes // _PAIR), gap)]
    return tuple(_laid(lay()) for _, _, lay in _narrowing(found))


def left_over(room: tuple[int, int], taken: tuple[int, int]) -> tuple[int, int]:
    """Give the largest rectangle that is left when one is cut from the corner of another: one straight cut.

    The rectangle taken lies in the room as it is given: first side along first side.
    """
    (wide, long), (across, along) = room, taken
    strips = [(max(wide - across, 0), long), (wide, max(long - along, 0))]
    return max(strips, key=lambda strip: strip[0] * strip[1])


def _singles(outline: Outline, length: float, step: int) -> list[_Way]:
    sole = np.array(outline.polygon(length))
    return [_way([_turned(sole, angle)]) for angle in range(0, _HALF_TURN, step)]


def _pairs(outline: Outline, length: float, gap: float, step: int) -> list[_Way]:
    """Lay a left and a right sole: at one angle, side by side, the right one as it is or turned head to tail."""
    left = np.array(outline.polygon(length))
    right = left * (-1, 1)
    found: list[_Way] = []
    for angle in range(0, _HALF_TURN, step):
        one = _turned(left, angle)
        for two in (_turned(right, angle), _turned(right, angle + _HALF_TURN)):
            found += [*_beside(one, two, gap), *_beside(two, one, gap)]
    return found


def _beside(one: NDArray[np.float64], two: NDArray[np.float64], gap: float) -> Iterator[_Way]:
    """Put a second piece to the right of a first, slid up or down by so many slices, as near as the slices allow."""
    slice_ = max(np.ptp(one[:, 1]), np.ptp(two[:, 1])) / _ROWS
    reach = int(np.ceil(gap / slice_)) if gap else 0
    first, second = _edge(one, slice_, -1, reach), _edge(two, slice_, 1, 0)
    (left, low), (right, high) = one.min(axis=0), one.max(axis=0)
    (near, bottom), (far, top) = two.min(axis=0), two.max(axis=0)
    down, up = 1 - len(second), len(first) - 2 * reach - 1
    for slid in sorted(
        {round((down if part < 0 else up) * abs(part) / _SHIFTS) for part in range(-_SHIFTS, _SHIFTS + 1)}
    ):
        start, end = max(slid + reach, 0), min(len(first), len(second) + slid + reach)
        mine = second[start - slid - reach : end - slid - reach]
        apart = float(np.max(first[start:end] + mine)) + gap
        lift = float(low - bottom + slid * slice_)
        wide = max(right, far + apart) - min(left, near + apart)
        tall = max(high, top + lift) - min(low, bottom + lift)
        yield float(wide), float(tall), partial(_both, one, two, (apart, lift))


def _edge(piece: NDArray[np.float64], slice_: float, side: int, reach: int) -> NDArray[np.float64]:
    """Say how far a piece reaches to the left (1) or right (-1) in each slice, or in any within reach of it.

    To the left it is how far below zero. Within a slice a straight edge is widest at a corner or where it enters or
    leaves the slice.
    """
    ends = np.roll(piece, -1, axis=0)
    across, up, to = -side * piece[:, 0], piece[:, 1] - piece[:, 1].min(), ends[:, 1] - piece[:, 1].min()
    count = max(int(np.ceil(up.max() / slice_ - _NEAR)), 1)
    at = np.arange(count + 1) * slice_
    bottom, top = np.minimum(up, to), np.maximum(up, to)
    meets = (bottom[:, None] - _NEAR <= at) & (at <= top[:, None] + _NEAR) & (top - bottom > _NEAR)[:, None]
    rise = np.where(top - bottom > _NEAR, to - up, 1.0)
    part = ((at - up[:, None]) / rise[:, None]).clip(0, 1)
    crossing = across[:, None] + part * (-side * ends[:, 0] - across)[:, None]
    widest = np.where(meets, crossing, -np.inf).max(axis=0)
    found: NDArray[np.float64] = np.maximum(widest[1:], widest[:-1])
    np.maximum.at(found, np.minimum((up / slice_).astype(int), count - 1), across)
    if not reach:
        return found
    padded = np.pad(found, 2 * reach, constant_values=-np.inf)
    reached: NDArray[np.float64] = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).max(axis=1)
    return reached


def _many(way: _Way, pairs: int, gap: float) -> Iterator[_Way]:
    """Repeat a pair in rows and columns."""
    wide, high, lay = way
    for columns in range(1, pairs + 1):
        rows = -(-pairs // columns)
        places = [(n % columns * (wide + gap), n // columns * (high + gap)) for n in range(pairs)]
        sides = columns * (wide + gap) - gap, rows * (high + gap) - gap
        yield (*sides, partial(_repeated, lay, places))


def _narrowing(found: Iterable[_Way]) -> list[_Way]:
    """Keep the ways none of whose rectangles lies in another's, the shorter side across, narrowest first."""
    kept: list[_Way] = []
    for wide, high, lay in sorted(found, key=lambda way: (min(way[:2]), max(way[:2]))):
        if not kept or max(wide, high) < max(kept[-1][:2]):
            kept.append((wide, high, lay))
    return kept


def _way(pieces: _Pieces) -> _Way:
    wide, high = np.ptp(np.concatenate(pieces), axis=0).tolist()
    return wide, high, lambda: pieces


def _both(one: NDArray[np.float64], two: NDArray[np.float64], apart: Point) -> _Pieces:
    return [one, two + apart]


def _repeated(lay: Callable[[], _Pieces], places: Sequence[Point]) -> _Pieces:
    return [piece + at for at in places for piece in lay()]


def _laid(pieces: _Pieces) -> Laid:
    """Bring pieces into the corner, the shorter side across."""
    every = np.concatenate(pieces)
    corner, sides = every.min(axis=0), np.ptp(every, axis=0)
    moved = [piece - corner for piece in pieces]
    if sides[0] > sides[1]:
        moved = [piece[:, ::-1] for piece in moved]
    width, length = sorted(sides.tolist())
    return Laid(width=width, length=length, pieces=tuple(tuple((float(x), float(y)) for x, y in p) for p in moved))


def _turned(piece: NDArray[np.float64], degrees: int) -> NDArray[np.float64]:
    angle = np.deg2rad(degrees)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    turned: NDArray[np.float64] = (piece @ turn).round(6)
    return turned
