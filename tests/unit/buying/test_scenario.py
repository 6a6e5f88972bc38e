from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from stockroom.buying.problem import PackOffer, SupplierTerms
from stockroom.buying.scenario import KnownThen, Outcome, Purchase, Scenario, rehearse


def scenario(days: int = 28) -> Scenario:
    """One job a day that takes one unit; delivery after three days; ten units to begin with."""
    return Scenario(
        needs=np.ones((1, 1)),
        recipe=np.ones((1, 1)),
        tickets=np.ones((days, 1), dtype=np.int64),
        sales=np.zeros((days, 1)),
        waste=np.zeros((days, 1)),
        counted=np.full((days, 1), np.nan),
        opening=np.array([10.0]),
        lead_days=np.full((1, days), 3.0),
        offers=(PackOffer(item=0, supplier=0, pack=7.0, price=14.0),),
        suppliers=(SupplierTerms(name="one", leads=np.zeros(1), carriage=5.0, free_over=20.0),),
        unit_cost=np.array([2.0]),
        shelf_days=np.array([np.inf]),
        lost_margin=np.array([1.5]),
        held_cost=np.array([12.0]),
        held_day_cost=np.array([3.0]),
    )


def nothing(_: KnownThen) -> Sequence[Purchase]:
    return ()


def a_pack_a_week(_: KnownThen) -> Sequence[Purchase]:
    return (Purchase(offer=0, packs=1),)


def test_without_orders_work_stops_when_the_shelf_is_empty() -> None:
    found = rehearse(scenario(), nothing)
    assert (found.tickets, found.held_up) == (28, 18)
    assert found.held_days == sum(range(1, 19))
    assert found.held_cost == 18 * 12 + 3 * sum(range(1, 19))
    assert found.stock_value == pytest.approx(2 * sum(range(10)) / 28)


def test_pieces_are_taken_whole_and_a_tenth_more_is_one_in_ten() -> None:
    """Two and a hundredth of two that are there held up every job."""
    usual = replace(scenario(10), needs=np.full((1, 1), 1.1), opening=np.array([11.0]))
    assert rehearse(usual, nothing).held_up == 0
    nearly = replace(usual, opening=np.array([10.0]))
    assert rehearse(nearly, nothing).held_up == 1, "nine whole ones, and a tenth of a piece is none"
    found = [rehearse(replace(each, whole=np.ones(1, dtype=np.bool_)), nothing) for each in (usual, nearly)]
    assert [each.held_up for each in found] == [0, 1]
    first = replace(nearly, opening=np.array([4.0]), tickets=nearly.tickets[:4])
    assert rehearse(first, nothing).held_up == 1
    assert rehearse(replace(first, whole=np.ones(1, dtype=np.bool_)), nothing).held_up == 0


def test_a_pack_a_week_keeps_up_and_pays_carriage_each_time() -> None:
    found = rehearse(scenario(), a_pack_a_week)
    assert (found.held_up, found.orders, found.carriage) == (0, 4, 20.0)


def test_large_orders_go_carriage_free() -> None:
    found = rehearse(scenario(), lambda known_then: (Purchase(offer=0, packs=2),) if known_then.day % 14 == 0 else ())
    assert (found.orders, found.carriage) == (2, 0.0)


def test_policy_sees_only_what_has_happened() -> None:
    seen: list[KnownThen] = []

    def watch(known_then: KnownThen) -> Sequence[Purchase]:
        seen.append(known_then)
        return (Purchase(offer=0, packs=1),)

    late = replace(scenario(), lead_days=np.full((1, 28), 10.0))
    rehearse(late, watch)
    assert [each.day for each in seen] == [0, 7, 14, 21]
    assert [each.received for each in seen[1].placed] == [None]
    assert [each.received for each in seen[2].placed] == [10, None]


def test_wrong_recipe_drifts_until_a_count_or_an_empty_shelf_sets_it_right() -> None:
    books: list[float] = []

    def watch(known_then: KnownThen) -> Sequence[Purchase]:
        books.append(float(known_then.on_hand[0] - known_then.true_on_hand[0]))
        return (Purchase(offer=0, packs=1),)

    counted = np.full((28, 1), np.nan)
    counted[14] = 1.0
    rehearse(replace(scenario(), recipe=np.full((1, 1), 0.8), counted=counted), watch)
    assert books == pytest.approx([0.0, 1.4, 0.0, 1.4])


def test_what_is_too_old_is_thrown_away() -> None:
    found = rehearse(replace(scenario(), shelf_days=np.array([4.0])), nothing)
    assert found.expired == pytest.approx(2.0 * 6)
    assert found.held_up == 24


def test_lost_sales_cost_their_margin() -> None:
    sales = np.zeros((28, 1))
    sales[20] = 4.0
    found = rehearse(replace(scenario(), sales=sales), nothing)
    assert found.lost_margin == 6.0


def test_sums_start_on_their_day_and_scale_to_a_year() -> None:
    found = rehearse(replace(scenario(), from_day=14), a_pack_a_week)
    assert (found.days, found.tickets, found.orders) == (14, 14, 2)
    assert found.annual_cost == pytest.approx(10.0 * 365 / 14 + 0.2 * found.stock_value)


def test_outcome_is_the_same_each_time() -> None:
    results: list[Outcome] = [rehearse(scenario(), a_pack_a_week) for _ in range(2)]
    assert results[0] == results[1]


def test_counts_and_what_moved_since_are_the_books_own_and_nothing_more() -> None:
    """Whoever is told the counts can keep the book himself: last read, plus what moved, less jobs by the card."""
    rng = np.random.default_rng(4)
    shop = scenario(70)
    counted = np.where(rng.random((70, 1)) < 0.1, rng.lognormal(0, 0.05, (70, 1)), np.nan)
    sales = np.where(rng.random((70, 1)) < 0.2, 1.0, 0.0)
    waste = np.where(rng.random((70, 1)) < 0.1, 0.5, 0.0)
    card = np.full((1, 1), 0.8)
    seen: list[KnownThen] = []

    def watch(known_then: KnownThen) -> Sequence[Purchase]:
        seen.append(known_then)
        return (Purchase(offer=0, packs=1),)

    rehearse(replace(shop, recipe=card, counted=counted, sales=sales, waste=waste, shelf_days=np.array([20.0])), watch)
    assert {each.exact for each in seen[-1].seen} == {True, False}, "counted, and found missing"
    for then in seen:
        last = then.seen[-1] if then.seen else None
        read, finished, moved = (last.read, last.finished, last.moved) if last else (10.0, np.zeros(1), 0.0)
        book = read + then.moved[0] - moved - ((then.finished - finished) @ card)[0]
        assert then.on_hand[0] == pytest.approx(max(book, 0.0))
        assert all(each.day <= then.day for each in then.seen)
        assert last is None or last.day == then.counted_on[0]
    assert [each.seen for each in seen] == [seen[-1].seen[: len(each.seen)] for each in seen], "none is told anew"
