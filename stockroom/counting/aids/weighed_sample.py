"""Nails, tacks and other small pieces: weigh all, weigh a counted sample."""

import math
from fractions import Fraction

from stockroom.counting.aid import Aid, AidAnswers, AidQuestion, Finding, combine, net, within
from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.stock.quantities import Dimension, unit

GRAM = unit("g")
PIECE_SPREAD = 0.05  # one piece's weight about the mean, relative; common practice, no source


def _work_out(reading: AidAnswers) -> Finding:
    counted = reading.above_zero("pieces", "number of pieces in the sample")
    sample = reading.above_zero("sample", "weight of the sample")
    step, inside = reading["step"], net(reading)
    if sample < 5 * step:
        raise UsageError(
            phrase(
                "A sample of %(sample)s g is too light for a scale that steps by %(step)s g.",
                sample=float(sample),
                step=float(step),
            ),
            fix="Weigh a sample of more pieces.",
        )
    pieces = round(inside * counted / sample)
    per_piece = combine(within(float(step)) / float(sample), PIECE_SPREAD / math.sqrt(counted))
    weighing = combine(within(float(step)), within(float(step))) * float(counted / sample)
    error = combine(per_piece * pieces, weighing, within(0.5))
    return Finding(amount=Fraction(pieces), error=error, dimension=Dimension.COUNT)


AID = Aid(
    name="sample-weight",
    title="Small pieces by the weight of a sample",
    asks=(
        AidQuestion(name="gross", prompt="the weight of all of them in their box", unit=GRAM),
        AidQuestion(name="tare", prompt="the weight of the empty box", unit=GRAM, fact="tare", default="0"),
        AidQuestion(name="pieces", prompt="how many pieces are in the sample", fact="sample_pieces"),
        AidQuestion(name="sample", prompt="the weight of the sample", unit=GRAM, fact="sample_weight"),
        AidQuestion(name="step", prompt="the smallest step of the scale", unit=GRAM, fact="scale_step", default="1"),
    ),
    work_out=_work_out,
    error_rule="each weighing anywhere within one step of the scale; pieces differ by 5 % of their weight",
)
