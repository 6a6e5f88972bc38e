from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from stockroom.errors import AmbiguousError, RefusedError, UnknownError, UsageError
from stockroom.flows.bench import tickets as bench
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.posting import undo
from stockroom.stock.postings import Actual
from stockroom.stock.tickets import TicketState
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book
from tests import build

PAIR = Wanted(job="resole", size=build.size("EU 42"), chosen={"sole": "rubber"})


def test_a_ticket_taken_in_and_finished_draws_by_its_card(open_shop: Book) -> None:
    ticket = bench.take_in(open_shop, PAIR, build.stamp("2026-01-06"))
    assert (ticket.number, ticket.job, ticket.price, ticket.state) == ("1001", "RESOLE", 6500, TicketState.BOOKED)
    done = bench.finish_ticket(open_shop, "1001", build.stamp("2026-01-08"))
    assert {need.line: need.nano for need in done.used} == {
        "rubber sole": build.nano("1 pair"), "filler": build.nano("30 g"), "cement": build.nano("48 ml"), "seam": build.nano("1 m"),
    }  # fmt: skip
    assert done.left["SOLE-L"] == build.nano("13 pair")
    assert (done.ticket.state, done.ticket.finished, done.ticket.finish_document) == (
        TicketState.FINISHED,
        build.at("2026-01-08"),
        done.document,
    )


def test_the_card_of_the_day_it_is_finished_counts(open_shop: Book) -> None:
    with open_shop.writing() as session:
        more = build.recipe("HEELS", build.line("tips", "TIP", "2 pair"), valid_from=date(2026, 2, 1), reference="")
        catalogue.add_recipes(session, [more])
    for number, day in (("a", "2026-01-31"), ("b", "2026-02-01")):
        bench.take_in(open_shop, Wanted(job="HEELS", number=number), build.stamp("2026-01-06"))
        bench.finish_ticket(open_shop, number, build.stamp(day))
    with open_shop.reading() as session:
        drawn = {m.ticket: -m.nano for _, m in ledger.moves_of_material(session, "TIP") if m.ticket}
    assert drawn == {"a": build.nano("1 pair"), "b": build.nano("2 pair")}


def test_actual_amounts_and_substitutes_are_drawn_and_remembered(open_shop: Book) -> None:
    actual = Actual(amounts={"filler": build.amount("41 g")}, instead={"rubber sole": "small"})
    done = bench.finish_at_once(open_shop, PAIR, build.stamp("2026-01-08"), actual)
    assert done.changed == (
        "rubber sole: 1 pair SOLE-S instead of 1 pair SOLE-L",
        "filler: 41 g FILLER instead of 30 g FILLER",
    )
    with open_shop.reading() as session:
        document = ledger.read_documents(session, numbers=[done.document])[0]
    assert document.content["changed"] == list(done.changed)


def test_lines_choices_and_options_are_found_in_any_capitals_and_by_the_materials_name(open_shop: Book) -> None:
    wanted = replace(PAIR, chosen={"SOLE": "Rubber"})
    actual = Actual(amounts={"Filler": build.amount("41 g")}, instead={"Rubber Sole": "small"})
    done = bench.finish_at_once(open_shop, wanted, build.stamp("2026-01-08"), actual)
    assert done.ticket.chosen == {"sole": "rubber"}
    assert done.changed == (
        "rubber sole: 1 pair SOLE-S instead of 1 pair SOLE-L",
        "filler: 41 g FILLER instead of 30 g FILLER",
    )
    with open_shop.reading() as session:
        name = catalogue.read_materials(session)
    named = next(each.name for each in name if each.code == "FILLER")
    again = bench.finish_at_once(
        open_shop, PAIR, build.stamp("2026-01-09"), Actual(amounts={named: build.amount("42 g")})
    )
    assert again.changed == ("filler: 42 g FILLER instead of 30 g FILLER",)


def test_work_done_again_draws_without_income(open_shop: Book) -> None:
    first = bench.finish_at_once(open_shop, PAIR, build.stamp("2026-01-08"))
    again = bench.redo_ticket(open_shop, first.ticket.number, build.stamp("2026-02-08"))
    assert (again.ticket.redo_of, again.ticket.price, again.used) == (first.ticket.number, 0, first.used)
    with pytest.raises(RefusedError, match=r"^Ticket 1003 is open, not finished\.$"):
        bench.redo_ticket(
            open_shop, bench.take_in(open_shop, PAIR, build.stamp("2026-02-08")).number, build.stamp("2026-02-09")
        )


def test_finishing_the_same_ticket_twice_is_refused(open_shop: Book) -> None:
    done = bench.finish_at_once(open_shop, PAIR, build.stamp("2026-01-08"))
    with pytest.raises(RefusedError) as caught:
        bench.finish_ticket(open_shop, done.ticket.number, build.stamp("2026-01-09"))
    assert (caught.value.what, caught.value.fix) == (
        "Ticket 1001 is finished already.",
        "Undo that first if it is a mistake.",
    )
    with pytest.raises(RefusedError, match=r"^Ticket 1001 is finished already\.$"):
        bench.cancel_ticket(open_shop, done.ticket.number, build.stamp("2026-01-09"))


