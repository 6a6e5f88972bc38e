"""Which lots are left on a shelf, and what looking ahead over them means."""

from dataclasses import replace
from datetime import date, timedelta
from random import Random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.buying.problem import OnTheWay, OrderItem, OrderProblem
from stockroom.buying.problem import ShelfLot as Part
from stockroom.buying.risk import Booked, held_up, runouts
from stockroom.buying.shelf_futures import futures
from stockroom.stock.lots import Lot, LotMove, lots_left

DAY = date(2026, 11, 2)


def _move(day: int, nano: int, expiry: int | None = None, *, used: bool = False) -> LotMove:
    until = None if expiry is None else DAY + timedelta(days=expiry)
    return LotMove(day=DAY + timedelta(days=day), nano=nano, expiry=until, used=used)


def _lots(*lots: tuple[int, int | None]) -> tuple[Lot, ...]:
    return tuple(Lot(nano=nano, expiry=None if days is None else DAY + timedelta(days=days)) for nano, days in lots)


def test_the_first_to_expire_is_used_first_and_what_keeps_last() -> None:
    came = [_move(0, 500, 90), _move(0, 200, 30), _move(0, 100)]
    assert lots_left([*came, _move(3, -150)]) == _lots((50, 30), (500, 90), (100, None))
    assert lots_left([*came, _move(3, -720)]) == _lots((80, None))


def test_what_was_used_before_a_lot_came_is_not_of_it() -> None:
    assert lots_left([_move(0, 100, 300), _move(1, -60), _move(2, 100, 10)]) == _lots((100, 10), (40, 300))


def test_a_delivery_taken_back_takes_its_own_lot() -> None:
    moves = [_move(0, 500, 90), _move(0, 200, 30), _move(1, -500, 90)]
    assert lots_left(moves) == _lots((200, 30))


def test_what_came_undated_keeps_as_long_as_the_material_does() -> None:
    assert lots_left([_move(0, 100)], shelf_life_days=365) == _lots((100, 365))
    assert lots_left([_move(0, 100)]) == _lots((100, None))


def test_a_book_below_zero_is_made_good_first() -> None:
    assert lots_left([_move(0, -30), _move(1, 100, 50)]) == _lots((70, 50))


moves = st.lists(st.builds(_move, st.integers(0, 6), st.integers(-40, 60), st.none() | st.integers(5, 40)), max_size=12)


@given(moves, st.randoms())
def test_lots_are_what_is_there_whatever_the_order_of_typing(found: list[LotMove], dice: Random) -> None:
    mixed = list(found)
    dice.shuffle(mixed)
    left = lots_left(found)
    assert lots_left(mixed) == left
    assert sum(lot.nano for lot in left) == max(sum(move.nano for move in found), 0)
    assert list(left) == sorted(left, key=lambda lot: lot.expiry or date.max)


WEEKS, PATHS = 8, 5


def _problem(parts: tuple[Part, ...], use: np.ndarray, coming: tuple[OnTheWay, ...] = ()) -> OrderProblem:
    there = np.array([sum(part.quantity for part in parts)])
    item = OrderItem(name="glue", on_hand=there, unit_cost=1.0, lots=parts, coming=coming)
    return OrderProblem(items=(item,), use=use[:, None, :], offers=(), suppliers=())


def test_a_shelf_runs_out_on_the_day_its_lot_expires() -> None:
    """530 ml, ten a week, the lot expires in five days: that is when it is empty, and not in a year."""
    use = np.full((PATHS, 60), 10.0)
    assert runouts(_problem((Part(quantity=530.0, until=5.0),), use)).median[0] == pytest.approx(5.0)
    assert runouts(_problem((Part(quantity=530.0, until=np.inf),), use)).median[0] == pytest.approx(371.0)


