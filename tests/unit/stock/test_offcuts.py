"""Sizes of pieces and the marks of their batches."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.errors import StockroomError
from stockroom.stock.offcuts import PieceSize, is_piece, is_size, piece_lot, piece_size
from tests import build

sides = st.integers(1, 5000)


@pytest.mark.parametrize(
    ("text", "said", "area"),
    [
        ("60 x 40 cm", "60 × 40 cm", "24 dm2"),
        ("400x600mm", "60 × 40 cm", "24 dm2"),
        ("40 cm × 60 cm", "60 × 40 cm", "24 dm2"),
        ("0.6 x 0.4 m", "60 × 40 cm", "24 dm2"),
        ("12,5 x 8 cm", "12.5 × 8 cm", "1 dm2"),
        ("24 x 16 in", "60.96 × 40.64 cm", "24.774144 dm2"),  # an inch is 2.54 cm (1959)
    ],
)
def test_a_size_is_read_as_it_is_written(text: str, said: str, area: str) -> None:
    size = piece_size(text)
    assert (str(size), size.area) == (said, build.amount(area))
    assert is_size(text)


@pytest.mark.parametrize("text", ["60", "60 x 40", "60 x 40 dm2", "0 x 40 cm", "3 dm2", "x cm", "60 x 40 furlong"])
def test_what_is_no_size_is_refused(text: str) -> None:
    with pytest.raises(StockroomError):
        piece_size(text)


@given(sides, sides, sides, sides)
def test_a_piece_covers_what_is_no_larger_on_either_side(a: int, b: int, c: int, d: int) -> None:
    one, other = PieceSize.of_mm(a, b), PieceSize.of_mm(c, d)
    assert one.covers(other) is (max(a, b) >= max(c, d) and min(a, b) >= min(c, d))
    assert one.covers(one)
    assert piece_size(str(one)) == one
    assert one.area.nano * 10_000 == a * b * 10**9, "a square decimetre is ten thousand square millimetres"


def test_a_batch_names_its_piece() -> None:
    assert is_piece(piece_lot(7))
    assert not any(map(is_piece, ("", "offcut", "offcut x", "L2207", "7")))
