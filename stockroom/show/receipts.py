"""Receipts for customers: as text, as a page to print, and for programs."""

from collections.abc import Iterable
from decimal import Decimal
from html import escape
from typing import Any

from stockroom.phrases import phrase
from stockroom.show.formats import Formats
from stockroom.stock.money import major
from stockroom.stock.receipts import Receipt, ReceiptLine
from stockroom.stock.shop import Shop

_WIDTH = 42  # marks across: what a narrow printer holds
_STYLE = "body{font:14px/1.4 monospace;max-width:24rem;margin:2rem auto}pre{white-space:pre-wrap}"


def receipt_text(receipt: Receipt, formats: Formats) -> str:
    """Write a receipt as text, narrow enough for any printer."""
    return "\n".join(_rows(receipt, formats))


def receipt_html(receipt: Receipt, formats: Formats) -> str:
    """Write a receipt as a page of its own, to print."""
    body = escape(receipt_text(receipt, formats))
    title = escape(formats.say(phrase("Receipt %(number)s", number=receipt.number)))
    return (
        f'<!doctype html>\n<html lang="{formats.language}">\n<head><meta charset="utf-8"><title>{title}</title>'
        f"<style>{_STYLE}</style></head>\n<body><pre>{body}</pre></body>\n</html>\n"
    )


def receipt_facts(receipt: Receipt, shop: Shop) -> dict[str, Any]:
    """Give a receipt to a program."""

    def money(minor: int) -> str:
        return str(major(minor, shop.currency_digits))

    return {
        "receipt": receipt.number,
        "happened": receipt.happened.isoformat(),
        "ticket": receipt.about or None,
        "lines": [{"what": line.what, "paid": money(line.taxed.gross)} for line in receipt.lines],
        "discount": money(receipt.discount),
        "total": money(receipt.total),
        "taxes": [{"per_cent": str(rate), "net": money(net), "tax": money(tax)} for rate, net, tax in receipt.taxes],
        "registered": shop.tax_registered,
    }


def _rows(receipt: Receipt, formats: Formats) -> Iterable[str]:
    shop, say = receipt.shop, formats.say
    yield shop.name
    yield from filter(None, (part.strip() for part in shop.receipt_heading.split(";")))
    yield ""
    yield _apart(say(phrase("Receipt %(number)s", number=receipt.number)), formats.moment(receipt.happened))
    if receipt.about:
        yield say(phrase("Ticket %(number)s", number=receipt.about))
    yield "-" * _WIDTH
    for line in receipt.lines:
        yield _apart(_what(line, formats), formats.money(line.taxed.gross))
    yield "-" * _WIDTH
    if receipt.discount:
        yield _apart(say(phrase("Discount, taken off above")), formats.money(receipt.discount))
    yield _apart(say(phrase("Paid back" if receipt.total < 0 else "Total")), formats.money(abs(receipt.total)))
    for rate, net, tax in receipt.taxes if shop.tax_registered else ():
        held = phrase("Tax %(rate)s%% in it, on %(net)s", rate=_rate(rate, formats), net=formats.money(net))
        yield _apart(say(held), formats.money(tax))


def _what(line: ReceiptLine, formats: Formats) -> str:
    if line.nano is None or line.unit is None:
        return line.what
    what = f"{line.what}, {formats.say(formats.amount(abs(line.nano), line.unit))}"
    return formats.say(phrase("Back: %(what)s", what=what)) if line.nano < 0 else what


def _rate(rate: Decimal, formats: Formats) -> str:
    return formats.number(rate)


def _apart(left: str, right: str) -> str:
    room = _WIDTH - len(right) - 1
    if len(left) <= room:
        return f"{left}{' ' * (_WIDTH - len(left) - len(right))}{right}"
    return f"{left}\n{right:>{_WIDTH}}"
