"""Cost layers on small stories a reader can check by hand. Prices are per piece in thousandths of a cent x 1000."""

from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest

from stockroom.stock.layers import Cause, Costing, closing, landed, replay
from stockroom.stock.materials import Material
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.stock.quantities import NANO, UNITS

SOLE = Material(code="sole", name="Sole", family="pre-cut soles", unit=UNITS["piece"], usual_cost=4)


def move(kind: MoveKind, pieces: int, *, cost: int | None = None, site: str = "main", ticket: str = "") -> Move:
    value = None if cost is None else cost * 1000
    when = datetime(2026, 1, 1)
    return Move(material="sole", nano=pieces * NANO, kind=kind, happened=when, value=value, site=site, ticket=ticket)


def document(number: int, *moves: Move, kind: DocumentKind = DocumentKind.FINISH, **more: object) -> Document:
    when = datetime(2026, 1, number)
    return Document(kind=kind, key=str(number), happened=when, entered=when, moves=moves, id=number, **more)  # type: ignore[arg-type]


def delivery(number: int, pieces: int, cost: int) -> Document:
    return document(number, move(MoveKind.DELIVERY, pieces, cost=cost), kind=DocumentKind.DELIVERY)


def use(number: int, pieces: int, ticket: str = "T") -> Document:
    return document(number, move(MoveKind.JOB_USE, -pieces, ticket=ticket))


def undo(number: int, original: Document) -> Document:
    moves = [
        Move(material=m.material, nano=-m.nano, kind=m.kind, happened=m.happened, site=m.site, ticket=m.ticket)
        for m in original.moves
    ]
    return document(number, *moves, kind=DocumentKind.REVERSAL, reverses=original.id)


def correction(number: int, of: int, new_cost: int) -> Document:
    content = {"delivery": of, "lines": [{"material": "sole", "new_cost": new_cost}]}
    return document(number, kind=DocumentKind.PRICE_CORRECTION, content=content)


def cost(*documents: Document, method: str = "fifo") -> Costing:
    return replay(documents, {"sole": SOLE}, method=method)


def used(costing: Costing, kind: MoveKind = MoveKind.JOB_USE) -> float:
    return -sum(e.value for e in costing.entries if e.kind is kind) / 1000


def held(costing: Costing, day: date | None = None) -> list[tuple[float, float]]:
    return [(s.nano / NANO, s.value / 1000) for s in closing(costing, day)]


def test_fifo_draws_the_oldest_layer_first() -> None:
    result = cost(delivery(1, 10, 50), delivery(2, 10, 70), use(3, 12))
    assert used(result) == 50 + 14
    assert held(result) == [(8, 56)]


def test_moving_average_mixes_what_arrived() -> None:
    result = cost(delivery(1, 10, 50), delivery(2, 10, 70), use(3, 12), method="average")
    assert used(result) == 72
    assert held(result) == [(8, 48)]


def test_last_draw_of_a_layer_takes_every_thousandth_left() -> None:
    result = cost(delivery(1, 3, 10), use(2, 1), use(3, 1), use(4, 1))
    assert [-e.value for e in result.entries[1:]] == [3333, 3334, 3333]
    assert held(result) == []


def test_use_before_its_delivery_is_provisional_then_trued_up_and_both_show() -> None:
    result = cost(delivery(1, 10, 50), use(2, 14), delivery(3, 10, 70))
    provisional = [e for e in result.entries if e.cause is Cause.PROVISIONAL]
    trued_up = [e for e in result.entries if e.cause is Cause.TRUE_UP]
    assert [(e.nano / NANO, e.value / 1000) for e in provisional] == [(-4, -20)]
    assert sum(e.value for e in trued_up) / 1000 == -8
    assert sum(e.nano for e in trued_up) == 0
    assert {e.booked_on for e in trued_up} == {date(2026, 1, 3)}
    assert {e.move.ticket for e in trued_up} == {"T"}
    assert used(result) == 78


def test_use_of_what_never_had_a_price_takes_the_usual_cost() -> None:
    assert used(cost(use(1, 5))) == 20


