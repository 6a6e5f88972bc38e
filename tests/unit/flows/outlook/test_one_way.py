"""Substitutes that work one way only: laws of what they do to futures, orders and tickets."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.buying.problem import OrderProblem
from stockroom.buying.risk import runouts
from stockroom.flows.loading.lists import list_kind, save
from stockroom.flows.ordering.plan import plan_order
from stockroom.flows.outlook.agreements import Pools
from stockroom.flows.outlook.one_way import lean, leant, needed
from stockroom.flows.outlook.run_outs import look_ahead, run_out_rows
from stockroom.stock.agreements import Lean
from stockroom.store.book import Book
from tests.unit.buying.problems import small_ask
from tests.unit.flows.outlook import test_agreements as shop

CODES = ("A", "B", "C")
book = shop.book


def _priced(problem: OrderProblem, factor: float) -> OrderProblem:
    """Let a unit of B cost so many times one of A, from one supplier each."""
    a, b, c = problem.offers[:3]
    price = a.price / a.pack * factor
    return replace(problem, offers=(a, replace(b, price=price * b.pack), c))


def _leaning(problem: OrderProblem, does: float) -> OrderProblem:
    return lean(problem, [Lean(material="A", other="B", does=does)], CODES, Pools())[0]


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 99), does=st.floats(0.3, 3.0), factor=st.sampled_from([0.2, 5.0]), more=st.floats(0.0, 9.0))
def test_work_moves_whole_and_one_way_only(seed: int, does: float, factor: float, more: float) -> None:
    plain = _priced(small_ask(seed), factor)
    found = _leaning(plain, does)
    assert np.allclose(found.use[:, 0] + does * found.use[:, 1], plain.use[:, 0] + does * plain.use[:, 1])
    assert (found.use[:, 0] <= plain.use[:, 0] + 1e-9).all()
    assert (found.use[:, 1] >= plain.use[:, 1] - 1e-9).all()
    assert (found.use[:, 2] == plain.use[:, 2]).all()
    before, after = runouts(plain).days, runouts(found).days
    assert (after[0] >= before[0] - 1e-6).all()
    assert (after[1] <= before[1] + 1e-6).all()
    items = (plain.items[0], replace(plain.items[1], on_hand=plain.items[1].on_hand + more), plain.items[2])
    fuller = runouts(_leaning(replace(plain, items=items), does)).days
    assert (fuller[0] >= after[0] - 1e-6).all(), "more of what does its work never lets it run out sooner"


def test_what_is_plenty_of_the_one_never_does_the_work_of_the_other() -> None:
    plain = _priced(small_ask(4), 0.2)
    rich = replace(plain, items=(replace(plain.items[0], on_hand=np.array([1e6])), *plain.items[1:]))
    assert (_leaning(rich, 1.0).use == rich.use).all()


def test_a_dearer_substitute_only_bridges_until_its_own_can_come() -> None:
    plain = _priced(small_ask(4), 5.0)
    plain = replace(
        plain,
        items=(
            replace(plain.items[0], on_hand=np.zeros(1)),
            replace(plain.items[1], on_hand=np.array([1e6])),
            plain.items[2],
        ),
    )
    moved = plain.use[:, 0] - _leaning(plain, 1.0).use[:, 0]
    weeks = int(np.ceil(float(np.mean(plain.suppliers[0].leads)) / 7))
    assert np.allclose(moved[:, :weeks], plain.use[:, 0, :weeks])
    assert not moved[:, weeks:].any()


def test_a_ring_of_leanings_leaves_something_to_buy() -> None:
    problem = small_ask(7)
    ring = [Lean(material=a, other=b, does=3.0) for a, b in ("AB", "BC", "CA")]
    found, leanings = lean(problem, ring, CODES, Pools())
    assert 0 < sum(each.always for each in leanings) < len(ring)
    assert (found.use >= 0).all()


def test_tickets_take_what_leans_first_and_then_its_substitute() -> None:
    problem = _priced(small_ask(4), 5.0)
    a, b = (float(problem.items[n].on_hand[0]) for n in (0, 1))
    need = np.array([0.6 * a, 0.0, 0.0])
    leanings = lean(problem, [Lean(material="A", other="B", does=2.0)], CODES, Pools())[1]
    first, second = leant(problem, leanings, [(need, 1.0), (need, 2.0)])
    assert (first == need).all()
    assert b < 0.3 * a or np.allclose(second, [0.0, 0.3 * a, 0.0])
    assert needed(1, need, leanings) == 0


def _add(book: Book, **row: str) -> None:
    save(book, list_kind("substitutes"), [{column.replace("_", " "): said for column, said in row.items()}], shop.NOW)


@pytest.mark.parametrize(("row", "bridged"), [
    ({"material": "THIN", "substitute": "THICK", "does": "1", "one_way": "yes"}, True),
    ({"material": "THICK", "substitute": "THIN", "does": "1", "one_way": "yes"}, False),
])  # fmt: skip
def test_the_shop_minds_the_direction(book: Book, row: dict[str, str], bridged: bool) -> None:
    (before,) = run_out_rows(look_ahead(book, shop.NOW))
    _add(book, **row)
    rows = {each.material: each for each in run_out_rows(look_ahead(book, shop.NOW, weeks=24))}
    if not bridged:
        assert rows["THIN"].runs_out is not None
        assert before.runs_out is not None
        assert abs((rows["THIN"].runs_out - before.runs_out).days) < 4, "other futures of the same use"
        return
    assert rows["THIN"].runs_out is None, "thick sheet is cheaper and does its work for good"
    out = rows["THICK"].runs_out
    assert out is not None
    assert abs((out - shop.NOW.date()).days - 7 * (12 + 180) / 12) < 14
    plan = plan_order(book, shop.NOW + timedelta(weeks=20))
    assert {line.material for each in plan.lists for line in each.lines} <= {"THICK"}
