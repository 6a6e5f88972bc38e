"""What the bench may use in place of what is lacking: jobs possible, the card and the outlook say the same of it."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.flows.bench import cards, tickets
from stockroom.flows.bench.can_do import CanDoJob, can_do_job, free_now
from stockroom.flows.bench.in_place import if_used_instead, in_place
from stockroom.flows.bench.jobs_possible import can_do
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.loading.lists import list_kind, save
from stockroom.flows.outlook.run_outs import look_ahead
from stockroom.stock.agreements import DoesWork, Substitute, who_does_it
from stockroom.stock.postings import Actual
from stockroom.stock.recipes import Need
from stockroom.store import ledger
from stockroom.store.book import Book
from tests import build
from tests.unit.flows.outlook import test_agreements as shop

NOW, JOB = shop.NOW, Wanted(job="SOLES")
book = shop.book


def _possible(of: Book) -> int:
    return next(each.most for each in can_do(of, NOW))


def _substitute(of: Book, one_way: str, **row: str) -> None:
    shop._add(of, "substitutes", **(row | {"one way": one_way} if one_way else row))


@pytest.mark.parametrize("one_way", ["", "yes"])
def test_as_many_jobs_are_possible_as_can_be_finished_with_what_does_the_work(book: Book, one_way: str) -> None:
    assert _possible(book) == 2  # twelve dm2 at six a pair
    _substitute(book, one_way, material="THIN", substitute="THICK", does="0.5")
    assert _possible(book) == 2 + 15  # and 180 at twelve
    for _ in range(2):
        tickets.finish_at_once(book, JOB, build.stamp(NOW))
    ticket = tickets.take_in(book, JOB, build.stamp(NOW))
    seen = look_ahead(book, NOW, n_paths=60)
    asked = can_do_job(book, seen, JOB, build.stamp(NOW, note="asked"))
    assert (asked.lacking, asked.today) == ((), 1.0)
    assert not [each for each in seen.tickets if each.chance > 0]
    (said,) = cards.ticket_card(book, ticket.number, NOW).in_place
    assert said.startswith("6 dm2 of Thin sheet is lacking: 12 dm2 of Thick sheet does that work.")
    assert len(free_now(book, JOB, build.stamp(NOW, note="asked")).in_place) == 1
    with_thick = Actual(instead={"sole": "THICK"}, amounts={"sole": build.amount("12 dm2")})
    tickets.finish_ticket(book, ticket.number, build.stamp(NOW), with_thick)
    assert if_used_instead(book, ["THIN"]).startswith("Thick sheet does the work of Thin sheet")
    for _ in range(14):
        assert _possible(book) > 0
        tickets.finish_at_once(book, JOB, build.stamp(NOW), actual=with_thick)
    assert _possible(book) == 0
    assert if_used_instead(book, ["THIN"]) == "", "there is none of it"
    with book.reading() as session:
        assert set(ledger.balances(session).values()) == {0}
    last = can_do_job(book, look_ahead(book, NOW, n_paths=60), JOB, build.stamp(NOW, note="asked"))
    assert [each.material for each in last.lacking] == ["THIN"]
    assert last.in_place == ()


def test_one_way_is_one_way(book: Book) -> None:
    _substitute(book, "yes", material="THICK", substitute="THIN")
    assert _possible(book) == 2
    for _ in range(3):
        tickets.finish_at_once(book, JOB, build.stamp(NOW))
    assert if_used_instead(book, ["THIN"]) == ""


def test_what_is_one_with_a_substitute_does_the_work_as_well() -> None:
    materials = {code: build.material(code) for code in "ABCD"}
    listed = [
        Substitute(material="A", other="B", does=Fraction(2)),
        Substitute(material="C", other="D", does=Fraction(1, 3)),
        Substitute(material="B", other="C", does=Fraction(1, 2), one_way=True),
    ]
    who = {code: {each.other: each.does for each in others} for code, others in who_does_it(listed, materials).items()}
    assert who == {
        "A": {"B": 2, "C": 1, "D": Fraction(1, 3)},
        "B": {"A": Fraction(1, 2), "C": Fraction(1, 2), "D": Fraction(1, 6)},
        "C": {"D": Fraction(1, 3)},
        "D": {"C": 3},
    }


@given(
    wanted=st.lists(st.integers(0, 50), min_size=3, max_size=3),
    there=st.lists(st.integers(-9, 60), min_size=3, max_size=3),
    does=st.fractions(Fraction(1, 5), 5, max_denominator=7),
)
def test_nothing_is_used_twice_and_what_is_lacking_is_told(wanted: list[int], there: list[int], does: Fraction) -> None:
    codes = ["A", "B", "C"]
    who = {
        "A": [DoesWork(other="B", does=does), DoesWork(other="C", does=Fraction(1))],
        "C": [DoesWork(other="B", does=does)],
    }
    needs = [Need(line=code, material=code, nano=much) for code, much in zip(codes, wanted, strict=True)]
    free = dict(zip(codes, there, strict=True))
    found, short = in_place(needs, free, who)
    left = {code: max(free[code], 0) - need.nano for code, need in zip(codes, needs, strict=True)}
    for each in found:
        left[each.material] += each.lack
        left[each.other] -= each.nano
        assert each.lack <= each.nano * {d.other: d.does for d in who[each.material]}[each.other]
    assert {code: -nano for code, nano in left.items() if nano < 0} == short


def test_what_is_missing_is_promised_by_whoever_brings_it_first_though_dearer(book: Book) -> None:
    def asked() -> CanDoJob:
        three = Wanted(job="SOLES", shoes=6)
        return can_do_job(book, look_ahead(book, NOW, n_paths=60), three, build.stamp(NOW, note="asked"))

    slow = asked()
    quick = {"code": "QUICK", "name": "Quick Lane (invented)", "lead days": "2"}
    offer = {"supplier": "QUICK", "material": "THIN", "supplier code": "Q1", "pack": "60", "unit": "dm2"}
    save(book, list_kind("suppliers"), [quick], NOW)
    save(book, list_kind("offers"), [offer | {"price": "60.00", "valid from": "2026-01-01"}], NOW)
    quicker = asked()
    assert [each.supplier for each in (*slow.lacking, *quicker.lacking)] == [
        "North Row (invented)",
        "Quick Lane (invented)",
    ]
    assert slow.day is not None
    assert quicker.day is not None
    assert quicker.day < slow.day
