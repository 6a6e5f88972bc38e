import numpy as np
import pytest
from numpy.typing import NDArray

from stockroom.margins.sole_layout import Plate, SheetLayout, lay_out, sole_area

SHEET = Plate(width=600, length=1000)


def covered(layout: SheetLayout, step: float = 1.0) -> NDArray[np.int_]:
    """Count, on a fine grid, how many soles cover each point of the sheet."""
    xs = np.arange(step / 2, layout.plate.width, step)
    ys = np.arange(step / 2, layout.plate.length, step)
    count = np.zeros((len(ys), len(xs)), dtype=int)
    for piece in layout.pieces:
        count += _inside(piece.outline, xs, ys)
    return count


def _inside(
    outline: tuple[tuple[float, float], ...], xs: NDArray[np.float64], ys: NDArray[np.float64]
) -> NDArray[np.bool_]:
    inside = np.zeros((len(ys), len(xs)), dtype=bool)
    for (x0, y0), (x1, y1) in zip(outline, [*outline[1:], outline[0]], strict=True):
        if y0 != y1:
            rows = (y0 > ys) != (y1 > ys)
            crossing = x0 + (ys[rows] - y0) * (x1 - x0) / (y1 - y0)
            inside[rows] ^= xs[None, :] < crossing[:, None]
    return inside


@pytest.mark.parametrize("turning", [True, False])
def test_soles_lie_inside_the_sheet_and_never_on_each_other(turning: bool) -> None:
    layout = lay_out([("EU 42", 280), ("EU 37", 247)], Plate(width=600, length=1000, turning=turning))
    points = [point for piece in layout.pieces for point in piece.outline]
    assert min(min(x, y) for x, y in points) >= -0.01  # outlines are rounded to a hundredth of a millimetre
    assert max(x for x, _ in points) <= 600.01
    assert max(y for _, y in points) <= 1000.01
    assert covered(layout).max() == 1


def test_gap_is_kept() -> None:
    wide = lay_out([("EU 42", 280)], Plate(width=600, length=1000, gap=40))
    close = lay_out([("EU 42", 280)], Plate(width=600, length=1000, gap=0))
    assert wide.pairs < close.pairs


def test_pairs_are_whole_and_the_share_is_their_area() -> None:
    layout = lay_out([("EU 42", 280)], SHEET)
    feet = [piece.foot for piece in layout.pieces]
    assert feet.count("left") == feet.count("right") == layout.pairs
    assert layout.share == pytest.approx(2 * layout.pairs * sole_area(280) / (600 * 1000), rel=0.01)
    assert covered(layout).mean() == pytest.approx(layout.share, rel=0.01)


def test_turning_head_to_tail_never_gives_fewer_pairs() -> None:
    for width in range(300, 900, 75):
        straight = lay_out([("EU 42", 280)], Plate(width=width, length=900, turning=False))
        turned = lay_out([("EU 42", 280)], Plate(width=width, length=900))
        assert turned.pairs >= straight.pairs


def test_sheet_too_small_gives_nothing() -> None:
    assert lay_out([("EU 42", 280)], Plate(width=60, length=200)).pairs == 0


def test_no_size_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="at least one size"):
        lay_out([], SHEET)
