"""Sealed containers, and one or more open ones judged in tenths."""

import math

from stockroom.counting.aid import CONTAINER, Aid, AidAnswers, AidQuestion, Finding, by_eye, combine, open_part, whole

FILL = 0.01  # relative standard error of a filler's fill; common practice, no source
WORST = 0.1


def _work_out(reading: AidAnswers) -> Finding:
    sealed = whole(reading, "sealed", "number of sealed containers")
    part, size = open_part(reading, "tenths", most=100)
    opened = max(1, math.ceil(reading["tenths"] / 10)) if reading["tenths"] else 0
    full = float(size.amount)
    error = combine(FILL * full * math.sqrt(sealed), by_eye(WORST * full) * math.sqrt(opened))
    return Finding(amount=sealed * size.amount + part, error=error, dimension=size.dimension)


AID = Aid(
    name="sealed-open",
    title="Sealed containers and open ones",
    asks=(
        AidQuestion(name="sealed", prompt="how many are still sealed"),
        AidQuestion(name="tenths", prompt="tenths left in all open ones together", default="0"),
        CONTAINER,
    ),
    work_out=_work_out,
    error_rule="1 % for the fill of each sealed one; each open one never out by more than a tenth",
)
