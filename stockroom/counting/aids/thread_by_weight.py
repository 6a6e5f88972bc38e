"""Thread on a cone or spool, or cord on a reel, by weight."""

from stockroom.counting.aid import Aid, AidAnswers, AidQuestion, Finding, combine, net, net_error
from stockroom.stock.quantities import Dimension, unit

GRAM = unit("g")
FINENESS = 0.02  # relative standard error of a thread's stated fineness; common practice, no source


def _work_out(reading: AidAnswers) -> Finding:
    per_gram = reading.above_zero("metres_per_gram", "metres per gram")
    inside = net(reading)
    error = combine(net_error(reading) * float(per_gram), FINENESS * float(inside * per_gram))
    return Finding(amount=inside * per_gram, error=error, dimension=Dimension.LENGTH)


AID = Aid(
    name="thread-weight",
    title="Thread or cord by weight",
    asks=(
        AidQuestion(name="gross", prompt="the weight of the cone with its thread", unit=GRAM),
        AidQuestion(name="tare", prompt="the weight of the empty cone", unit=GRAM, fact="tare"),
        AidQuestion(name="metres_per_gram", prompt="metres per gram (1000 / tex)", fact="metres_per_gram"),
        AidQuestion(name="step", prompt="the smallest step of the scale", unit=GRAM, fact="scale_step", default="1"),
    ),
    work_out=_work_out,
    error_rule="two weighings, each anywhere within one step of the scale; 2 % for the fineness of the thread",
)
