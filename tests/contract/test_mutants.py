"""Each of these faults, put into the code on purpose, is noticed by a test that is named for what it holds.

A copy of the programs and tests is changed, one text at a time, and the tests named beside it must fail there.
"""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
pytestmark = pytest.mark.slow


@dataclass(frozen=True, slots=True)
class Mutant:
    """One text of a module, what it is changed to, and who must notice."""

    fault: str
    module: str
    right: str
    wrong: str
    noticed: str


LANDED = "tests/reference/test_accounts_landed.py"
TAX = "tests/reference/test_accounts_tax.py"
BASKET = "tests/unit/buying/test_basket.py"
ORDER_LAWS = "tests/property/test_buying_laws.py"
LEADS = "tests/unit/buying/test_lead_times.py"
LEARN = "tests/unit/counting/test_learn.py"
CARD = f"{LEARN}::test_a_card_is_changed_only_for_what_is_sure_and_worth_it"
BLUR = f"{LEARN}::test_a_line_is_called_blurred_from_half_a_trade_on"
NEAR = f"{LEARN}::test_only_what_lies_near_above_the_card_may_be_a_loss"
POST = "tests/unit/flows/posting/test_post.py"
MUTANTS = (
    Mutant(
        "true-up on the day of the work, in a period before its delivery", "stock/layer_book.py",
        "day = max(posting.booked, piece.booked)", "day = piece.booked",
        f"{LANDED}::test_true_up_is_booked_on_the_deliverys_day_and_no_later",
    ),
    Mutant(
        "true-up on the delivery's day, in a period before the work", "stock/layer_book.py",
        "day = max(posting.booked, piece.booked)", "day = posting.booked",
        f"{LANDED}::test_true_up_of_work_booked_later_than_its_delivery_is_booked_with_the_work",
    ),
    Mutant(
        "half a coin of tax rounded down", "stock/tax.py", "(2 * abs(part) + whole) //", "(2 * abs(part) + whole - 1) //",
        f"{TAX}::test_exactly_half_a_coin_of_tax_is_rounded_away_from_nothing",
    ),
    Mutant(
        "half a coin of tax given to the net", "stock/tax.py", "(2 * abs(part) + whole) //",
        "(2 * abs(part) + whole - 1) //", f"{TAX}::test_exactly_half_a_coin_in_a_gross_price_goes_to_the_tax",
    ),
    Mutant(
        "half a coin of a credit rounded up", "stock/tax.py", "rounded = (2 * abs(part)", "return (2 * part",
        f"{TAX}::test_exactly_half_a_coin_of_tax_is_rounded_away_from_nothing",
    ),
    Mutant(
        "no other choice is ever said to be better", "buying/basket.py", "bound=min(found.bound - weight, cost)", "bound=cost",
        f"{BASKET}::test_bound_holds_where_the_search_is_cut_short",
    ),
    Mutant(
        "the search proves whatever it found", "buying/search.py", "lower = min(proven, best.cost)", "lower = best.cost",
        f"{BASKET}::test_bound_holds_where_the_search_is_cut_short",
    ),
    Mutant(
        "goods on order take no room", "buying/basket.py", " + sum(c.quantity for c in i.coming)", "",
        f"{BASKET}::test_limits_count_what_is_on_the_shelf_and_on_order",
    ),
    Mutant(
        "carriage of exactly the free sum is charged", "stock/suppliers.py", "goods >= self.carriage_free_over",
        "goods > self.carriage_free_over", "tests/unit/stock/test_suppliers.py",
    ),
    Mutant(
        "the basket pays carriage at exactly the free sum", "buying/packing.py", "(value < terms.free_over - TINY)",
        "(value < terms.free_over + TINY)", f"{BASKET}::test_an_order_of_exactly_the_free_sum_has_no_carriage",
    ),
    Mutant(
        "the rhythm pays carriage at exactly the free sum", "buying/order_cycle.py", "value >= supplier.free_over",
        "value > supplier.free_over", f"{BASKET}::test_an_order_of_exactly_the_free_sum_has_no_carriage",
    ),
    Mutant(
        "an order still open counts as come today", "buying/lead_times.py", "waiting[day] * mixed(day)",
        "waiting[day] * mixed(day, day + 1)", f"{LEADS}::test_an_order_not_yet_due_says_next_to_nothing",
    ),
    Mutant(
        "every supplier has one speed", "buying/lead_times.py", "slower[days:, ..., way] = usual[:-days]",
        "slower[:, ..., way] = usual", f"{LEADS}::test_two_speeds_are_told_apart",
    ),
    Mutant(
        "a closure already begun counts whole", "buying/lead_times.py", "inside = min(length, begins + length)",
        "inside = length", f"{LEADS}::test_of_a_closure_already_begun_only_the_rest_is_waited_for",
    ),
    Mutant(
        "days of a closure before the order count", "buying/lead_times.py",
        "low, high = max(first, start), min(", "low, high = first, min(",
        f"{LEADS}::test_an_order_placed_within_a_closure_starts_after_it",
    ),
    Mutant(
        "a closure to come is taken for over", "buying/lead_times.py", "min(last, until - timedelta(days=1))", "last",
        f"{LEADS}::test_a_closure_already_begun_counts_only_as_far_as_it_has_come",
    ),
    Mutant(
        "a count of the very moment is forgotten", "store/counts.py", "counted >= moment_text(since))\n    rows =",
        "counted > moment_text(since))\n    rows =", f"{POST}::test_work_of_a_counts_own_moment_entered_after_it_leaves_the_count_true",
    ),
    Mutant(
        "counts between two documents' moments are forgotten", "flows/posting/post.py", "since=min(moments)",
        "since=max(moments)", f"{POST}::test_work_of_both_sides_of_a_count_entered_together_leaves_it_true",
    ),
    Mutant("a line used four times is proposed", "counting/learn.py", "LEAST_USES = 5", "LEAST_USES = 4", CARD),
    Mutant("a line used five times is not", "counting/learn.py", "LEAST_USES = 5", "LEAST_USES = 6", CARD),
    Mutant("what is unsure is proposed", "counting/learn.py", "PINNED = 0.10", "PINNED = 0.11", CARD),
    Mutant("what is sure is not", "counting/learn.py", "PINNED = 0.10", "PINNED = 0.09", CARD),
    Mutant("small change is proposed", "counting/learn.py", "WORTH_SAYING = 0.03", "WORTH_SAYING = 0.02", CARD),
    Mutant("large change is kept quiet", "counting/learn.py", "WORTH_SAYING = 0.03", "WORTH_SAYING = 0.04", CARD),
    Mutant("half the recipe is judged by less", "counting/learn.py", "SMALL = 0.5", "SMALL = 0.4", CARD),
    Mutant("half the recipe is judged by more", "counting/learn.py", "SMALL = 0.5", "SMALL = 0.6", CARD),
    Mutant("what trades places is told apart", "counting/learn.py", "BLURRED = -0.5", "BLURRED = -0.6", BLUR),
    Mutant("what is apart is blurred", "counting/learn.py", "BLURRED = -0.5", "BLURRED = -0.4", BLUR),
    Mutant("a loss stands in for anything", "counting/learn.py", "FAR = 3.0", "FAR = 4.0", NEAR),
    Mutant(
        "carriage takes no cash", "buying/packing.py", "fees=setting.terms.fees * (1 + prices[0])",
        "fees=setting.terms.fees",
        f"{ORDER_LAWS}::test_at_a_price_a_choice_costs_as_much_more_as_what_it_takes_is_worth",
    ),
    Mutant(
        "what was not solved counts as proven", "buying/search.py", "return float(min(bounds.min(), best.cost))",
        "return best.cost", f"{ORDER_LAWS}::test_where_the_search_gives_up_early_its_bound_still_holds",
    ),
    Mutant("a loss stands in for less", "counting/learn.py", "FAR = 3.0", "FAR = 2.0", NEAR),
)  # fmt: skip


