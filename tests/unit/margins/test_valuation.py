from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from stockroom.margins.valuation import Policy, Valued, Why, WriteDown, valuation, write_downs
from stockroom.stock.layers import replay
from stockroom.stock.moves import Document, DocumentKind, MoveKind
from stockroom.stock.shop import Shop
from stockroom.stock.tax import tax_rules
from tests.unit.margins.book import MATERIALS, Pen, line

JAN = datetime(2026, 1, 10)
RULES = tax_rules(Shop(), {})


def valued(pen: Pen, day: date) -> list[Valued]:
    return valuation(replay(pen.documents, MATERIALS), day, MATERIALS, {"HEEL": date(2026, 1, 5)})


def judged(pen: Pen, day: date, policy: Policy | None = None) -> list[WriteDown]:
    return write_downs(valued(pen, day), replay(pen.documents, MATERIALS).entries, day, RULES, policy)


def test_layers_come_oldest_first_with_what_is_known_of_the_material() -> None:
    pen = Pen()
    pen.deliver(JAN, [("HEEL", 10, 900)])
    pen.deliver(JAN + timedelta(days=9), [("HEEL", 10, 1000)])
    pen.finish(JAN + timedelta(days=11), "T1", "HEELS")
    (_, heel) = valued(pen, date(2026, 1, 31))
    assert [layer.value for layer in heel.layers] == [810_000, 1_000_000]
    assert (heel.last_counted, heel.last_used) == (date(2026, 1, 5), date(2026, 1, 21))


def test_cement_used_before_its_delivery_shows_as_waiting() -> None:
    pen = Pen()
    pen.finish(JAN, "T1", "HEELS")
    cement = next(v for v in valued(pen, date(2026, 1, 31)) if v.material.code == "GLUE")
    assert (cement.value, cement.waiting) == (-4_000, -4_000)


def test_what_is_past_its_date_is_worth_nothing() -> None:
    pen = Pen()
    for day, expiry in ((1, date(2026, 6, 30)), (2, date(2027, 6, 30))):
        tin = line("GLUE", 1000, MoveKind.DELIVERY, value=1_000_000)
        pen.write(DocumentKind.DELIVERY, datetime(2026, 1, day), [tin])
        pen.documents[-1] = _expiring(pen.documents[-1], expiry)
    pen.write(DocumentKind.WASTE, JAN, [line("GLUE", -300, MoveKind.WASTE)])
    (found,) = judged(pen, date(2026, 7, 1))
    assert found.why is Why.EXPIRED
    assert found.nano == 700 * 10**9  # the oldest is used first: 300 of the 1000 that have passed are gone
    assert found.suggested == found.cost == 700_000
    assert found.since == date(2026, 6, 30)


def test_idle_bench_stock_is_halved_by_default_and_by_the_owners_figure_else() -> None:
    pen = Pen()
    pen.deliver(JAN, [("HEEL", 10, 900)])
    assert not judged(pen, date(2026, 12, 31))
    (found,) = judged(pen, date(2027, 1, 11))
    assert (found.why, found.suggested) == (Why.IDLE, 450_000)
    (harsh,) = judged(pen, date(2027, 1, 11), Policy(idle_keeps=Decimal(0)))
    assert harsh.suggested == 900_000


def test_goods_that_sell_under_cost_come_down_to_their_net_price() -> None:
    pen = Pen()
    pen.deliver(JAN, [("WAX", 10, 6000)])  # 6.00 each; the tag says 5.90 with 21 % tax in it
    (found,) = judged(pen, date(2026, 2, 1), Policy(selling_cost=Decimal(10)))
    assert found.why is Why.UNDER_COST
    assert found.realisable == 10 * 488_000 * 9 // 10


def test_bench_material_is_not_judged_by_a_price_tag() -> None:
    pen = Pen()
    pen.deliver(JAN, [("HEEL", 10, 60000)])
    assert not judged(pen, date(2026, 2, 1))


def _expiring(document: Document, expiry: date) -> Document:
    return replace(document, moves=tuple(move._replace(expiry=expiry) for move in document.moves))
