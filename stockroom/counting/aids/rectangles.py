"""Sheet and hide remainders by measured rectangles."""

import re
from fractions import Fraction

from stockroom.counting.aid import Aid, AidAnswers, AidQuestion, Finding, combine, number, within
from stockroom.errors import UsageError, shorten
from stockroom.phrases import phrase
from stockroom.stock.quantities import Dimension, unit

CENTIMETRE = unit("cm")
RULE = 0.05  # dm: a side is read to within half a centimetre, edges being ragged; common practice, no source
MOST = 200  # pieces on one line
PERCENT = 100


def _work_out(reading: AidAnswers) -> Finding:
    sides = _sides(reading.texts["pieces"])
    share = reading["usable"] / PERCENT
    if share > 1:
        raise UsageError("No more than 100 % of a piece is usable.", fix="Give the usable share in per cent.")
    area = sum((length * width for length, width in sides), Fraction(0))
    errors = [within(RULE) * float(side) for pair in sides for side in pair]
    return Finding(amount=area * share, error=combine(*errors) * float(share), dimension=Dimension.AREA)


def _sides(text: str) -> list[tuple[Fraction, Fraction]]:
    """Read '30 x 40, 12.5 x 20' or '2 x 30 x 40' (two alike) as sides in decimetres."""
    made: list[tuple[Fraction, Fraction]] = []
    for part in [each.strip() for each in re.split(r"[,;]", text) if each.strip()]:
        figures = re.split(r"\s*[x×*]\s*", part.lower())
        alike, sides = (figures[0], figures[1:]) if len(figures) == 3 else ("1", figures)  # noqa: PLR2004 -- n x a x b
        if len(sides) != 2 or not alike.isdigit():  # noqa: PLR2004 -- two sides
            raise UsageError(
                phrase("'%(part)s' is not a rectangle.", part=shorten(part)),
                fix="Write them like '30 x 40, 12.5 x 20', in centimetres.",
            )
        made += [_pair(sides)] * min(int(alike), MOST + 1)
    if len(made) > MOST:
        raise UsageError(
            phrase("More than %(most)s pieces on one line.", most=MOST), fix="Check the figures, or split the line."
        )
    return made


def _pair(sides: list[str]) -> tuple[Fraction, Fraction]:
    decimetres = 10  # the ask reads metres
    ask = AidQuestion(name="side", prompt="a side of the piece", unit=CENTIMETRE)
    length, width = (number(side, ask) * decimetres for side in sides)
    return length, width


AID = Aid(
    name="rectangles",
    title="Remainders by measured rectangles",
    asks=(
        AidQuestion(
            name="pieces", prompt="length x width of each piece in cm, such as '30 x 40, 12.5 x 20'", free=True
        ),
        AidQuestion(name="usable", prompt="the usable share in per cent", fact="usable", default="100"),
    ),
    work_out=_work_out,
    error_rule="each side anywhere within half a centimetre",
)
