"""Tax on sales and purchases: net, tax and gross of a line, at the rate of its day and item."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import cache

from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.stock.shop import Shop

ROUNDING = (
    "Tax is worked out line by line and rounded to the nearest whole coin, halves up. "
    "It is never rounded down as a habit: that concession is for traders who send invoices, not for shops."
)
CAUTION = (
    "Tax rules differ by country and change. These figures are a worksheet, not a return: "
    "your accountant decides what is due and what can be reclaimed."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rate:
    """A tax rate in force from a day, for one item or (empty) for all that have none of their own."""

    per_cent: Decimal
    valid_from: date = date.min
    item: str = ""  # a material's or a job's code


@dataclass(frozen=True, slots=True, kw_only=True)
class Taxed:
    """A line of money in its three figures, in minor units."""

    net: int
    tax: int
    gross: int
    per_cent: Decimal


@dataclass(frozen=True, slots=True, kw_only=True)
class TaxRules:
    """How the shop stands to tax, and every rate it has known."""

    registered: bool = True
    prices_include_tax: bool = True
    rates: tuple[Rate, ...] = ()
    own: Mapping[str, str] = field(default_factory=dict)  # an item's own rate as stated, undated
    found: dict[tuple[str, date], Decimal] = field(default_factory=dict, init=False, repr=False, compare=False)

    def rate(self, item: str, day: date) -> Decimal:
        """Find the rate of an item on a day: its newest dated rate, else its own, else the shop's newest."""
        known = self.found.get((item, day))
        if known is None:
            known = self.found[item, day] = self._rate(item, day)
        return known

    def _rate(self, item: str, day: date) -> Decimal:
        dated = self._newest(item, day)
        if dated is not None:
            return dated
        stated = self.own.get(item, "")
        return per_cent(stated) if stated else self._newest("", day) or Decimal(0)

    def sale(self, amount: int, item: str, day: date) -> Taxed:
        """Part a price as charged; without registration nothing in it is tax."""
        rate = self.rate(item, day) if self.registered else Decimal(0)
        return from_gross(amount, rate) if self.prices_include_tax else from_net(amount, rate)

    def _newest(self, item: str, day: date) -> Decimal | None:
        known = [rate for rate in self.rates if rate.item == item and rate.valid_from <= day]
        return max(known, key=lambda rate: rate.valid_from).per_cent if known else None


def tax_rules(shop: Shop, own: Mapping[str, str], dated: tuple[Rate, ...] = ()) -> TaxRules:
    """Gather the rules: the shop's usual rate, what items state of their own, and rates by date where given."""
    usual = Rate(per_cent=shop.tax_rate)
    return TaxRules(
        registered=shop.tax_registered,
        prices_include_tax=shop.prices_include_tax,
        rates=(usual, *dated),
        own=own,
    )


def from_gross(gross: int, rate: Decimal) -> Taxed:
    """Take the tax out of a price that includes it.

    Notes
    -----
    Tax = gross x rate / (100 + rate), the 'fraction' of tax-inclusive prices (1/6 at 20 %), halves up.
    """
    share = _exact(rate)
    tax = quotient(gross * share.numerator, 100 * share.denominator + share.numerator)
    return Taxed(net=gross - tax, tax=tax, gross=gross, per_cent=rate)


def from_net(net: int, rate: Decimal) -> Taxed:
    """Add tax to a price without it, halves up."""
    share = _exact(rate)
    tax = quotient(net * share.numerator, 100 * share.denominator)
    return Taxed(net=net, tax=tax, gross=net + tax, per_cent=rate)


def quotient(part: int, whole: int) -> int:
    """Divide by a number above zero and round to a whole one, halves away from zero: every line of a year runs it."""
    rounded = (2 * abs(part) + whole) // (2 * whole)
    return -rounded if part < 0 else rounded


@cache
def _exact(rate: Decimal) -> Fraction:
    return Fraction(rate)


def per_cent(text: str) -> Decimal:
    """Read a rate such as '21' or '13.5 %'.

    Raises
    ------
    UsageError
        If it is no rate from 0 to 100.
    """
    try:
        rate = Decimal(text.strip().removesuffix("%").strip().replace(",", "."))
    except InvalidOperation:
        rate = Decimal(-1)
    if not (rate.is_finite() and 0 <= rate <= 100):  # noqa: PLR2004 -- per cent
        raise UsageError(
            phrase("'%(text)s' is not a tax rate.", text=text), fix="Write it in per cent, from 0 to 100, such as '21'."
        )
    return rate
