"""What people type into fields: numbers, amounts, money and days, with a point or a comma."""

import re
from datetime import date
from decimal import Decimal

from flask import request

from stockroom.errors import UsageError
from stockroom.show.formats import formats_of
from stockroom.stock.money import minor
from stockroom.stock.quantities import Quantity, Unit, unit
from stockroom.stock.shop import Shop


def field(name: str) -> str:
    """Read a field of the form, trimmed."""
    return request.form.get(name, "").strip()


def rows(*names: str) -> list[tuple[str, ...]]:
    """Read the rows of a form that repeats its fields, trimmed."""
    columns = [request.form.getlist(name) for name in names]
    if len({len(column) for column in columns}) > 1:
        raise UsageError("The rows of the form don't fit together.", fix="Open the page again and repeat the entry.")
    return [tuple(each.strip() for each in row) for row in zip(*columns, strict=True)]


def number(text: str) -> Decimal:
    """Read a number with a decimal point or comma; one that could be thousands is refused."""
    plainly = text.strip().replace(",", ".")
    if not re.fullmatch(r"[+-]?\d{1,12}(\.\d{1,12})?", plainly, re.ASCII):
        raise UsageError(f"'{text}' is not a number.", fix="Write it like 12.5 (no thousands marks).")
    if re.fullmatch(r"[+-]?[1-9]\d{0,2}\.\d{3}", plainly):
        whole, parts = plainly.split(".")
        raise UsageError(
            f"'{text}' could be {whole}{parts} or {whole} and a fraction.",
            fix=f"Write {whole}{parts}, or {whole}.{parts}0.",
        )
    return Decimal(plainly)


def whole(text: str, what: str) -> int:
    """Read a whole number."""
    if not re.fullmatch(r"\d{1,6}", text.strip(), re.ASCII):
        raise UsageError(f"'{text}' is not a whole number of {what}.", fix="Write it in figures, such as 2.")
    return int(text)


def amount(text: str, usual: Unit | None) -> Quantity:
    """Read '2.5 dm2', '3 pairs', or a bare number in the material's own unit."""
    found = re.fullmatch(r"\s*([+-]?[\d.,]+)\s*(\D.*)?", text)
    if not found or (usual is None and not found[2]):
        raise UsageError(f"'{text}' is not an amount.", fix="Write it like '2.5 dm2' or '1 pair'.")
    meant = unit(found[2]) if found[2] else usual
    assert meant is not None  # noqa: S101 -- one of the two was given
    return meant.of(number(found[1]))


def money(text: str, shop: Shop) -> int:
    """Read money in major units into minor units, with or without the currency's sign."""
    plainly = text.replace(shop.currency, "").replace(formats_of(shop).facts.symbols.get(shop.currency, ""), "")
    return minor(number(re.sub(r"\s", "", plainly)), shop.currency_digits)


def day(text: str) -> date | None:
    """Read a day in ISO form, as date fields send it; nothing is no day."""
    if not text:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError as wrong:
        raise UsageError(f"'{text}' is not a day.", fix="Write it like 2026-03-31.") from wrong
