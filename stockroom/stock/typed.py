"""What people type: numbers and amounts with a decimal point or comma, yes or no, days."""

import re
from decimal import Decimal

from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.stock.quantities import Quantity, Unit, unit

YES_NO = {"yes": True, "true": True, "ja": True, "no": False, "false": False, "nein": False}

_DOTTED_DAY = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})(?=$|[T ])", re.ASCII)
_STROKED_DAY = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})(?=$|[T ])", re.ASCII)


def number(text: str) -> Decimal:
    """Read a number with a decimal point or comma; one that could be thousands is refused."""
    plainly = text.strip().replace(",", ".")
    if not re.fullmatch(r"[+-]?\d{1,18}(\.\d{1,18})?", plainly, re.ASCII):
        raise UsageError(
            phrase("'%(text)s' is not a number.", text=text), fix="Write it like 12.5 (no thousands marks)."
        )
    if re.fullmatch(r"[+-]?[1-9]\d{0,2}\.\d{3}", plainly):
        whole, parts = plainly.split(".")
        raise UsageError(
            phrase(
                "'%(text)s' could be %(whole)s%(parts)s or %(whole)s and a fraction.",
                text=text,
                whole=whole,
                parts=parts,
            ),
            fix=phrase("Write %(whole)s%(parts)s, or %(whole)s.%(parts)s0.", whole=whole, parts=parts),
        )
    return Decimal(plainly)


def amount(text: str, usual: Unit | None) -> Quantity:
    """Read '2.5 dm2', '3 pairs', or a bare number in the material's own unit where one is given.

    Raises
    ------
    UsageError
        If it is no amount.
    """
    found = re.fullmatch(r"\s*([+-]?[\d.,]+)\s*(\D.*)?", text)
    meant = (unit(found[2]) if found[2] else usual) if found else None
    if found is None or meant is None:
        raise UsageError(
            phrase("'%(text)s' is not an amount with a unit.", text=text), fix="Write it like '2.5 dm2' or '1 pair'."
        )
    return meant.of(number(found[1]))


def measured(text: str) -> tuple[Quantity, Quantity | None]:
    """Read what came: '183 dm2', or '183 dm2/6.2 kg' where the price is by weight."""
    much, _, weighed = text.partition("/")
    return amount(much, None), amount(weighed, None) if weighed.strip() else None


def iso(text: str, order: str | None = None) -> str:
    """Bring a day as people write it into ISO form; others stay.

    Whoever writes dots, '2.12.2026', puts the day first; with strokes, '2/12/2026', it is as the country writes it,
    where its `order` of day, month and year is known to be 'dmy' or 'mdy'.
    """
    plainly = _DOTTED_DAY.sub(lambda found: f"{found[3]}-{found[2]:0>2}-{found[1]:0>2}", text.strip(), count=1)
    found = _STROKED_DAY.match(plainly)
    if found is None or order not in ("dmy", "mdy"):
        return plainly
    day, month = (found[1], found[2]) if order == "dmy" else (found[2], found[1])
    return f"{found[3]}-{month:0>2}-{day:0>2}{plainly[found.end() :]}"
