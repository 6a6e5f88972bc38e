"""Materials that do each other's work, and goods that come by themselves: what the outlook and the orders make of them."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.buying.basket import basket
from stockroom.buying.problem import OrderProblem
from stockroom.buying.risk import runouts
from stockroom.errors import RefusedError
from stockroom.flows.book.opening import new_book
from stockroom.flows.loading.lists import list_kind, save
from stockroom.flows.loading.load import load_files
from stockroom.flows.ordering.place import OrderedPacks, place_order, receive_goods
from stockroom.flows.ordering.plan import plan_order
from stockroom.flows.outlook.agreements import Pools, pooled
from stockroom.flows.outlook.run_outs import look_ahead, run_out_rows
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.store.book import Book
from tests import build
from tests.unit.buying.problems import small_ask

NOW = datetime(2026, 11, 2, 8)  # a Monday
FILES = {
    "shop": f"setting,value\nstart,{NOW:%Y-%m-%d}\n",
    "materials": "code,name,family,unit\nTHIN,Thin sheet,soling sheet,dm2\nTHICK,Thick sheet,soling sheet,dm2\n",
    "jobs": "code,name,family,price\nSOLES,Soles,soles,40.00\n",
    "suppliers": "code,name,lead days\nNORTH,North Row (invented),7\n",
    "offers": (
        "supplier,material,supplier code,pack,unit,price,valid from\n"
        "NORTH,THIN,N1,60,dm2,30.00,2026-01-01\nNORTH,THICK,N2,60,dm2,27.00,2026-01-01\n"
    ),
    "recipes": "job,valid from,line,material,amount,unit,per\nSOLES,2026-01-01,sole,THIN,6,dm2,pair\n",
    "opening-stock": (
        f"day,material,amount,unit,value\n{NOW:%Y-%m-%d},THIN,12,dm2,6.00\n{NOW:%Y-%m-%d},THICK,180,dm2,80.00\n"
    ),
}  # fmt: skip


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    """A shop that soles two pairs a week from thin sheet, of which two pairs' worth is left."""
    first = NOW.date() - timedelta(weeks=40)
    days = [first + timedelta(weeks=n) for n in range(40)]
    rows = [f"{n}{part},{day} 10:00,{day} 12:00,SOLES" for n, day in enumerate(days) for part in "ab"]
    files = FILES | {"tickets": "\n".join(["ticket,taken in,finished,job", *rows]) + "\n"}
    for name, text in files.items():
        (tmp_path / f"{name}.csv").write_text(text)
    made = new_book(str(tmp_path / "shop.sqlite"))
    load_files(made, [tmp_path / f"{name}.csv" for name in files], NOW)
    yield made
    made.close()


def _add(book: Book, name: str, **row: str) -> None:
    save(book, list_kind(name), [{column.replace("_", " "): said for column, said in row.items()}], NOW)


def test_what_will_do_as_well_counts_against_running_out(book: Book) -> None:
    (before,) = run_out_rows(look_ahead(book, NOW))
    assert before.runs_out is not None
    assert before.runs_out < NOW.date() + timedelta(weeks=2)
    _add(book, "substitutes", material="THIN", substitute="THICK", does="0.5")
    (after,) = run_out_rows(look_ahead(book, NOW))
    assert after.runs_out is not None
    weeks = (12 + 0.5 * 180) / 12  # two pairs of six dm2 a week
    assert abs((after.runs_out - NOW.date()).days - 7 * weeks) < 14
    assert after.free == before.free, "what is there of it is no more than it was"


@pytest.mark.parametrize(("does", "cheaper"), [("1", "THICK"), ("0.5", "THIN")])
def test_whichever_is_cheaper_for_its_work_is_bought(book: Book, does: str, cheaper: str) -> None:
    _add(book, "substitutes", material="THIN", substitute="THICK", does=does)
    later = NOW + timedelta(weeks=20)  # by then, what was there has been used or is thought so: the book says nothing
    plan = plan_order(book, later)
    bought = {line.material for each in plan.lists for line in each.lines}
    assert bought in ({cheaper}, set())
    priced = [o.price / o.pack for o in plan.problem.offers]
    assert plan.outlook.question.offers[int(np.argmin(priced))].material == cheaper
    assert {o.item for o in plan.problem.offers} == {plan.outlook.question.codes.index("THICK")}


