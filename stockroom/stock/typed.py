"""What people type: numbers and amounts, with a decimal point or comma."""

import re
from decimal import Decimal

from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.stock.quantities import Quantity, Unit, unit


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
    """Read '2.5 dm2', '3 pairs', or a bare number in the material's own unit where one is given."""
    found = re.fullmatch(r"\s*([+-]?[\d.,]+)\s*(\D.*)?", text)
    meant = (unit(found[2]) if found[2] else usual) if found else None
    if found is None or meant is None:
        raise UsageError(
            phrase("'%(text)s' is not an amount with a unit.", text=text), fix="Write it like '2.5 dm2' or '1 pair'."
        )
    return meant.of(number(found[1]))
