from datetime import date
from decimal import Decimal

import pytest

from stockroom.errors import UsageError
from stockroom.stock.shop import Shop
from stockroom.stock.tax import Rate, TaxRules, from_gross, from_net, per_cent, tax_rules

TODAY = date(2026, 5, 1)


def test_rate_of_the_day_is_the_newest_in_force() -> None:
    rules = TaxRules(
        rates=(
            Rate(per_cent=Decimal(20)),
            Rate(per_cent=Decimal(21), valid_from=date(2026, 1, 1)),
            Rate(per_cent=Decimal(9), valid_from=date(2026, 6, 1), item="laces"),
        ),
        own={"heel": "13.5", "laces": "5"},
    )
    assert rules.rate("sole", date(2025, 12, 31)) == 20
    assert rules.rate("sole", TODAY) == 21
    assert rules.rate("heel", TODAY) == Decimal("13.5")
    assert rules.rate("laces", TODAY) == 5
    assert rules.rate("laces", date(2026, 6, 1)) == 9


def test_price_tag_may_include_tax_or_not() -> None:
    with_tax = tax_rules(Shop(), {}).sale(1210, "sole", TODAY)
    without = tax_rules(Shop(prices_include_tax=False), {}).sale(1000, "sole", TODAY)
    assert (with_tax.net, with_tax.tax, with_tax.gross) == (1000, 210, 1210)
    assert (without.net, without.tax, without.gross) == (1000, 210, 1210)


def test_shop_that_is_not_registered_charges_no_tax() -> None:
    line = tax_rules(Shop(tax_registered=False), {}).sale(1210, "sole", TODAY)
    assert (line.net, line.tax, line.gross) == (1210, 0, 1210)


def test_refund_mirrors_its_sale() -> None:
    assert from_gross(-1210, Decimal(21)).net == -from_gross(1210, Decimal(21)).net
    assert from_net(-33, Decimal(21)).tax == -from_net(33, Decimal(21)).tax


@pytest.mark.parametrize("text", ["", "x", "-1", "101", "NaN"])
def test_rate_that_is_none_is_refused(text: str) -> None:
    with pytest.raises(UsageError, match="is not a tax rate"):
        per_cent(text)