@pytest.fixture(scope="module")
def copy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Copy what is to be changed."""
    place = tmp_path_factory.mktemp("mutants")
    without = shutil.ignore_patterns("__pycache__", "benchmarks", "*.sqlite")
    for folder in ("stockroom", "tests"):
        shutil.copytree(ROOT / folder, place / folder, ignore=without)
    shutil.copytree(
        ROOT / "tests" / "benchmarks", place / "tests" / "benchmarks", ignore=shutil.ignore_patterns("__pycache__")
    )
    shutil.copy(ROOT / "pyproject.toml", place)
    return place


@pytest.fixture
def changed(copy: Path, request: pytest.FixtureRequest) -> Iterator[Mutant]:
    """Change one text of the copy, and put it back."""
    mutant: Mutant = request.param
    module = copy / "stockroom" / mutant.module
    text = module.read_text(encoding="utf-8")
    assert text.count(mutant.right) == 1, "the code has moved on: name the text anew"
    module.write_text(text.replace(mutant.right, mutant.wrong), encoding="utf-8")
    yield mutant
    module.write_text(text, encoding="utf-8")


@pytest.mark.parametrize("changed", MUTANTS, ids=lambda mutant: mutant.fault, indirect=True)
def test_the_fault_is_noticed(changed: Mutant, copy: Path) -> None:
    assert run(copy, changed.noticed) == 1, f"nothing in {changed.noticed} notices"


def test_without_a_fault_nothing_is_noticed(copy: Path) -> None:
    """Otherwise the copy itself would be what fails."""
    assert run(copy, *dict.fromkeys(mutant.noticed for mutant in MUTANTS)) == 0


def run(copy: Path, *tests: str) -> int:
    """Run tests of the copy until one fails; 0: none did, 1: one did."""
    words = [sys.executable, "-B", "-m", "pytest", "-q", "-x", "-m", "", "-p", "no:cacheprovider", *tests]
    return subprocess.run(
        words, cwd=copy, env=os.environ | {"PYTHONPATH": str(copy)}, check=False, capture_output=True
    ).returncode
