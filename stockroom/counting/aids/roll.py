"""A roll or coil by its diameters and the thickness of what is wound on it."""

import math
from fractions import Fraction

from stockroom.counting.aid import Aid, AidAnswers, AidQuestion, Finding, combine, within
from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.stock.quantities import Dimension, unit

MILLIMETRE = unit("mm")
RULE = 0.001  # metres: a diameter is read to within a millimetre
WOUND = (
    0.03  # relative standard error of thickness as wound, air between the turns included; common practice, no source
)
PI = Fraction(math.pi)


def _work_out(reading: AidAnswers) -> Finding:
    outer, core = reading["outer"], reading["core"]
    thick = reading.above_zero("thickness", "thickness")
    if outer < core:
        raise UsageError(
            phrase(
                "The roll (%(outer)s mm) can't be narrower than its core (%(core)s mm).",
                outer=float(outer * 1000),
                core=float(core * 1000),
            ),
            fix="Measure both diameters again, straight across.",
        )
    length = PI * (outer**2 - core**2) / (4 * thick)
    edge = math.pi / (2 * float(thick)) * within(RULE)
    error = combine(edge * float(outer), edge * float(core), WOUND * float(length))
    return _of_width(Finding(amount=length, error=error, dimension=Dimension.LENGTH), reading)


def _of_width(found: Finding, reading: AidAnswers) -> Finding:
    if reading.material.dimension is not Dimension.AREA:
        return found
    width = reading.above_zero("width", "width of the roll")
    square_metres = 100  # dm2 in one
    return Finding(
        amount=found.amount * width * square_metres,
        error=found.error * float(width) * square_metres,
        dimension=Dimension.AREA,
    )


AID = Aid(
    name="roll",
    title="Roll by its diameters",
    asks=(
        AidQuestion(name="outer", prompt="the diameter across the roll", unit=MILLIMETRE),
        AidQuestion(name="core", prompt="the diameter of the core", unit=MILLIMETRE, fact="core"),
        AidQuestion(name="thickness", prompt="the thickness of one turn", unit=MILLIMETRE, fact="wound_thickness"),
        AidQuestion(
            name="width", prompt="the width of the roll (only for area)", unit=MILLIMETRE, fact="width", default="0"
        ),
    ),
    work_out=_work_out,
    error_rule="each diameter anywhere within a millimetre; 3 % for the thickness as wound",
)