def test_a_lot_that_is_used_before_it_expires_changes_nothing() -> None:
    use = np.full((PATHS, 60), 10.0)
    parts = (Part(quantity=5.0, until=5.0), Part(quantity=525.0, until=np.inf))
    assert runouts(_problem(parts, use)).median[0] == pytest.approx(371.0)


parts = st.lists(st.tuples(st.floats(0.5, 60.0), st.floats(0.0, 80.0)), min_size=1, max_size=4).map(
    lambda found: tuple(Part(quantity=q, until=u) for q, u in sorted(found, key=lambda each: each[1]))
)


def _use(seed: int) -> np.ndarray:
    return np.random.default_rng(seed).gamma(1.0, 6.0, (PATHS, WEEKS))


@given(parts, st.integers(0, 999), st.data())
def test_what_keeps_longer_never_runs_out_earlier(lots: tuple[Part, ...], seed: int, data: st.DataObject) -> None:
    which = data.draw(st.integers(0, len(lots) - 1))
    longer = replace(lots[which], until=lots[which].until + data.draw(st.floats(0.0, 60.0)))
    later = tuple(sorted((*lots[:which], longer, *lots[which + 1 :]), key=lambda each: each.until))
    before, after = (runouts(_problem(each, _use(seed))).days for each in (lots, later))
    assert (after >= before - 1e-6).all()


@given(parts, st.integers(0, 999))
def test_lots_that_outlast_their_use_change_nothing(lots: tuple[Part, ...], seed: int) -> None:
    use = _use(seed)
    plain = _problem((Part(quantity=sum(each.quantity for each in lots), until=np.inf),), use)
    days = runouts(plain).days
    lasting = tuple(replace(each, until=max(each.until, 7.0 * WEEKS + 1)) for each in lots)
    np.testing.assert_allclose(runouts(_problem(lasting, use)).days, days)


@given(parts, st.integers(0, 999))
def test_what_spoils_is_what_a_shelf_played_day_by_day_loses(lots: tuple[Part, ...], seed: int) -> None:
    """Brute force: the first to expire is used first, hour by hour, and what is left of a lot on its day goes."""
    use, steps = _use(seed), 24
    parts = tuple(replace(each, until=round(each.until * steps) / steps) for each in lots)
    played = np.array([_played(parts, path, steps) for path in use])
    shelves = futures(_problem(parts, use))
    end = np.full(PATHS, 7.0 * WEEKS)
    np.testing.assert_allclose(shelves.spoilt_by(0, end), played, atol=1e-6)


def _played(lots: tuple[Part, ...], use: np.ndarray, steps: int) -> float:
    left, lost = [each.quantity for each in lots], 0.0
    for tick in range(7 * WEEKS * steps + 1):
        for n, each in enumerate(lots):
            if each.until * steps <= tick:
                lost, left[n] = lost + left[n], 0.0
        wanted = use[min(tick // (7 * steps), WEEKS - 1)] / (7 * steps)
        for n in range(len(left)):
            taken = min(left[n], wanted)
            left[n], wanted = left[n] - taken, wanted - taken
    return lost


def test_a_ticket_for_a_day_after_the_lot_has_gone_lacks_it() -> None:
    use = np.zeros((PATHS, WEEKS))
    asked = _problem((Part(quantity=100.0, until=5.0), Part(quantity=100.0, until=np.inf)), use)
    early, late, later = (
        Booked(name=n, needs=np.array([a]), day=d) for n, a, d in (("a", 90.0, 2), ("b", 95.0, 6), ("c", 10.0, 7))
    )
    assert [each.chance for each in held_up(asked, [early, late, later])] == [0.0, 0.0, 1.0]


def test_goods_on_the_way_are_there_after_the_lot_has_gone() -> None:
    use = np.full((PATHS, WEEKS), 7.0)
    coming = (OnTheWay(quantity=21.0, arrives=np.array([4.0])),)
    asked = _problem((Part(quantity=100.0, until=5.0),), use, coming)
    assert runouts(asked).median[0] == pytest.approx(26.0)