def test_repeating_a_finish_that_was_undone_names_its_document_and_draws_nothing(open_shop: Book) -> None:
    stamp = build.stamp("2026-01-08", "once")
    bench.take_in(open_shop, PAIR, build.stamp("2026-01-06"))
    first = bench.finish_ticket(open_shop, "1001", stamp)
    undo.undo(open_shop, first.document, build.stamp("2026-01-09"))
    again = bench.finish_ticket(open_shop, "1001", stamp)
    assert (again.fresh, again.document, again.ticket.state) == (False, first.document, TicketState.BOOKED)


def test_an_undone_finish_leaves_the_ticket_booked_and_the_shelf_as_it_was(open_shop: Book) -> None:
    ticket = bench.take_in(open_shop, PAIR, build.stamp("2026-01-06"))
    done = bench.finish_ticket(open_shop, ticket.number, build.stamp("2026-01-08"))
    back = undo.undo(open_shop, done.document, build.stamp("2026-01-09"))
    with open_shop.reading() as session:
        assert ledger.balances(session) == {code: build.nano(text) for code, text in build.OPENING.items()}
        assert tickets.the_ticket(session, ticket.number) == ticket
    undo.undo(open_shop, back.number, build.stamp("2026-01-10"))
    with open_shop.reading() as session:
        assert ledger.balances(session)["SOLE-L"] == build.nano("13 pair")
        assert tickets.the_ticket(session, ticket.number).state is TicketState.FINISHED


def test_an_undone_finish_without_take_in_leaves_nothing_booked(open_shop: Book) -> None:
    done = bench.finish_at_once(open_shop, PAIR, build.stamp("2026-01-08"))
    undo.undo(open_shop, done.document, build.stamp("2026-01-09"))
    assert bench.booked(open_shop) == []


def test_a_cancelled_ticket_can_not_be_finished_by_undoing_an_undo(open_shop: Book) -> None:
    bench.take_in(open_shop, PAIR, build.stamp("2026-01-06"))
    done = bench.finish_ticket(open_shop, "1001", build.stamp("2026-01-08"))
    back = undo.undo(open_shop, done.document, build.stamp("2026-01-09"))
    bench.cancel_ticket(open_shop, "1001", build.stamp("2026-01-10"))
    with pytest.raises(RefusedError) as caught:
        undo.undo(open_shop, back.number, build.stamp("2026-01-11"))
    assert (caught.value.what, caught.value.fix) == (
        "Ticket 1001 is cancelled by another document.",
        "Undo that one first.",
    )


def test_the_customers_name_is_on_no_document(open_shop: Book) -> None:
    bench.take_in(open_shop, Wanted(job="HEELS", customer="Somebody Private"), build.stamp("2026-01-06"))
    with open_shop.reading() as session:
        assert "Private" not in repr(ledger.read_documents(session))


@pytest.mark.parametrize(
    ("wanted", "error", "what"),
    [
        (Wanted(job="RESOLE"), UsageError, "Full resole needs the shoe size."),
        (Wanted(job="HEELS", shoes=0), UsageError, "0 shoes are no job."),
        (Wanted(job="HEELS", price=-1), UsageError, "A price can't be below zero."),
        (Wanted(job="HEELS", chosen={"sole": "rubber"}), UsageError, "HEELS has no choice 'sole'."),
        (Wanted(job="e"), AmbiguousError, "'e' fits more than one job."),
        (Wanted(job="HEELS", redo_of="77"), UnknownError, "There is no ticket 77."),
        (Wanted(job="LACES", chosen={"colour": "green"}), UnknownError, "No variant of LACE fits green."),
    ],
)
def test_what_could_not_be_done_later_is_refused_at_the_counter(
    open_shop: Book, wanted: Wanted, error: type[Exception], what: str
) -> None:
    with pytest.raises(error) as caught:
        bench.take_in(open_shop, wanted, build.stamp("2026-01-06"))
    assert str(caught.value) == what
    assert bench.booked(open_shop) == []


def test_a_job_without_a_card_that_day_is_refused(open_shop: Book) -> None:
    with pytest.raises(UnknownError) as caught:
        bench.take_in(open_shop, Wanted(job="HEELS"), build.stamp("2025-12-31"))
    assert caught.value.what == "HEELS has no recipe valid on 2025-12-31."


def test_a_number_is_given_once(open_shop: Book) -> None:
    bench.take_in(open_shop, Wanted(job="HEELS", number="A7"), build.stamp("2026-01-06"))
    with pytest.raises(RefusedError, match=r"^There is a ticket A7 already\.$"):
        bench.take_in(open_shop, Wanted(job="HEELS", number="A7"), build.stamp("2026-01-06"))


def test_a_share_of_a_material_adds_up_over_jobs(open_shop: Book) -> None:
    for _ in range(3):
        bench.finish_at_once(open_shop, PAIR, build.stamp("2026-01-08"))
    with open_shop.reading() as session:
        left = ledger.balances(session)["THREAD"]
    assert Fraction(build.nano("420 m") - left, 10**9) == 3
