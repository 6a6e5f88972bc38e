"""Whole sheets or hides and the part left of an open one."""

from stockroom.counting.aid import Aid, AidAnswers, AidQuestion, Finding, by_eye, full_size, whole
from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.stock.quantities import Dimension

WORST = 0.1
PERCENT = 100


def _work_out(reading: AidAnswers) -> Finding:
    sheet = full_size(reading)
    if sheet.dimension not in {Dimension.AREA, Dimension.COUNT}:
        raise UsageError(
            phrase("A full sheet is an area, not %(dimension)s.", dimension=sheet.dimension),
            fix="State it such as '60 dm2'.",
        )
    sheets, left = whole(reading, "whole", "number of whole sheets"), reading["left"] / PERCENT
    if left > 1:
        raise UsageError("More than 100 % is left of the open sheet.", fix="Count full sheets as whole.")
    error = by_eye(WORST * float(sheet.amount)) if 0 < left < 1 else 0.0
    return Finding(amount=(sheets + left) * sheet.amount, error=error, dimension=sheet.dimension)


AID = Aid(
    name="sheet-fraction",
    title="Whole sheets and part of one",
    asks=(
        AidQuestion(name="whole", prompt="how many whole sheets"),
        AidQuestion(name="left", prompt="how many per cent are left of the open one", default="0"),
        AidQuestion(name="full", prompt="the size of a full sheet, such as '60 dm2'", fact="sheet", free=True),
    ),
    work_out=_work_out,
    error_rule="the open sheet never out by more than a tenth, most likely right; whole sheets are taken as exact",
)
