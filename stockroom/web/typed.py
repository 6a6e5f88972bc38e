"""What people type into fields: numbers, amounts, money and days, with a point or a comma."""

import re
from datetime import date
from decimal import Decimal

from flask import request

from stockroom.errors import UsageError
from stockroom.intake.cells import marks_of
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.show.languages import LANGUAGES
from stockroom.stock.money import minor
from stockroom.stock.shop import Shop
from stockroom.stock.typed import amount as amount  # noqa: PLC0414 -- offered on
from stockroom.stock.typed import day_ahead as said_day
from stockroom.stock.typed import iso
from stockroom.stock.typed import number as number  # noqa: PLC0414 -- as above
from stockroom.web.site import formats
from stockroom.web.site import shop as settings

_FIGURE = re.compile(r"(?<![\w.,])\d+[.,]\d+(?![\w.,])")


def field(name: str) -> str:
    """Read a field of the form, trimmed."""
    return request.form.get(name, "").strip()


def rows(*names: str) -> list[tuple[str, ...]]:
    """Read the rows of a form that repeats its fields, trimmed.

    Raises
    ------
    UsageError
        If its fields are not repeated equally often.
    """
    columns = [request.form.getlist(name) for name in names]
    if len({len(column) for column in columns}) > 1:
        raise UsageError("The rows of the form don't fit together.", fix="Open the page again and repeat the entry.")
    return [tuple(each.strip() for each in row) for row in zip(*columns, strict=True)]


def whole(text: str, what: str) -> int:
    """Read a whole number.

    Raises
    ------
    UsageError
        If it is none.
    """
    if not re.fullmatch(r"\d{1,6}", text.strip(), re.ASCII):
        raise UsageError(
            phrase("'%(text)s' is not a whole number of %(what)s.", text=text, what=what),
            fix="Write it in figures, such as 2.",
        )
    return int(text)


def money(text: str, shop: Shop) -> int:
    """Read money in major units into minor units, with or without the currency's sign."""
    plainly = text.replace(shop.currency, "")
    for tongue in LANGUAGES:  # whatever sign a reader sees for it
        plainly = plainly.replace(formats_of(shop).for_reader(tongue).facts.symbols.get(shop.currency, ""), "")
    return minor(number(re.sub(r"\s", "", plainly)), shop.currency_digits)


def day(text: str) -> date | None:
    """Read a day in ISO form, as date fields send it, or as the country writes it; nothing is no day.

    Raises
    ------
    UsageError
        If it is neither.
    """
    if not text:
        return None
    try:
        return date.fromisoformat(iso(text, marks_of(settings().locale).order) if "/" in text else iso(text))
    except ValueError as wrong:
        raise UsageError(phrase("'%(text)s' is not a day.", text=text), fix="Write it like 2026-03-31.") from wrong


def day_ahead(text: str, today: date) -> date | None:
    """Read a day still to come, in words too ('tomorrow', 'freitag') or without its year; nothing is no day.

    Raises
    ------
    UsageError
        If it is neither.
    """
    return said_day(text, today, marks_of(settings().locale).order if "/" in text else None) if text else None


def shown(number: Decimal) -> str:
    """Write a number for a field with the reader's decimal mark and no others, so that `number` reads the same.

    What could be thousands, 1.125, says one nought more.
    """
    plainly = f"{number:f}"
    padded = f"{plainly}0" if re.fullmatch(r"[+-]?[1-9]\d{0,2}\.\d{3}", plainly) else plainly
    return padded.replace(".", "," if formats().facts.decimal == "," else ".")


def figures(text: str) -> str:
    """Write the figures in a text that programs wrote as the reader types them: '12.5 m' as '12,5 m'."""
    return re.sub(r"(?<![\w.,])\d+\.\d+(?![\w.,])", lambda found: shown(Decimal(found[0])), text)


def marked(text: str, mark: str = ".") -> str:
    """Write the figures in a text that was typed with a mark for decimals; the rest of it stays.

    Raises
    ------
    UsageError
        If one of them could be thousands.
    """
    return _FIGURE.sub(lambda found: f"{number(found[0]):f}".replace(".", mark), text)


def inside(address: str) -> str:
    """Give an address back if it is a path of our own, else nothing: never another site."""
    ours = address.startswith("/") and not address.startswith(("//", "/\\")) and address.isprintable()
    return address if ours else ""
