"""A question that does not hang together is a mistake of the program, and is refused before any sum."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from stockroom.buying.problem import PackOffer, PriceStep
from tests.unit.buying.problems import small_ask


def test_price_of_a_line_is_that_of_the_last_break_reached() -> None:
    offer = PackOffer(
        item=0, supplier=0, pack=1.0, price=5.0, breaks=(PriceStep(packs=10, price=4.0), PriceStep(packs=20, price=3.5))
    )
    assert [offer.price_at(packs) for packs in (1, 9, 10, 19, 20, 50)] == [5.0, 5.0, 4.0, 4.0, 3.5, 3.5]


def test_use_must_have_a_row_per_item_and_be_finite() -> None:
    problem = small_ask()
    with pytest.raises(ValueError, match="shape"):
        replace(problem, use=problem.use[:, :1])
    with pytest.raises(ValueError, match="finite"):
        replace(problem, use=np.where(problem.use > 0, np.nan, 0.0))


def test_belief_about_a_shelf_must_fit_the_paths() -> None:
    problem = small_ask()
    with pytest.raises(ValueError, match="on_hand of item 0"):
        replace(problem, items=(replace(problem.items[0], on_hand=np.zeros(7)), *problem.items[1:]))


def test_days_must_be_positive() -> None:
    with pytest.raises(ValueError, match="review_days"):
        replace(small_ask(), review_days=0.0)


@pytest.mark.parametrize("wrong", [{"item": 9}, {"supplier": 5}, {"pack": 0.0}, {"price": -1.0}, {"least_packs": 0}])
def test_offer_must_point_into_the_ask_and_hold_something(wrong: dict[str, Any]) -> None:
    problem = small_ask()
    with pytest.raises(ValueError, match="offer"):
        replace(problem, offers=(replace(problem.offers[0], **wrong),))


def test_order_days_must_ascend_and_leads_fit_the_paths() -> None:
    problem = small_ask()
    for wrong in ((), (7.0, 0.0), (-1.0, 7.0)):
        with pytest.raises(ValueError, match="order days"):
            replace(problem, suppliers=(replace(problem.suppliers[0], order_days=wrong), problem.suppliers[1]))
    with pytest.raises(ValueError, match="leads"):
        replace(problem, suppliers=(replace(problem.suppliers[0], leads=np.zeros(3)), problem.suppliers[1]))


def test_jobs_must_fit_items_and_paths() -> None:
    problem = small_ask()
    assert problem.jobs is not None
    with pytest.raises(ValueError, match="needs"):
        replace(problem, jobs=replace(problem.jobs, needs=problem.jobs.needs[:, :1]))
    with pytest.raises(ValueError, match="job paths"):
        replace(problem, jobs=replace(problem.jobs, paths=problem.jobs.paths[:1]))
