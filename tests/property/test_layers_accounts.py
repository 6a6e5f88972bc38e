"""Laws of a whole period's accounts, whatever was entered and however the shop costs its stock."""

from collections.abc import Sequence
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from stockroom.margins.accounts import Accounts, Sources, accounts
from stockroom.margins.period import Period
from stockroom.stock.money import milli_to_minor
from stockroom.stock.shop import Shop
from tests.property.test_layers_laws import MATERIALS, START, STEPS, Step, book

FIRST, LAST = START.date() + timedelta(days=4), START.date() + timedelta(days=14)


def made(steps: Sequence[Step], method: str) -> Accounts:
    sources = Sources(documents=book(steps), materials=MATERIALS, tickets={}, jobs={}, shop=Shop(costing=method))
    return accounts(sources, Period(first=FIRST, last=LAST))


@pytest.mark.parametrize("method", ["fifo", "average"])
@given(steps=STEPS)
@settings(max_examples=60, deadline=None)
def test_summary_valuation_journal_and_purchases_agree(method: str, steps: Sequence[Step]) -> None:
    found = made(steps, method)
    flows = [flow for roll in found.rolls for flow in roll.flows.values()]
    assert found.opening + sum(value for _, value in flows) == found.closing
    assert found.closing - found.opening == sum(entry.value for entry in found.entries)
    stock = sum(line.debit - line.credit for line in found.journal if line.account == "stock")
    assert stock == milli_to_minor(found.closing) - milli_to_minor(found.opening)
    assert sum(line.debit - line.credit for line in found.journal) == 0
    losses = sum(each.value for each in found.write_offs)
    assert losses == sum(roll.flows.get("count differences", (0, 0))[1] for roll in found.rolls)


@pytest.mark.parametrize("method", ["fifo", "average"])
@given(steps=STEPS, more=st.integers(0, 12))
@settings(max_examples=40, deadline=None)
def test_documents_booked_after_the_period_change_nothing_in_it(method: str, steps: Sequence[Step], more: int) -> None:
    """Entries of a period depend on what was entered up to its last document only, in entry order."""
    documents = book(steps)
    shop = Shop(costing=method)

    def until(count: int) -> Accounts:
        early = [d for d in documents if (d.id or 0) <= count]
        sources = Sources(documents=early, materials=MATERIALS, tickets={}, jobs={}, shop=shop)
        return accounts(sources, Period(first=FIRST, last=FIRST + timedelta(days=2)))

    last = max((d.id or 0 for d in documents if d.happened.date() <= FIRST + timedelta(days=2)), default=0)
    assert until(last) == until(last + more)