def test_day_before_the_delivery_shows_the_provisional_cost() -> None:
    result = cost(use(1, 5), delivery(3, 10, 70))
    assert held(result, date(2026, 1, 2)) == [(-5, -20)]
    assert held(result, date(2026, 1, 3)) == [(5, 35)]


def test_undone_use_goes_back_to_the_layer_it_came_from() -> None:
    first = use(3, 12)
    result = cost(delivery(1, 10, 50), delivery(2, 10, 70), first, undo(4, first), use(5, 10))
    assert held(result) == [(10, 70)]
    assert used(result) == 50


def test_undone_delivery_takes_back_its_whole_cost_though_part_was_used() -> None:
    wrong = delivery(1, 10, 500)
    result = cost(wrong, use(2, 4), undo(3, wrong), delivery(4, 10, 50))
    assert used(result, MoveKind.DELIVERY) == -50  # bought 500, taken back 500, bought 50
    assert used(result) == 20
    assert held(result) == [(6, 30)]


def test_undone_undoing_restores_the_place_in_the_queue() -> None:
    first = delivery(1, 10, 50)
    back = undo(3, first)
    again = document(4, move(MoveKind.DELIVERY, 10, cost=50), kind=DocumentKind.REVERSAL, reverses=3)
    result = cost(first, delivery(2, 10, 70), back, again, use(5, 10))
    assert used(result) == 50


def test_price_correction_goes_to_use_and_to_stock_by_amount() -> None:
    for method in ("fifo", "average"):
        result = cost(delivery(1, 10, 50), use(2, 4), correction(3, 1, 60), method=method)
        assert used(result) == 24
        assert held(result) == [(6, 36)]


def test_average_keeps_its_digits_over_a_thousand_draws() -> None:
    """What is left of an arrival is known as a product of shares: it must neither vanish nor blur."""
    documents = [delivery(1, 10, 50)]
    for _ in range(500):
        documents += [delivery(1, 10, 50), use(1, 10)]
    documents = [_minutes(each, number) for number, each in enumerate(documents, start=1)]
    last = _minutes(delivery(1, 10, 50), 1002)
    of_last, of_first = (_minutes(correction(1, of, 60), 1003) for of in (1002, 1))
    assert held(cost(*documents, last, of_last, method="average")) == [(20, 110)]
    assert held(cost(*documents, last, of_first, method="average")) == [(20, 100)]


def _minutes(document: Document, number: int) -> Document:
    """Let a document happen as many minutes into the day as its number says; a correction is booked the next day."""
    day = date(2026, 1, 2) if document.kind is DocumentKind.PRICE_CORRECTION else None
    return replace(document, id=number, happened=document.happened + timedelta(minutes=number), booked_on=day)


def test_undone_price_correction_leaves_no_trace_in_the_sums() -> None:
    wrong = correction(3, 1, 60)
    result = cost(delivery(1, 10, 50), use(2, 4), wrong, undo(4, wrong))
    assert used(result) == 20
    assert held(result) == [(6, 30)]


def test_return_goes_back_on_the_delivery_it_names_and_a_short_credit_shows_apart() -> None:
    back = document(
        3,
        move(MoveKind.SUPPLIER_RETURN, -2, cost=-10),
        kind=DocumentKind.SUPPLIER_RETURN,
        content={"delivery": 2},
    )
    result = cost(delivery(1, 10, 50), delivery(2, 10, 70), back)
    off = [e.value / 1000 for e in result.entries if e.cause is Cause.DIFFERENCE]
    assert used(result, MoveKind.SUPPLIER_RETURN) == 14
    assert off == [-4]  # credited 10 for what cost 14
    assert held(result) == [(10, 50), (8, 56)]


def test_count_gain_costs_as_the_current_layer() -> None:
    result = cost(delivery(1, 10, 50), document(2, move(MoveKind.COUNT, 2)))
    assert held(result) == [(10, 50), (2, 10)]


