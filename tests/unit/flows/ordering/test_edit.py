"""A basket changed at the desk, by the command and by a file: one price, to the cent."""

from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from stockroom.flows.ordering.edit import EditedPlan, both_priced, edited, edited_lines, edits
from stockroom.flows.ordering.place import OrderedPacks
from stockroom.flows.ordering.plan import OrderPlan, listed, plan_order
from stockroom.flows.ordering.preview import desk_orders, order_sum
from stockroom.flows.outlook.run_outs import within
from stockroom.stock.lists import ReorderList
from stockroom.store.book import Book
from tests.unit.flows.outlook import test_agreements as shop

book = shop.book


@pytest.fixture
def plan(book: Book) -> OrderPlan:
    """What the shop of two sheets is told to order."""
    return plan_order(book, shop.NOW)


def _figures(found: EditedPlan, plan: OrderPlan) -> tuple[object, ...]:
    own = tuple(round(each, 2) for each in both_priced(plan, found)[1])
    return own, found.words, tuple((line.material, line.packs, line.cost) for o in found.lists for line in o.lines)


@pytest.mark.parametrize(("thin", "thick"), [(0, 1), (1, 0), (7, 2)])
def test_page_command_and_file_agree_to_the_cent(plan: OrderPlan, tmp_path: Path, thin: int, thick: int) -> None:
    asked = [
        OrderedPacks(material="THIN", packs=thin, supplier_code="N1"),
        OrderedPacks(material="THICK", packs=thick, supplier_code="N2"),
    ]
    file = tmp_path / "mine.csv"
    file.write_text(f"Code,Their code,Packs\nTHIN,N1,{thin}\nTHICK,N2,{thick}\n")
    typed, tapped = edited(plan, asked), edited_lines(plan, [("NORTH", each) for each in asked])
    filled = edited(plan, edits(file), whole=True)
    assert _figures(typed, plan) == _figures(tapped, plan) == _figures(filled, plan)
    sums = order_sum(plan, "NORTH", asked)
    scale = 10.0**plan.outlook.known.shop.currency_digits
    assert (sums.goods, sums.carriage) == (round(typed.priced.goods * scale), round(typed.priced.carriage * scale))
    assert sums.goods == sum(line.cost for each in typed.lists for line in each.lines)


def test_what_was_suggested_costs_nothing_more_in_whichever_way_it_is_said(plan: OrderPlan) -> None:
    same = [
        OrderedPacks(material=line.material, packs=line.packs, supplier_code=line.supplier_code)
        for each in plan.lists
        for line in each.lines
    ]
    assert same
    for found in (edited(plan, same), edited(plan, same, whole=True), edited_lines(plan, [])):
        assert found.priced.dearer == pytest.approx(0.0, abs=1e-6)
        assert found.lists == plan.lists


def test_what_mostly_lasts_is_not_said_to_run_out(plan: OrderPlan) -> None:
    """It read 'runs out around beyond the outlook'."""
    runs = replace(plan.seen.runs, median=np.full_like(plan.seen.runs.median, np.inf))
    lasting = replace(plan, seen=replace(plan.seen, runs=runs))
    words = edited(lasting, [OrderedPacks(material="THIN", packs=0, supplier_code="N1")]).words
    assert "More at risk: Thin sheet (mostly lasts beyond the outlook; " in words
    assert "runs out around" not in words


def test_a_changed_list_knows_of_its_lines_what_the_suggested_one_does(plan: OrderPlan) -> None:
    """Days beyond what the shop looks at, and the risk of what was never suggested, are there as well."""
    packs = {line.offer: line.packs for line in plan.basket.lines}
    assert plan.basket.found
    none = replace(plan.basket, lines=(), found=replace(plan.basket.found, choice=plan.basket.found.choice * 0))
    bare = replace(plan, outlook=within(plan.seen, 0), basket=none)

    def said(lists: Iterable[ReorderList]) -> list[tuple[object, ...]]:
        return [(line.material, line.runs_out, line.risk_if_left) for each in lists for line in each.lines]

    assert said(listed(bare, packs)) == said(plan.lists)
    assert any(day for _, day, _ in said(plan.lists))
    near = desk_orders(replace(plan, outlook=bare.outlook), [])
    days = {line.drawn.material: line.now.runs_out for each in near for line in each.lines}
    assert days == {material: day for material, day, _ in said(plan.lists)}
