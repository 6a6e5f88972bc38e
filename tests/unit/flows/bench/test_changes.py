"""An open ticket changes: its document says old and new, what it takes follows, and all of it can be undone."""

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench import changes, recipes_made
from stockroom.flows.bench import tickets as bench
from stockroom.flows.bench.can_do import SURE, can_do_job
from stockroom.flows.bench.changes import TicketChanges
from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.book.check import check
from stockroom.flows.book.snapshot import tickets_then
from stockroom.flows.outlook.run_outs import look_ahead
from stockroom.flows.posting import undo
from stockroom.stock.recipes import OTHER, Extra, Job
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book
from tests import build

PAIR = Wanted(job="resole", size=build.size("EU 42"), chosen={"sole": "rubber"}, customer="A. Name")
LACES = Extra(material="LACE-BROWN", amount=build.amount("2 pair"))


def taken(book: Book, wanted: Wanted = PAIR) -> str:
    return bench.take_in(book, wanted, build.stamp("2026-01-06")).number


def change(book: Book, number: str, **facts: object) -> changes.ChangedTicket:
    return changes.change_ticket(book, number, TicketChanges(**facts), build.stamp("2026-01-07"))  # type: ignore[arg-type]


def ticket(book: Book, number: str) -> Ticket:
    with book.reading() as session:
        return tickets.the_ticket(session, number)


def reserved(book: Book, code: str) -> int:
    return next(row.set_aside for row in shelf_rows(book) if row.material == code)


def test_what_changes_is_said_old_and_new_and_never_a_name(open_shop: Book) -> None:
    number = taken(open_shop)
    done = change(
        open_shop, number, more=600, chosen={"sole": "leather"}, promised=build.at("2026-01-20").date(),
        customer="B. Other", note="thin edge", size=build.size("EU 40"),
    )  # fmt: skip
    assert done.said == (
        "size: EU 42 → EU 40",
        "choices: sole rubber → sole leather",
        "promised: none → Tue 20 Jan 2026",
        "price: €65.00 → €71.00",
        "another pick-up name",
        "another note",
    )
    with open_shop.reading() as session:
        document = ledger.read_documents(session, numbers=[done.document])[0]
    assert "Other" not in str(document)
    assert "Name" not in str(document)
    assert "thin edge" not in str(document), "a note may have to be forgotten, too"
    assert ticket(open_shop, number).customer == "B. Other"


def test_undoing_a_change_gives_back_every_fact_but_the_name(open_shop: Book) -> None:
    number = taken(open_shop)
    before = ticket(open_shop, number)
    done = change(
        open_shop, number, price=100, add=(LACES,), leave_out=("filler",), by_post=True, post_cost=825, shoes=4
    )
    after = ticket(open_shop, number)
    back = undo.undo(open_shop, done.document, build.stamp("2026-01-08"))
    assert ticket(open_shop, number) == before
    undo.undo(open_shop, back.number, build.stamp("2026-01-08"))
    assert ticket(open_shop, number) == after
    assert check(open_shop).faults == ()


def test_a_change_made_again_since_is_undone_last_first(open_shop: Book) -> None:
    number = taken(open_shop)
    first, second = change(open_shop, number, price=100), change(open_shop, number, price=200)
    with pytest.raises(RefusedError, match="was changed again later"):
        undo.undo(open_shop, first.document, build.stamp("2026-01-08"))
    undo.undo(open_shop, second.document, build.stamp("2026-01-08"))
    undo.undo(open_shop, first.document, build.stamp("2026-01-08"))
    assert ticket(open_shop, number).price == 6500


def test_what_is_added_and_left_out_is_reserved_and_drawn(open_shop: Book) -> None:
    number = taken(open_shop)
    change(open_shop, number, add=(LACES,), leave_out=("filler",))
    assert (reserved(open_shop, "LACE-BROWN"), reserved(open_shop, "FILLER")) == (build.nano("2 pair"), 0)
    change(open_shop, number, put_back=("filler",), leave_out=("extra LACE-BROWN",))
    assert (reserved(open_shop, "LACE-BROWN"), reserved(open_shop, "FILLER")) == (0, build.nano("30 g"))
    drawn = bench.finish_ticket(
        open_shop, number, build.stamp("2026-01-08"), changes=TicketChanges(add=(LACES,), leave_out=("cement",))
    )
    assert {need.line for need in drawn.used} == {"rubber sole", "filler", "seam", "extra LACE-BROWN"}


