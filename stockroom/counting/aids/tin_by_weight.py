"""A part-used tin, jar or bottle on the scale."""

from stockroom.counting.aid import Aid, AidAnswers, AidQuestion, Finding, net, net_error
from stockroom.stock.quantities import Dimension, unit

GRAM = unit("g")


def _work_out(reading: AidAnswers) -> Finding:
    return Finding(amount=net(reading), error=net_error(reading), dimension=Dimension.MASS)


AID = Aid(
    name="tin-weight",
    title="Part-used tin by weight",
    asks=(
        AidQuestion(name="gross", prompt="the weight of the tin with what is left", unit=GRAM),
        AidQuestion(name="tare", prompt="the weight of the empty tin", unit=GRAM, fact="tare"),
        AidQuestion(name="step", prompt="the smallest step of the scale", unit=GRAM, fact="scale_step", default="1"),
    ),
    work_out=_work_out,
    error_rule="two weighings, each anywhere within one step of the scale; 1 % more where a density bridges to ml",
)