def test_a_pair_is_not_entered_twice_the_other_way_round(book: Book) -> None:
    _add(book, "substitutes", material="THIN", substitute="THICK", does="0.5")
    with pytest.raises(Exception, match="1 problem"):
        _add(book, "substitutes", material="THICK", substitute="THIN")


def test_what_a_standing_order_brings_is_on_its_way_until_it_has_come(book: Book) -> None:
    def ways(moment: datetime) -> list[float]:
        items = look_ahead(book, moment, weeks=10).question.problem.items
        (item,) = (each for each in items if each.name == "THIN")
        assert {way.quantity for way in item.coming} <= {120.0}
        return [float(way.arrives[0]) for way in item.coming]

    _add(
        book, "standing", supplier="NORTH", material="THIN", packs="2", weeks="6", first="2026-11-09", last="2027-02-10"
    )
    assert ways(NOW) == [7.0, 49.0, 91.0]
    late = datetime(2026, 11, 12, 8)
    assert ways(late) == [1.0, 39.0, 81.0], "it has not come and is due still"
    goods = DeliveryLine(material="THIN", amount=build.amount("120 dm2"), cost=6000)
    note = Delivery(reference="N-7", supplier="NORTH", received=late, lines=(goods,))
    receive_goods(book, note, build.stamp("2026-11-12 08:00", "N-7"))
    assert ways(late + timedelta(hours=1)) == [39.0, 81.0]
    assert ways(datetime(2027, 2, 20, 8)) == [1.0], "of the last one nothing has been heard"


def test_a_standing_order_keeps_the_shelf_from_running_out_and_nothing_is_bought_beside_it(book: Book) -> None:
    assert plan_order(book, NOW).lists
    _add(book, "standing", supplier="NORTH", material="THIN", packs="2", weeks="4", first="2026-11-03")
    (row,) = run_out_rows(look_ahead(book, NOW))
    assert row.runs_out is None
    assert row.on_order == 0, "nothing was ordered"
    assert plan_order(book, NOW).lists == ()


def test_a_standing_order_is_of_something_that_is_offered(book: Book) -> None:
    with pytest.raises(Exception, match="1 problem"):
        _add(book, "standing", supplier="NORTH", material="GONE", packs="2", weeks="4", first="2026-11-03")


def test_orders_are_refused_that_the_supplier_would_not_take(book: Book) -> None:
    _add(
        book, "offers", supplier="NORTH", material="THIN", supplier_code="N1", pack="60", unit="dm2", price="30",
        valid_from="2026-11-02", multiple="3", pack_weight="2 kg",
    )  # fmt: skip
    with pytest.raises(RefusedError, match="THIN: sold in multiples of 3 packs, not 4"):
        place_order(book, "NORTH", [OrderedPacks(material="THIN", packs=4)], build.stamp("2026-11-02 09:00", "o1"))
    row = {"code": "NORTH", "name": "North Row (invented)", "lead days": "7", "minimum weight": "10 kg"}
    kind = list_kind("suppliers")
    from stockroom.flows.loading.lists import find

    save(book, kind, [row], NOW, before=find(book, kind, ["NORTH"], NOW.date()))
    with pytest.raises(RefusedError, match="sends nothing under 10 kg; this order weighs 6 kg"):
        place_order(book, "NORTH", [OrderedPacks(material="THIN", packs=3)], build.stamp("2026-11-02 09:00", "o2"))
    plan = plan_order(book, NOW)
    assert "of 1 offer nobody has said what a pack weighs" in plan.summary
    packs = [line.packs for each in plan.lists for line in each.lines if line.material == "THIN"]
    assert all(n % 3 == 0 and n * 2 >= 10 for n in packs)
    ordered = place_order(
        book, "NORTH", [OrderedPacks(material="THIN", packs=6)], build.stamp("2026-11-02 09:00", "o3")
    )
    assert ordered.lines[0].packs == 6


def test_an_announced_price_is_known_ahead_and_said(book: Book) -> None:
    def thin() -> int:
        return sum(line.packs for each in plan_order(book, NOW).lists for line in each.lines if line.material == "THIN")

    before = thin()
    _add(
        book, "offers", supplier="NORTH", material="THIN", supplier_code="N1", pack="60", unit="dm2", price="36",
        valid_from="2026-11-05",
    )  # fmt: skip
    assert thin() > before
    (reason,) = (line.reason for each in plan_order(book, NOW).lists for line in each.lines if line.material == "THIN")
    assert "From 5 Nov 2026 each costs €36.00 instead of €30.00" in reason
    assert look_ahead(book, datetime(2026, 11, 5, 8)).question.problem.offers[0].then is None


