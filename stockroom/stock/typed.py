"""What people type: numbers and amounts, with a decimal point or comma."""

import re
from decimal import Decimal

from stockroom.errors import UsageError
from stockroom.stock.quantities import Quantity, Unit, unit


def number(text: str) -> Decimal:
    """Read a number with a decimal point or comma; one that could be thousands is refused."""
    plainly = text.strip().replace(",", ".")
    if not re.fullmatch(r"[+-]?\d{1,18}(\.\d{1,18})?", plainly, re.ASCII):
        raise UsageError(f"'{text}' is not a number.", fix="Write it like 12.5 (no thousands marks).")
    if re.fullmatch(r"[+-]?[1-9]\d{0,2}\.\d{3}", plainly):
        whole, parts = plainly.split(".")
        raise UsageError(
            f"'{text}' could be {whole}{parts} or {whole} and a fraction.",
            fix=f"Write {whole}{parts}, or {whole}.{parts}0.",
        )
    return Decimal(plainly)


def amount(text: str, usual: Unit | None) -> Quantity:
    """Read '2.5 dm2', '3 pairs', or a bare number in the material's own unit where one is given."""
    found = re.fullmatch(r"\s*([+-]?[\d.,]+)\s*(\D.*)?", text)
    meant = (unit(found[2]) if found[2] else usual) if found else None
    if found is None or meant is None:
        raise UsageError(f"'{text}' is not an amount with a unit.", fix="Write it like '2.5 dm2' or '1 pair'.")
    return meant.of(number(found[1]))