def test_the_wrong_changes_are_refused_and_leave_everything_as_it_was(open_shop: Book) -> None:
    number = taken(open_shop)
    before = ticket(open_shop, number)
    for facts, error in (
        ({}, RefusedError),
        ({"leave_out": ("laces",)}, RefusedError),
        ({"put_back": ("filler",)}, RefusedError),
        ({"chosen": {"sole": "wood"}}, UsageError),
        ({"promised": build.at("2025-12-01").date()}, UsageError),
        ({"price": -1}, UsageError),
        ({"shoes": 0}, UsageError),
        ({"add": (Extra(material="TIP", amount=build.amount("0 pair")),)}, RefusedError),
    ):
        with pytest.raises(error):
            change(open_shop, number, **facts)
    bench.finish_ticket(open_shop, number, build.stamp("2026-01-08"))
    with pytest.raises(RefusedError, match="is finished already"):
        change(open_shop, number, price=1)
    assert ticket(open_shop, number).price == before.price


def test_a_ticket_is_seen_as_it_was_before_it_changed(open_shop: Book) -> None:
    number = taken(open_shop)
    before = ticket(open_shop, number)
    changes.change_ticket(open_shop, number, TicketChanges(price=1, add=(LACES,)), build.stamp("2026-01-09"))
    with open_shop.reading() as session:
        (then,) = [t for t in tickets_then(session, build.at("2026-01-08")) if t.number == number]
    assert then == before


def test_what_was_open_then_is_found_without_reading_years_of_work(open_shop: Book) -> None:
    """Of a moment the same tickets are open, and the same were finished since, whether all are read or only those."""
    kept, finished, cancelled = (taken(open_shop) for _ in range(3))
    bench.finish_ticket(open_shop, finished, build.stamp("2026-01-08 10:00"))
    bench.cancel_ticket(open_shop, cancelled, build.stamp("2026-01-09 10:00"))
    for day in ("2026-01-05", "2026-01-07", "2026-01-08 11:00", "2026-01-10"):
        moment = build.at(day)
        with open_shop.reading() as session:
            every = tickets_then(session, build.at("2026-01-12"))
            then = tickets_then(session, moment)
            assert [t for t in then if t.state is TicketState.BOOKED] == [
                t for t in tickets_then(session, moment, since=moment) if t.state is TicketState.BOOKED
            ]
            later = [t for t in every if t.finished and t.finished > moment]
            found = tickets_then(session, build.at("2026-01-12"), since=moment)
            assert [t for t in found if t.finished and t.finished > moment] == later
            assert {t.number for t in tickets_then(session, moment, since=moment, also=[finished])} >= {
                t.number for t in then if t.number == finished
            }
    assert ticket(open_shop, kept).state is TicketState.BOOKED


def test_a_take_in_that_was_changed_is_undone_after_its_changes(open_shop: Book) -> None:
    number = taken(open_shop)
    first = build.last(open_shop)
    done = change(open_shop, number, price=1)
    with pytest.raises(RefusedError, match="was changed or worked on since"):
        undo.undo(open_shop, first, build.stamp("2026-01-08"))
    undo.undo(open_shop, done.document, build.stamp("2026-01-08"))
    undo.undo(open_shop, first, build.stamp("2026-01-08"))


def test_work_on_no_price_list_needs_a_note_and_takes_what_is_named(open_shop: Book) -> None:
    with pytest.raises(UsageError, match="What is to be done"):
        bench.take_in(open_shop, Wanted(job="other", price=2500), build.stamp("2026-01-06"))
    stamp = build.stamp("2026-01-06", note="Resew a strap")
    strap = bench.take_in(open_shop, Wanted(job="other", price=2500, add=(LACES,)), stamp)
    drawn = bench.finish_ticket(open_shop, strap.number, build.stamp("2026-01-08"))
    assert (strap.job, strap.note, drawn.used[0].material) == ("OTHER", "Resew a strap", "LACE-BROWN")
    with open_shop.reading() as session:
        assert OTHER in catalogue.read_jobs(session)


def test_a_job_whose_recipe_is_missing_takes_what_is_named(open_shop: Book) -> None:
    with open_shop.writing() as session:
        catalogue.save_jobs(session, [Job(code="PATCH", name="Patch", price=900)])
    drawn = bench.finish_at_once(open_shop, Wanted(job="PATCH", add=(LACES,)), build.stamp("2026-01-06"))
    assert [(need.line, need.nano) for need in drawn.used] == [("extra LACE-BROWN", build.nano("2 pair"))]
    assert not bench.has_recipe(open_shop, "PATCH")


