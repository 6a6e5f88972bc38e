"""A part-used container judged in tenths by eye or dipstick."""

from stockroom.counting.aid import CONTAINER, Aid, AidAnswers, AidQuestion, Finding, by_eye, open_part

WORST = 0.1  # the reading is never wrong by more than a tenth; common practice, no source


def _work_out(reading: AidAnswers) -> Finding:
    full, size = open_part(reading, "tenths", most=10)
    return Finding(amount=full, error=by_eye(WORST * float(size.amount)), dimension=size.dimension)


AID = Aid(
    name="tin-tenths",
    title="Part-used tin by tenths",
    asks=(AidQuestion(name="tenths", prompt="how many tenths are left (0 to 10)"), CONTAINER),
    work_out=_work_out,
    error_rule="never out by more than a tenth of the full tin, most likely right",
)
