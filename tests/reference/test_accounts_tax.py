"""Value added tax against published figures."""

from decimal import Decimal
from fractions import Fraction

import pytest

from stockroom.stock.tax import from_gross, from_net


def test_tax_added_to_a_net_price() -> None:
    """Source: www.hmrc.gov.uk/vat/forms-rates/rates/calculating.htm (archived): 100 gives 20 and 120; at 5 % 5, 105."""
    at_20, at_5 = from_net(10000, Decimal(20)), from_net(10000, Decimal(5))
    assert (at_20.tax, at_20.gross) == (2000, 12000)
    assert (at_5.tax, at_5.gross) == (500, 10500)


@pytest.mark.parametrize(
    ("gross", "rate", "tax", "fraction"),
    [
        (12000, "20", 2000, Fraction(1, 6)),
        (8000, "5", 381, Fraction(1, 21)),
        (11750, "17.5", 1750, Fraction(7, 47)),
        (11500, "15", 1500, Fraction(3, 23)),
    ],
)
def test_tax_taken_out_of_a_gross_price(gross: int, rate: str, tax: int, fraction: Fraction) -> None:
    """Source: the tax fractions 1/6, 1/21, 7/47 and 3/23 as printed at rossmartin.co.uk and itsrelative.co.uk."""
    assert Fraction(rate) / (100 + Fraction(rate)) == fraction
    assert from_gross(gross, Decimal(rate)).tax == tax


def test_lines_are_rounded_half_up_not_the_invoice_rounded_down() -> None:
    """Source: HMRC VATREC12010: rounding an invoice's total down is for invoice traders (a shop is a retailer).

    Own figures: three lines of 1.03 at 20 % give 0.63 line by line; the invoice rule would give 0.61.
    """
    assert sum(from_net(103, Decimal(20)).tax for _ in range(3)) == 63


@pytest.mark.parametrize(
    ("net", "rate", "tax"), [(5, "10", 1), (25, "10", 3), (15, "10", 2), (50, "21", 11), (250, "5", 13)]
)
def test_exactly_half_a_coin_of_tax_is_rounded_away_from_nothing(net: int, rate: str, tax: int) -> None:
    """Common practice, no source: halves up, as the workbook's notes say; a credit is the mirror of its invoice.

    Own figures, exact by construction. Half to even would give 0, 2, 2, 10 and 12.
    """
    assert from_net(net, Decimal(rate)).tax == tax
    assert from_net(-net, Decimal(rate)).tax == -tax


@pytest.mark.parametrize(
    ("gross", "rate", "tax"), [(3, "20", 1), (15, "20", 3), (27, "20", 5), (1, "100", 1), (5, "100", 3)]
)
def test_exactly_half_a_coin_in_a_gross_price_goes_to_the_tax(gross: int, rate: str, tax: int) -> None:
    """Source: the fraction 1/6 at 20 % as above; halves as above."""
    taken = from_gross(gross, Decimal(rate))
    assert (taken.tax, taken.net) == (tax, gross - tax)
    assert from_gross(-gross, Decimal(rate)).tax == -tax