def test_a_recipe_is_made_of_what_tickets_used(open_shop: Book) -> None:
    with open_shop.writing() as session:
        catalogue.save_jobs(session, [Job(code="PATCH", name="Patch", price=900)])
    thread = [Extra(material="THREAD", amount=build.amount(f"{metres} m")) for metres in (2, 4, 9)]
    more = [(), (LACES,), ()]
    numbers = [
        bench.finish_at_once(
            open_shop, Wanted(job="PATCH", shoes=2 * pairs, add=(one, *also)), build.stamp("2026-01-06")
        ).ticket.number
        for pairs, one, also in zip((1, 1, 3), thread, more, strict=True)
    ]
    made = recipes_made.make_recipe(open_shop, "PATCH", numbers, build.stamp("2026-01-07"))
    assert {line.material: (line.amount.nano, line.chance) for line in made.recipe.lines} == {
        "THREAD": (build.nano("3 m"), 1),  # fifteen metres on five pairs
        "LACE-BROWN": (build.nano("2 pair"), Fraction(1, 3)),
    }
    assert bench.would_take(open_shop, Wanted(job="PATCH"), build.stamp("2026-01-08"))[1].nano == build.nano("3 m")
    new = recipes_made.make_recipe(open_shop, "STRAP", numbers[:1], build.stamp("2026-01-07"), name="Strap")
    assert (new.job.name, new.job.price) == ("Strap", 900)
    with pytest.raises(UsageError, match="can't be a job's code"):
        recipes_made.make_recipe(open_shop, "a strap", numbers, build.stamp("2026-01-07"))
    open_one = bench.take_in(open_shop, Wanted(job="PATCH"), build.stamp("2026-01-08")).number
    with pytest.raises(RefusedError, match="not finished"):
        recipes_made.make_recipe(open_shop, "PATCH", [open_one], build.stamp("2026-01-08"))


def test_one_shoe_has_its_own_price(open_shop: Book) -> None:
    with open_shop.writing() as session:
        catalogue.save_jobs(session, [Job(code="PATCH", name="Patch", price=900, single_price=500)])
    single = bench.take_in(open_shop, Wanted(job="PATCH", shoes=1), build.stamp("2026-01-06"))
    assert (single.price, bench.one_shoe_at_a_pairs_price(open_shop, single, stated=False)) == (500, False)


@given(price=st.integers(0, 9000), single=st.none() | st.integers(0, 9000), shoes=st.integers(1, 12))
def test_the_price_list_asks_for_every_pair(price: int, single: int | None, shoes: int) -> None:
    job = Job(code="PATCH", name="Patch", price=price, single_price=single)
    odd = price if single is None else single
    assert job.price_of(shoes) == shoes // 2 * price + shoes % 2 * odd
    assert Job(code="ODD", name="Odd").price_of(shoes) is None


def test_more_pairs_cost_more_unless_another_price_was_agreed(open_shop: Book) -> None:
    with open_shop.writing() as session:
        catalogue.save_jobs(session, [Job(code="PATCH", name="Patch", price=900, single_price=500)])
    listed = taken(open_shop, Wanted(job="PATCH", shoes=4))
    assert ticket(open_shop, listed).price == 1800
    change(open_shop, listed, shoes=3)
    assert ticket(open_shop, listed).price == 1400
    agreed = taken(open_shop, Wanted(job="PATCH", shoes=4, price=1500))
    change(open_shop, agreed, shoes=2)
    assert ticket(open_shop, agreed).price == 1500
    change(open_shop, agreed, shoes=4, price=1700)
    assert ticket(open_shop, agreed).price == 1700
    assert check(open_shop).faults == ()


def test_where_no_day_is_sure_the_material_is_named(open_shop: Book) -> None:
    """By the book all of it is there, but nobody has counted it: in many futures it is gone, and none is on its way."""
    seen = look_ahead(open_shop, build.at("2026-01-06"), n_paths=50)
    row = seen.futures.codes.index("TIP")
    doubted = [
        replace(item, on_hand=np.where(np.arange(50) % 2, item.on_hand, 0.0)) if n == row else item
        for n, item in enumerate(seen.question.problem.items)
    ]
    problem = replace(seen.question.problem, items=tuple(doubted))
    seen = replace(seen, question=replace(seen.question, problem=problem))
    asked = can_do_job(
        open_shop, seen, Wanted(job="HEELS", chosen={"hold": "glued"}), build.stamp("2026-01-06", note="asked")
    )
    assert (asked.lacking, asked.day, asked.scarce) == ((), None, "TIP")


def test_it_says_what_is_missing_and_a_day_that_can_be_kept(open_shop: Book) -> None:
    seen = look_ahead(open_shop, build.at("2026-01-06"), n_paths=50)
    few = can_do_job(open_shop, seen, PAIR, build.stamp("2026-01-06", note="asked"))
    assert (few.lacking, few.day, few.today) == ((), build.at("2026-01-06").date(), 1.0)
    many = Wanted(job="HEELS", shoes=200, chosen={"hold": "glued"})
    asked = can_do_job(open_shop, seen, many, build.stamp("2026-01-06", note="asked"))
    tips = next(each for each in asked.lacking if each.material == "TIP")
    have = next(row.on_hand for row in shelf_rows(open_shop) if row.material == "TIP")
    assert tips.nano == build.nano("100 pair") - have
    assert tips.supplier
    assert tips.there is not None
    assert asked.today == 0
    assert asked.day is not None
    assert asked.day >= tips.there
    assert asked.chance >= SURE
