"""A year of orders played on the futures: laws of money and stock."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.buying.basket import basket
from stockroom.buying.order_cycle import carriage_on
from stockroom.buying.problem import OrderItem, OrderProblem, PackOffer, SupplierTerms
from stockroom.buying.year_ahead import OrderFuture, by_month, year_of_orders
from tests.unit.buying.problems import small_ask

DAYS, STEPS = 364.0, 66


def _long(seed: int) -> OrderProblem:
    """A small question whose futures reach over a year: the same weeks again and again."""
    problem = small_ask(seed, n_paths=12)
    assert problem.jobs is not None
    again = -(-STEPS // problem.use.shape[2])
    use, work = (np.tile(each, again)[:, :, :STEPS] for each in (problem.use, problem.jobs.paths))
    days = tuple(np.arange(0.0, STEPS * 7.0, 7.0))
    suppliers = tuple(replace(each, order_days=days) for each in problem.suppliers)
    return replace(problem, use=use, jobs=replace(problem.jobs, paths=work), suppliers=suppliers)


@settings(max_examples=2, deadline=None)
@given(seed=st.integers(0, 60))
def test_today_is_the_basket_and_all_that_is_used_is_bought(seed: int) -> None:
    problem = _long(seed)
    chosen = basket(problem)
    orders = year_of_orders(problem, chosen, DAYS)
    today = {each.supplier: each for each in orders if each.day == 0.0}
    assert {s: pytest.approx(float(o.goods.mean())) for s, o in today.items()} == {
        o.supplier: o.value for o in chosen.orders if o.value > 0
    }
    for each in chosen.orders:
        paid = today[each.supplier].carriage if each.value > 0 else np.zeros(1)
        assert paid.mean() == pytest.approx(each.carriage)
    dearest = np.full(len(problem.items), 0.0)
    for offer in problem.offers:
        dearest[offer.item] = max(dearest[offer.item], offer.price / offer.pack)
    cheapest = np.array([min(o.price / o.pack for o in problem.offers if o.item == i) for i in range(len(dearest))])
    on_hand = np.array([float(item.on_hand[0]) for item in problem.items])
    goods = sum(each.goods for each in orders)
    used = problem.use[:, :, :52].sum(axis=2) - on_hand
    weeks = 30  # of use that may lie on the shelf or be on its way at the end
    most = used + weeks * problem.use.mean(axis=2)
    packs = np.array([max(o.pack for o in problem.offers if o.item == i) for i in range(len(dearest))])
    assert (goods >= 0.8 * (used @ cheapest)).all()
    assert (goods <= (most + packs) @ dearest).all()


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 1000), cut=st.integers(1, 12))
def test_months_add_up_to_the_whole_whatever_they_are_cut_into(seed: int, cut: int) -> None:
    rng = np.random.default_rng(seed)
    orders = [
        OrderFuture(
            supplier=int(rng.integers(3)),
            day=0.0,
            goods=rng.choice([0.0, 50.0], 8),
            carriage=rng.choice([0.0, 5.0], 8),
            comes=rng.uniform(0.0, 99.0, 8),
        )
        for _ in range(9)
    ]
    ends = np.linspace(100.0 / cut, 100.0, cut)
    total = by_month(orders, ends, 3, 8)
    assert total.shape == (3, 3, cut, 8)
    assert np.allclose(total[0].sum(axis=(0, 1)), sum(each.goods for each in orders))
    assert np.allclose(total[1].sum(axis=(0, 1)), sum(each.carriage for each in orders))
    assert np.allclose(total[2].sum(axis=(0, 1)), sum((each.goods > 0) for each in orders))
    assert not by_month(orders, np.array([0.0]), 3, 8).any(), "what comes later is left out"


def _even(price: float, then: tuple[float, float] | None = None, **terms: float) -> OrderProblem:
    """Ten a week of one thing, in packs of ten, a day away."""
    offer = PackOffer(item=0, supplier=0, pack=10.0, price=price)
    if then is not None:
        offer = replace(offer, then=replace(offer, price=then[0]), changes=then[1])
    item = OrderItem(
        name="laces", on_hand=np.array([10.0]), unit_cost=price / 10, sales_share=1.0, lost_margin=9.0, holding_rate=0.2
    )
    days = tuple(np.arange(0.0, STEPS * 7.0, 7.0))
    supplier = SupplierTerms(name="one", leads=np.array([1.0]), order_days=days, **terms)  # type: ignore[arg-type]
    return OrderProblem(items=(item,), use=np.full((4, 1, STEPS), 10.0), offers=(offer,), suppliers=(supplier,))


def test_even_use_is_bought_as_it_is_used() -> None:
    problem = _even(5.0)
    orders = year_of_orders(problem, basket(problem), DAYS)
    packs = sum(float(each.goods.mean()) for each in orders) / 5.0
    assert 50 <= packs <= 54, "a pack a week"


def test_a_price_that_is_announced_is_paid_from_its_day() -> None:
    problem = _even(5.0, (50.0, 180.0))
    orders = year_of_orders(problem, basket(problem), DAYS)
    before = [float(each.goods.mean()) / 5.0 for each in orders if each.day < 180.0]
    after = [float(each.goods.mean()) / 50.0 for each in orders if each.day >= 180.0]
    assert all(packs == round(packs) for packs in (*before, *after))
    assert 45 <= sum(before) + sum(after) <= 54


def test_an_order_below_the_least_waits_and_carriage_is_paid_below_the_free_sum() -> None:
    problem = _even(5.0, carriage=3.0, free_over=60.0, least_order=20.0)
    orders = [each for each in year_of_orders(problem, basket(problem), DAYS) if each.goods.any()]
    assert all((each.goods >= 20.0).all() for each in orders)
    assert all(((each.carriage == 3.0) == (each.goods < 60.0)).all() for each in orders)
    packs = sum(float(each.goods.mean()) for each in orders) / 5.0
    assert 50 <= packs <= 53 + 12, "a pack a week, and what the last order of twelve leaves"


def test_what_is_never_used_is_never_ordered() -> None:
    problem = replace(_even(5.0), use=np.zeros((4, 1, STEPS)))
    assert not [each for each in year_of_orders(problem, basket(problem), DAYS) if each.goods.any()]


@settings(max_examples=2, deadline=None)
@given(seed=st.integers(0, 60), data=st.data())
def test_another_order_of_suppliers_and_items_changes_nothing(seed: int, data: st.DataObject) -> None:
    problem = _long(seed)
    jobs = problem.jobs
    assert jobs is not None
    firms = tuple(replace(s, leads=s.leads + n) for n, s in enumerate(problem.suppliers))  # none as quick as another
    problem = replace(
        problem, suppliers=firms, offers=tuple(replace(o, price=o.price + n / 97) for n, o in enumerate(problem.offers))
    )
    by = data.draw(st.permutations(range(len(firms))))
    of = data.draw(st.permutations(range(len(problem.items))))
    turned = replace(
        problem,
        suppliers=tuple(firms[n] for n in by),
        items=tuple(problem.items[n] for n in of),
        use=problem.use[:, of],
        jobs=replace(jobs, needs=jobs.needs[:, of]),
        offers=tuple(replace(o, supplier=by.index(o.supplier), item=of.index(o.item)) for o in problem.offers),
    )
    chosen = basket(problem)
    lines = [replace(line, supplier=by.index(line.supplier), item=of.index(line.item)) for line in chosen.lines]
    orders = year_of_orders(problem, chosen, 120.0)
    again = year_of_orders(turned, replace(chosen, lines=tuple(lines)), 120.0)
    assert len(orders) == len(again)
    for each in orders:
        (same,) = [o for o in again if (o.day, by[o.supplier]) == (each.day, each.supplier)]
        assert np.allclose(same.goods, each.goods)
        assert np.allclose(same.carriage, each.carriage)


@settings(max_examples=2, deadline=None)
@given(seed=st.integers(0, 60))
def test_no_order_is_below_the_least_and_carriage_is_as_the_supplier_says(seed: int) -> None:
    problem = _long(seed)
    chosen = basket(problem)
    for each in year_of_orders(problem, chosen, 200.0):
        supplier = problem.suppliers[each.supplier]
        goods = each.goods[each.goods > 0]
        assert (goods >= supplier.least_order - 1e-9).all()
        assert np.allclose(each.carriage, [carriage_on(supplier, float(value)) for value in each.goods])
        assert each.day == 0 or any(abs(each.day - day) < 1e-9 for day in supplier.order_days)
