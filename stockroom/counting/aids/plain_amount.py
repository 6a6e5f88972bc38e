"""A plain amount, counted or read off a gauge."""

import re

from stockroom.counting.aid import Aid, AidAnswers, AidQuestion, Finding, number, within
from stockroom.stock.quantities import NANO, Dimension, unit


def _work_out(reading: AidAnswers) -> Finding:
    text, own = reading.texts["amount"], reading.material.unit
    named = re.search(r"[^\d.,\s-].*$", text)
    stated = unit(named[0]) if named else own
    amount = number(text, AidQuestion(name="amount", prompt="the amount", unit=stated))
    digits = len(re.sub(r"^\d*[.,]?|[^\d].*$", "", text))
    step = 0.0 if stated.dimension is Dimension.COUNT else stated.nano / NANO / 10**digits
    return Finding(amount=amount, error=within(step / 2), dimension=stated.dimension)


AID = Aid(
    name="plain",
    title="Plain amount",
    asks=(AidQuestion(name="amount", prompt="the amount, with its unit if it isn't the usual one", free=True),),
    work_out=_work_out,
    error_rule="half the last digit written, anywhere within it; whole pieces are taken as exact",
)