def test_count_gain_that_serves_waiting_uses_keeps_their_provisional_cost() -> None:
    result = cost(use(1, 5), document(2, move(MoveKind.COUNT, 6)), delivery(3, 10, 90))
    assert used(result) == 20
    assert held(result) == [(1, 4), (10, 90)]


def test_transfer_carries_cost_and_age_to_the_other_site() -> None:
    carried = document(3, move(MoveKind.TRANSFER, 12, site="annex"), move(MoveKind.TRANSFER, -12))
    result = cost(delivery(1, 10, 50), delivery(2, 10, 70), carried)
    at = {(s.site, s.nano // NANO): (s.value / 1000, s.since) for s in closing(result)}
    assert at == {
        ("main", 8): (56, date(2026, 1, 2)),
        ("annex", 10): (50, date(2026, 1, 1)),
        ("annex", 2): (14, date(2026, 1, 2)),
    }


def test_price_correction_follows_goods_to_the_other_site() -> None:
    carried = document(2, move(MoveKind.TRANSFER, -10), move(MoveKind.TRANSFER, 10, site="annex"))
    annex_use = document(3, move(MoveKind.JOB_USE, -5, site="annex"))
    result = cost(delivery(1, 10, 50), carried, annex_use, correction(4, 1, 60))
    assert used(result) == 30
    assert used(result, MoveKind.TRANSFER) == 0
    assert held(result) == [(5, 30)]


def test_offcut_takes_over_the_cost_of_the_sheet_it_was() -> None:
    kept = Move(material="scrap", nano=3 * NANO, kind=MoveKind.OFFCUT, happened=datetime(2026, 1, 2))
    result = cost(delivery(1, 10, 50), document(2, move(MoveKind.OFFCUT, -4), kept))
    assert [(s.material, s.value / 1000) for s in closing(result)] == [("scrap", 20), ("sole", 30)]
    assert used(result, MoveKind.OFFCUT) == 0


def test_price_correction_leaves_carriage_in_the_cost() -> None:
    lines = [{"material": "sole", "nano": 10 * NANO, "cost": 50}]
    arrived = document(1, move(MoveKind.DELIVERY, 10, cost=55), kind=DocumentKind.DELIVERY, content={"lines": lines})
    assert held(cost(arrived, correction(2, 1, 60))) == [(10, 65)]
    assert held(cost(arrived, correction(2, 1, 60), correction(3, 1, 40))) == [(10, 45)]


def test_lines_that_an_undoing_adds_are_posted_too() -> None:
    first = use(2, 4)
    back = undo(3, first)
    more = document(3, *back.moves, move(MoveKind.COUNT, -1), kind=DocumentKind.REVERSAL, reverses=2)
    result = cost(delivery(1, 10, 50), first, more)
    assert held(result) == [(9, 45)]
    assert used(result, MoveKind.COUNT) == 5


def test_late_documents_leave_a_closed_day_as_it_was() -> None:
    before = [delivery(1, 10, 50), use(2, 14)]
    late = document(3, move(MoveKind.DELIVERY, 10, cost=90), kind=DocumentKind.DELIVERY, booked_on=date(2026, 2, 1))
    closed = date(2026, 1, 31)
    assert closing(cost(*before), closed) == closing(cost(*before, late), closed)


def test_reversal_without_its_original_is_refused() -> None:
    with pytest.raises(ValueError, match="did not come before"):
        cost(undo(2, use(1, 3)))
    with pytest.raises(ValueError, match="doesn't mirror"):
        cost(use(1, 3), document(2, move(MoveKind.JOB_USE, 2), kind=DocumentKind.REVERSAL, reverses=1))


def test_price_correction_of_an_unknown_delivery_is_refused() -> None:
    with pytest.raises(ValueError, match="did not come before"):
        cost(correction(2, 1, 60))


def test_carriage_spreads_by_cost_or_weight_and_loses_nothing() -> None:
    assert landed([1000, 2000], 100) == [1_033_333, 2_066_667]
    assert landed([1000, 2000], 100, [3, 1]) == [1_075_000, 2_025_000]
    assert sum(landed([1, 1, 1], 1)) == 4000
