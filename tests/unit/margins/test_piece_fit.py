"""Pieces in an offcut: nothing lies outside it or on another piece, larger is never worse, and a count on a grid."""

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.margins.piece_fit import Laid, left_over, lies_in, ways
from stockroom.margins.sole_layout import Outline, Point, drawn_outline, measured_outline, sole_area

USUAL = Outline()
sides = st.floats(60, 700)


def covered(pieces: tuple[tuple[Point, ...], ...], step: float = 2.0) -> int:
    """Give how many pieces lie over the point of a grid where most do."""
    every = np.array([point for piece in pieces for point in piece])
    xs = np.arange(0.3, every[:, 0].max(), step)
    ys = np.arange(0.3, every[:, 1].max(), step)
    count = np.zeros((len(ys), len(xs)), dtype=int)
    for piece in pieces:
        inside = np.zeros_like(count, dtype=bool)
        for (x0, y0), (x1, y1) in zip(piece, [*piece[1:], piece[0]], strict=True):
            if y0 != y1:
                rows = (y0 > ys) != (y1 > ys)
                inside[rows] ^= xs[None, :] < (x0 + (ys[rows] - y0) * (x1 - x0) / (y1 - y0))[:, None]
        count += inside
    return int(count.max())


@pytest.mark.parametrize("shoes", [1, 2, 4])
def test_every_way_found_holds_its_pieces_apart(shoes: int) -> None:
    found = ways(USUAL, 280.0, shoes)
    for laid in found:
        every = np.array([point for piece in laid.pieces for point in piece])
        assert len(laid.pieces) == shoes
        assert every.min() > -1e-6
        assert (every.max(axis=0) < (laid.width + 1e-6, laid.length + 1e-6)).all()
    for laid in found[:: max(len(found) // 6, 1)]:
        assert covered(laid.pieces) == 1


def test_the_gap_lies_between_the_pieces() -> None:
    for laid in ways(USUAL, 280.0, 2, 10.0)[::5]:
        one, two = (np.array(piece) for piece in laid.pieces)
        between = np.hypot(*(one[:, None] - two[None]).transpose(2, 0, 1))
        assert between.min() > 9.9


@given(sides, sides, st.floats(0, 200), st.floats(0, 200), st.sampled_from([1, 2, 3, 4]))
def test_what_fits_in_a_rectangle_fits_in_a_larger_one_and_turned(
    width: float, length: float, wider: float, longer: float, shoes: int
) -> None:
    fits = lies_in(USUAL, 270.0, shoes, (width, length)) is not None
    assert fits == (lies_in(USUAL, 270.0, shoes, (length, width)) is not None)
    if fits:
        assert lies_in(USUAL, 270.0, shoes, (width + wider, length + longer))
        assert lies_in(USUAL, 260.0, shoes, (width, length)) is not None, "a smaller sole, too"
        assert 2 * sole_area(270.0) / 2 * shoes <= width * length


def by_trying(piece: tuple[int, int], room: tuple[int, int]) -> bool:
    """Put two rectangles on every place of a grid, each either way round."""
    (a, b), (w, h) = piece, room
    placed = [
        (x, y, p, q)
        for p, q in ((a, b), (b, a))
        for x, y in product(range(w - p + 1), range(h - q + 1))
    ]  # fmt: skip
    return any(
        x + p <= u or u + r <= x or y + q <= v or v + s <= y for (x, y, p, q), (u, v, r, s) in product(placed, placed)
    )


@pytest.mark.parametrize("piece", [(2, 3), (1, 4), (3, 3), (2, 5)])
def test_two_rectangles_fit_where_trying_every_place_on_a_grid_says_so(piece: tuple[int, int]) -> None:
    square = measured_outline(piece[1], piece[0], 1)
    found = ways(square, float(piece[1]), 2, 0.0, 90)
    for room in product(range(1, 9), range(1, 9)):
        short, long = sorted(room)
        fits = any(laid.width <= short + 1e-6 and laid.length <= long + 1e-6 for laid in found)
        assert fits == by_trying(piece, room), room


def test_what_is_left_is_the_larger_strip_of_one_straight_cut() -> None:
    assert left_over((600, 400), (290, 250)) == (310, 400)
    assert left_over((600, 400), (590, 250)) == (600, 150)
    assert left_over((600, 400), (600, 400))[0] * left_over((600, 400), (600, 400))[1] == 0


def test_a_shops_own_outline_is_the_one_it_drew() -> None:
    again = drawn_outline(USUAL.polygon(290.0))
    assert sole_area(290.0, again) == pytest.approx(sole_area(290.0), rel=1e-6)
    moved = drawn_outline([(x + 55, y - 20) for x, y in USUAL.polygon(290.0)[::-1]])
    assert np.allclose(moved.inner, again.inner, atol=1e-6)
    box = drawn_outline([(0, 0), (80, 0), (80, 250), (0, 250)])
    assert sole_area(250.0, box) == pytest.approx(80 * 250)
    for wrong in ([], [(0.0, 0.0), (1.0, 1.0)], [(0.0, 0.0), (1.0, 1.0), (2.0, 2.0)]):
        with pytest.raises(ValueError, match=r"points|area"):
            drawn_outline(wrong)


@given(st.floats(150, 330), st.floats(50, 130), st.floats(0.3, 1))
def test_an_outline_by_its_measures_fills_the_part_that_was_said(length: float, width: float, fill: float) -> None:
    made = measured_outline(length, width, fill)
    assert sole_area(length, made) == pytest.approx(length * width * fill, rel=1e-3)
    across = np.array(made.polygon(length))[:, 0]
    assert np.ptp(across) == pytest.approx(width, abs=0.02)  # outlines are rounded to a hundredth of a millimetre


def test_a_single_sole_is_as_narrow_as_it_is_wide() -> None:
    narrowest = ways(USUAL, 280.0, 1)[0]
    assert isinstance(narrowest, Laid)
    assert (narrowest.width, narrowest.length) == pytest.approx((280 * 0.335, 280), abs=4)