def test_what_is_ordered_after_a_rise_costs_what_it_costs_then(book: Book) -> None:
    """A list made on Saturday is for Monday: a price of Sunday's is that of its order, and no rise is to be met."""
    _add(
        book, "offers", supplier="NORTH", material="THIN", supplier_code="N1", pack="60", unit="dm2", price="36",
        valid_from="2026-11-08",
    )  # fmt: skip
    friday, saturday = datetime(2026, 11, 6, 8), datetime(2026, 11, 7, 8)
    for moment, price, rises in ((friday, 30.0, True), (saturday, 36.0, False)):
        plan = plan_order(book, moment)
        offer = next(o for o in plan.problem.offers if o.item == plan.outlook.question.codes.index("THIN"))
        assert (offer.price, offer.then is not None) == (price, rises)
        (line,) = (line for each in plan.lists for line in each.lines if line.material == "THIN")
        assert line.cost == round(100 * price) * line.packs
        assert ("each costs" in line.reason) is rises


BOTH = Pools(pools=((np.array([0, 1]), np.array([1.0, 2.5])),))


@settings(max_examples=3, deadline=None)
@given(seed=st.integers(0, 60), moved=st.floats(0.0, 1.0))
def test_it_does_not_matter_which_of_a_pool_lies_on_the_shelf(seed: int, moved: float) -> None:
    plain = small_ask(seed)
    much = moved * plain.items[0].on_hand
    other = replace(
        plain,
        items=(
            replace(plain.items[0], on_hand=plain.items[0].on_hand - much),
            replace(plain.items[1], on_hand=plain.items[1].on_hand + much / 2.5),
            *plain.items[2:],
        ),
    )
    here, there = pooled(plain, BOTH), pooled(other, BOTH)
    assert np.allclose(runouts(here).chance, runouts(there).chance)
    assert basket(here).cost == pytest.approx(basket(there).cost, abs=0.02)


@settings(max_examples=3, deadline=None)
@given(seed=st.integers(0, 60))
def test_all_of_a_pool_run_out_together_and_only_the_first_is_bought(seed: int) -> None:
    problem = pooled(small_ask(seed), BOTH)
    outs = runouts(problem)
    assert np.allclose(outs.days[0], outs.days[1])
    assert np.allclose(problem.use[:, 0], 2.5 * problem.use[:, 1])
    assert 1 not in {line.item for line in basket(problem).lines}


@settings(max_examples=3, deadline=None)
@given(seed=st.integers(0, 60))
def test_a_substitute_that_is_not_there_and_dearer_changes_nothing(seed: int) -> None:
    plain = _without_second(small_ask(seed))
    both = pooled(plain, BOTH)
    assert [(each.offer, each.packs) for each in basket(both).lines] == [
        (each.offer, each.packs) for each in basket(plain).lines
    ]


def _without_second(problem: OrderProblem) -> OrderProblem:
    """Let nobody have, use or usefully offer the second item."""
    assert problem.jobs is not None
    use, needs = problem.use.copy(), problem.jobs.needs.copy()
    use[:, 1], needs[:, 1] = 0.0, 0.0
    items = (problem.items[0], replace(problem.items[1], on_hand=np.zeros(1), unit_cost=1e6), *problem.items[2:])
    offers = tuple(replace(o, price=1e6) if o.item == 1 else o for o in problem.offers)
    return replace(problem, use=use, items=items, offers=offers, jobs=replace(problem.jobs, needs=needs))


def test_past_weeks_are_looked_at_without_what_was_agreed(book: Book) -> None:
    """What came by itself, or did another's work, stands in no material's own moves."""
    _add(book, "substitutes", material="THIN", substitute="THICK")
    _add(book, "standing", supplier="NORTH", material="THIN", packs="2", weeks="4", first="2026-11-03")
    agreed, alone = (run_out_rows(look_ahead(book, NOW, alone=each)) for each in (False, True))
    assert agreed[0].runs_out is None
    assert alone[0].runs_out is not None
    assert alone[0].runs_out < NOW.date() + timedelta(weeks=2)
