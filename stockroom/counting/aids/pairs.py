"""Pairs and odd pieces."""

from fractions import Fraction

from stockroom.counting.aid import Aid, AidAnswers, AidQuestion, Finding, whole
from stockroom.stock.quantities import Dimension

SURE = 30  # pieces counted without a slip
SLIP = 0.01  # relative standard error beyond that; common practice, no source


def _work_out(reading: AidAnswers) -> Finding:
    pieces = 2 * whole(reading, "pairs", "number of pairs") + whole(reading, "odd", "number of odd pieces")
    return Finding(amount=Fraction(pieces), error=SLIP * max(0, pieces - SURE), dimension=Dimension.COUNT)


AID = Aid(
    name="pairs",
    title="Pairs and odd pieces",
    asks=(
        AidQuestion(name="pairs", prompt="how many full pairs"),
        AidQuestion(name="odd", prompt="how many odd pieces", default="0"),
    ),
    work_out=_work_out,
    error_rule="exact up to 30 pieces; beyond that one slip in a hundred",
)
