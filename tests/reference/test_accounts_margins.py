"""Margins and the lower of cost and net realisable value against published figures."""

from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction

import pytest

from stockroom.margins.income import JobLine, grouped
from stockroom.margins.valuation import Policy, valuation, write_downs
from stockroom.stock.layers import replay
from stockroom.stock.materials import Material, Purpose
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.stock.quantities import NANO, UNITS
from stockroom.stock.shop import Shop
from stockroom.stock.tax import tax_rules


def share(net: int, cost: int) -> Fraction | None:
    line = JobLine(
        ticket="1", job="J", day=date(2026, 1, 1), count=1, redo=False, size="", chosen="", net=net, tax=0,
        uses={"X": (1, cost * 1000)},
    )  # fmt: skip
    return grouped([line], "job", floor=Shop().margin_floor)[0].share


@pytest.mark.parametrize(
    ("mark_up", "margin"),
    [(25, 20), (33, 25), (40, 28.57), (50, 33), (75, 43), (100, 50), (150, 60), (200, 67), (300, 75)],
)
def test_mark_up_gives_the_margin_of_the_chart(mark_up: int, margin: float) -> None:
    """Source: mark-up chart at brrinc.org (whole per cents; it prints 28 for 28.57; its 33 stands for 33 1/3)."""
    exact = Fraction(100, 3) if mark_up == 33 else Fraction(mark_up)
    found = share(round(30000 * (100 + exact)), 3000000)
    assert found is not None
    assert float(found * 100) == pytest.approx(margin, abs=0.5)


def test_worked_margins() -> None:
    """Source: calcreal.com: cost 3.00 marked up by half gives 4.50 and 33 %; cost 40 at 50 % gives 60 and 33.33 %."""
    assert share(450, 300) == share(6000, 4000) == Fraction(1, 3)


@pytest.mark.parametrize(("price", "costs_to_sell", "carried"), [(12, 1, 10), (10, 1, 9), (8, 0, 8)])
def test_stock_is_carried_at_the_lower_of_cost_and_price_less_costs(
    price: int, costs_to_sell: int, carried: int
) -> None:
    """Source: IAS 2.9 and 2.6, FRS 102 13.4 (stillmindpractice.com; mercia-group.co.uk). Own figures; cost is 10."""
    goods = Material(
        code="X", name="X", family="care", unit=UNITS["piece"], purpose=Purpose.COUNTER, sell_price=price * 100
    )
    day = datetime(2026, 1, 31)
    move = Move(material="X", nano=NANO, kind=MoveKind.DELIVERY, happened=day, value=1_000_000)
    document = Document(kind=DocumentKind.DELIVERY, key="1", happened=day, entered=day, moves=(move,), id=1)
    costing = replay([document], {"X": goods})
    valued = valuation(costing, day.date(), {"X": goods})
    rules = tax_rules(Shop(tax_registered=False), {})
    policy = Policy(selling_cost=Decimal(100 * costs_to_sell) / price)
    found = write_downs(valued, costing.entries, day.date(), rules, policy)
    assert 1_000_000 - sum(each.suggested for each in found) == carried * 100_000
