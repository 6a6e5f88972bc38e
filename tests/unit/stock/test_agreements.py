from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.stock.agreements import StandingOrder, Substitute, stands
from stockroom.stock.calendar import Closure, closures_of
from stockroom.stock.suppliers import announced, current
from tests import build

SHELF = {m.code: m for m in [build.material("A", "pair"), build.material("B", "pair"), build.material("C", "dm2")]}
MONTHLY = StandingOrder(supplier="NORTH", material="A", packs=2, weeks=4, first=date(2026, 1, 5))


def test_what_hangs_together_by_substitutes_is_counted_as_one() -> None:
    pairs = [
        Substitute(material="A", other="B", does=Fraction(1, 2)),
        Substitute(material="B", other="C", does=Fraction(1, 3)),
    ]
    found = stands(pairs, SHELF)
    assert {code: each.main for code, each in found.items()} == {"A": "A", "B": "A", "C": "A"}
    assert found["B"].does == Fraction(1, 2)
    # six dm2 do the work of two pairs of B, and these that of one pair of A; nano of a dm2 and of a pair alike
    assert found["C"].does * SHELF["C"].unit.nano / SHELF["A"].unit.nano == Fraction(1, 6)


@given(does=st.fractions(Fraction(1, 100), 100))
def test_a_pair_turned_round_says_the_same(does: Fraction) -> None:
    there = stands([Substitute(material="A", other="B", does=does)], SHELF)
    turned = stands([Substitute(material="B", other="A", does=1 / does)], SHELF)
    assert there == turned


def test_materials_nobody_knows_are_left_out() -> None:
    assert stands([Substitute(material="A", other="GONE")], SHELF) == {}


@given(weeks=st.integers(1, 60), since=st.integers(-400, 400), long=st.integers(0, 400))
def test_a_standing_order_comes_every_so_many_weeks(weeks: int, since: int, long: int) -> None:
    order = replace(MONTHLY, weeks=weeks, last=date(2026, 12, 31))
    first = order.first + timedelta(days=since)
    found = order.days(first, first + timedelta(days=long))
    every = {order.first + timedelta(weeks=weeks * n) for n in range(400)}
    assert found == sorted(d for d in every if first <= d <= first + timedelta(days=long) and d <= date(2026, 12, 31))


def test_a_closure_of_every_year_is_known_two_years_ahead() -> None:
    summer = Closure(first=date(2024, 2, 29), last=date(2024, 3, 5), who="TAN", yearly=True)
    once = replace(summer, yearly=False)
    found = closures_of("TAN", [summer], date(2026, 6, 1))
    assert [each.first for each in found] == [
        date(2024, 2, 29),
        *(date(y, 2, 28) for y in (2025, 2026, 2027)),
        date(2028, 2, 29),
    ]
    assert all((each.last - each.first).days <= 6 for each in found)
    assert closures_of("TAN", [once], date(2026, 6, 1)) == (once,)


@pytest.mark.parametrize(("packs", "sold"), [(1, False), (2, False), (3, False), (4, True), (6, True), (7, False)])
def test_packs_are_sold_in_multiples_and_not_below_the_fewest(packs: int, *, sold: bool) -> None:
    offer = replace(build.offers()[0], minimum_packs=3, multiple=2)
    assert (offer.sold(packs), offer.fewest_packs) == (sold, 4)


def test_a_pack_sold_by_weight_weighs_what_is_in_it() -> None:
    by_code = {offer.material: offer for offer in build.offers()}
    assert by_code["FILLER"].weight_nano == build.amount("1 kg").nano
    assert by_code["BEND"].weight_nano == build.amount("6.5 kg").nano
    assert by_code["TIP"].weight_nano == 0
    assert replace(by_code["FILLER"], pack_weight=build.amount("1.1 kg")).weight_nano == build.amount("1.1 kg").nano


def test_an_announced_price_is_the_next_of_what_is_offered_now() -> None:
    now = replace(build.offers()[0], valid_from=date(2026, 1, 1))
    then, later = (replace(now, price=now.price + n, valid_from=date(2026, 6 + n, 1)) for n in (1, 2))
    fresh = replace(now, supplier_code="NEW", valid_from=date(2026, 9, 1))
    day = date(2026, 3, 1)
    assert current([later, then, fresh, now], day) == [now]
    assert announced([later, then, fresh, now], day) == [then]
    assert announced([now], day) == []
