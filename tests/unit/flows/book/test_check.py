"""A book edited behind the program's back: every edit is found, and the document named."""

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from datetime import date

import psycopg
import pytest

from stockroom.errors import BookError
from stockroom.flows.accounts.closing import close_period
from stockroom.flows.bench.counter import sell, transfer
from stockroom.flows.bench.tickets import Wanted, cancel_ticket, finish_ticket, take_in
from stockroom.flows.book.check import check
from stockroom.flows.book.repeated import join_in
from stockroom.flows.counts.settle import settle_count, take_count
from stockroom.flows.ordering.place import OrderedPacks, end_order, place_order, receive_order
from stockroom.flows.posting.undo import undo
from stockroom.intake.columns import KINDS
from stockroom.margins.period import Period
from stockroom.stock.counts import Count, CountLine
from stockroom.store import ledger, list_changes, tables
from stockroom.store.book import Book
from tests import build
from tests.conftest import Maker

FINISH, DELIVERY, COUNT, LAST = 4, 8, 9, 13  # documents of the book below


@pytest.fixture
def lived_in(books: Maker) -> Book:
    """A book with a document of every usual kind, on either database."""
    return books(_live)


def _live(book: Book) -> None:
    build.opened(book)  # 1, and 2: what the lists hold
    booked = take_in(book, Wanted(job="HEELS"), build.stamp("2026-01-06"))  # 3
    finish_ticket(book, booked.number, build.stamp("2026-01-07"))  # 4
    later = take_in(book, Wanted(job="LACES", chosen={"colour": "black"}), build.stamp("2026-01-08"))  # 5
    cancel_ticket(book, later.number, build.stamp("2026-01-09"))  # 6
    lines = [OrderedPacks(material="THREAD", packs=2), OrderedPacks(material="FILLER", packs=2)]
    order = place_order(book, "NORTH", lines, build.stamp("2026-01-12"))  # 7
    receive_order(book, order.number, [], build.stamp("2026-01-16"), carriage=900)  # 8
    counted = CountLine(material="TIP", amount=build.amount("50 pair"), counted=build.at("2026-01-17"))
    take_count(book, Count(key="W3", lines=(counted,)), build.stamp("2026-01-17"))
    settle_count(book, "W3", build.stamp("2026-01-17"), confirmed=True)  # 9
    sale = sell(book, "POLISH", build.amount("2 piece"), build.stamp("2026-01-20"))  # 10
    undo(book, sale.document, build.stamp("2026-01-21"))  # 11
    transfer(book, "TIP", build.amount("5 pair"), build.stamp("2026-01-22"), to_site="kiosk")  # 12
    take_in(book, Wanted(job="HEELS"), build.stamp("2026-01-23"))  # 13


Edit = Callable[[str], int]  # a statement -> how many rows it changed


@contextmanager
def behind_its_back(book: Book) -> Iterator[Edit]:
    """Edit the book with another program: guards off, then put back as they were."""
    book.engine.dispose()
    with (_server_unguarded if book.on_server else _file_unguarded)(book.place) as edit:
        yield edit


@contextmanager
def _file_unguarded(place: str) -> Iterator[Edit]:
    with closing(sqlite3.connect(place)) as raw:
        guards = raw.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
        for name, _ in guards:
            raw.execute(f"DROP TRIGGER {name}")
        yield lambda edit: raw.execute(edit).rowcount
        for _, sql in guards:
            raw.execute(sql)
        raw.commit()


@contextmanager
def _server_unguarded(place: str) -> Iterator[Edit]:
    with psycopg.connect(place) as raw:
        raw.execute("SET session_replication_role = replica")  # whoever runs the server can: no trigger, no reference
        yield lambda edit: raw.execute(edit.encode()).rowcount


def _faults_after(book: Book, *edits: str) -> tuple[str, ...]:
    with behind_its_back(book) as edit:
        for each in edits:
            assert edit(each) != 0, each
    return check(book).faults


def test_a_lived_in_book_agrees(lived_in: Book) -> None:
    found = check(lived_in)
    assert (found.faults, found.cautions, found.documents) == ((), (), LAST)


_OTHER = {
    "key": "'another'", "kind": "'waste'", "subject": "'X9'", "happened": "'2026-01-01T09:00:00'",
    "booked_on": "'2026-02-01'", "entered": "'2026-02-01T09:00:00'", "site": "'kiosk'", "who": "'someone'",
    "note": "'a note'", "reverses": "2", "content": "'{}'", "chain": "'00'",
}  # fmt: skip


@pytest.mark.parametrize("column", _OTHER)
def test_an_edit_of_any_cell_of_a_document_is_found(lived_in: Book, column: str) -> None:
    faults = _faults_after(lived_in, f"UPDATE document SET {column} = {_OTHER[column]} WHERE id = {FINISH}")
    assert f"Document {FINISH} was changed, or one before it: its check figure does not fit." in faults


_MOVED = {
    "document": "9", "line": "9", "material": "'THREAD'", "nano": "nano - 1", "kind": "'waste'",
    "happened": "'2026-01-01T09:00:00'", "site": "'kiosk'", "value": "1", "recipe_line": "'x'", "ticket": "'x'",
    "lot": "'x'", "expiry": "'2027-01-01'",
}  # fmt: skip


@pytest.mark.parametrize("column", _MOVED)
def test_an_edit_of_any_cell_of_a_move_is_found(lived_in: Book, column: str) -> None:
    faults = _faults_after(
        lived_in, f"UPDATE move SET {column} = {_MOVED[column]} WHERE document = {DELIVERY} AND line = 2"
    )
    assert f"Document {DELIVERY} was changed, or one before it: its check figure does not fit." in faults


@pytest.mark.parametrize("number", [1, FINISH, DELIVERY])
def test_a_removed_document_is_missed(lived_in: Book, number: int) -> None:
    moves, document = f"DELETE FROM move WHERE document = {number}", f"DELETE FROM document WHERE id = {number}"
    assert f"Document {number} is missing." in _faults_after(lived_in, moves, document)


def test_a_removed_move_is_missed(lived_in: Book) -> None:
    faults = _faults_after(lived_in, f"DELETE FROM move WHERE document = {DELIVERY} AND line = 2")
    assert f"Document {DELIVERY} was changed, or one before it: its check figure does not fit." in faults


def test_an_added_move_is_found(lived_in: Book) -> None:
    faults = _faults_after(lived_in, f"INSERT INTO move (document, line, material, nano) VALUES ({COUNT}, 9, 'TIP', 1)")
    assert f"Document {COUNT} was changed, or one before it: its check figure does not fit." in faults


def test_a_move_of_no_document_is_found(lived_in: Book) -> None:
    faults = _faults_after(lived_in, "INSERT INTO move (document, line, material, nano) VALUES (99, 1, 'TIP', 1)")
    assert "1 moves belong to document 99, which is not there." in faults


def test_an_added_document_is_found(lived_in: Book) -> None:
    faults = _faults_after(
        lived_in,
        f"INSERT INTO document (id, key, kind, happened, entered, booked_on, chain) SELECT {LAST + 1}, 'x', 'waste', "
        f"happened, entered, booked_on, chain FROM document WHERE id = {LAST}",
    )
    assert f"What follows document {LAST} was not entered by this program." in faults


def test_two_documents_swapped_are_found(lived_in: Book) -> None:
    faults = _faults_after(
        lived_in,
        "UPDATE document SET id = -1 WHERE id = 5",
        "UPDATE document SET id = 5 WHERE id = 6",
        "UPDATE document SET id = 6 WHERE id = -1",
    )
    assert "Document 5 was changed, or one before it: its check figure does not fit." in faults


def test_the_last_documents_removed_are_missed(lived_in: Book) -> None:
    faults = _faults_after(
        lived_in, f"DELETE FROM move WHERE document >= {LAST - 1}", f"DELETE FROM document WHERE id >= {LAST - 1}"
    )
    assert f"Documents {LAST - 1} to {LAST} are missing at the end." in faults


def test_nothing_is_written_on_where_the_end_is_gone(lived_in: Book) -> None:
    _faults_after(lived_in, f"DELETE FROM document WHERE id = {LAST}")
    with pytest.raises(
        BookError, match=f"ends with document {LAST - 1}, but it was last written up to document {LAST}"
    ):
        sell(lived_in, "POLISH", build.amount("1 piece"), build.stamp("2026-01-24"))


def test_a_figure_printed_earlier_tells_a_ledger_written_anew(lived_in: Book) -> None:
    printed = check(lived_in).figure
    assert check(lived_in, figures=[printed[:16].upper()]).faults == ()
    assert (
        check(lived_in, figures=["0123456789abcdef"]).faults[0].startswith("The check figure '0123456789abcdef' is not")
    )


def test_a_changed_months_total_is_found(lived_in: Book) -> None:
    faults = _faults_after(lived_in, "UPDATE month_total SET nano = nano + 1 WHERE material = 'TIP' AND site = 'kiosk'")
    assert faults == ("The month's total of TIP at kiosk in 2026-01 does not fit its moves.",)


@pytest.mark.parametrize(
    ("books", "off", "name"),
    [
        ("sqlite", "DROP TRIGGER document_no_delete", "document_no_delete"),
        ("postgresql", "DROP TRIGGER document_append_only ON document", "document_append_only"),
        ("postgresql", "ALTER TABLE document DISABLE TRIGGER document_append_only", "document_append_only"),
        ("postgresql", "ALTER TABLE document ENABLE REPLICA TRIGGER document_append_only", "document_append_only"),
    ],
    indirect=["books"],
)
def test_a_guard_taken_off_is_missed(lived_in: Book, off: str, name: str) -> None:
    with lived_in.writing() as session:
        session.exec_driver_sql(off)
    assert check(lived_in).faults == (f"The guard '{name}' that keeps the ledger from being edited is gone.",)


@pytest.mark.parametrize(
    ("edit", "fault"),
    [
        ("UPDATE ticket SET state = 'booked' WHERE number = '1001'", "Ticket 1001 is open, but document 4 finishes it."),
        ("UPDATE ticket SET finish_document = 6 WHERE number = '1001'",
         "Ticket 1001 is finished, but by document 6 instead of 4."),
        ("UPDATE ticket SET finished = '2026-01-07T13:00:00' WHERE number = '1001'",
         "Ticket 1001 is finished, but at another time than its document 4 says."),
        ("UPDATE ticket SET state = 'booked' WHERE number = '1002'", "Ticket 1002 is open, but document 6 cancels it."),
        ("UPDATE ticket SET state = 'finished' WHERE number = '1003'",
         "Ticket 1003 is finished, but no document in force finishes it."),
        ("UPDATE ticket SET state = 'cancelled' WHERE number = '1003'",
         "Ticket 1003 is cancelled, but no document in force cancels it."),
        ("DELETE FROM ticket WHERE number = '1003'", "Document 13 is about ticket 1003, which is not there."),
        ("UPDATE order_line SET received = received - 1 WHERE material = 'THREAD'",
         "Order O-0001 has other amounts of THREAD N-THREAD received than its deliveries brought (8)."),
        ("UPDATE purchase_order SET state = 'placed'", "Order O-0001 is open, but its documents make it closed."),
        ("UPDATE count_line SET nano = nano + 1",
         "The book does not say what was counted of TIP at main, 2026-01-17 12:00 (document 9)."),
        ("UPDATE count_line SET settled_by = 10",
         "The count of TIP at main, 2026-01-17 12:00 is posted by document 10, which is not in force."),
        ("UPDATE setting SET value = 'sometimes' WHERE name = 'costing'",
         "The settings can't be read: 'sometimes' can't be costing."),
        ("UPDATE material SET unit = 'furlong' WHERE code = 'THREAD'", "The lists can't be read: No unit is called 'furlong'."),
        ("UPDATE recipe_line SET material = 'GONE' WHERE name = 'tips'",
         "The recipe of HEELS names the material GONE, which is not there."),
    ],
)  # fmt: skip
def test_what_stands_beside_the_documents_is_held_against_them(lived_in: Book, edit: str, fault: str) -> None:
    with lived_in.writing() as session:
        session.exec_driver_sql("INSERT INTO setting VALUES ('costing', 'fifo') ON CONFLICT DO NOTHING")
    faults = _faults_after(lived_in, edit)
    assert any(said.startswith(fault) for said in faults), faults


@pytest.mark.parametrize(
    ("edit", "fault"),
    [
        ("UPDATE material SET usual_cost_for = 7 WHERE code = 'TIP'",
         "The material TIP says 'usual cost for' is 7, but its documents make it "),
        ("UPDATE material SET place = 'cellar' WHERE code = 'TIP'", "The material TIP says 'location' is cellar, but "),
        ("UPDATE recipe_line SET nano = 1500000000 WHERE name = 'tips'", "says 'amount' is 1.5, but "),
    ],
)  # fmt: skip
def test_a_list_edited_by_hand_is_told_by_the_titles_of_its_file(lived_in: Book, edit: str, fault: str) -> None:
    assert any(fault in said for said in _faults_after(lived_in, edit)), _faults_after(lived_in, edit)


def test_every_column_of_a_list_has_a_title_as_in_its_file() -> None:
    """But for what only tells rows apart, no file has a column of: a recipe's own name and its line's place."""
    without = {("recipe", "id"), ("recipe_line", "recipe"), ("recipe_line", "position")}
    for name in list_changes.LISTS:
        kind = KINDS["shop" if name == "setting" else list_changes.CALLED[name]]
        titles = {column.title for column in kind.columns}
        said = {c.name: list_changes.title_of(name, c.name) for c in tables.metadata.tables[name].columns}
        untitled = {(name, column) for column, title in said.items() if title not in titles}
        assert untitled <= without | {("offer", "id")}, untitled


def test_a_book_that_says_everything_joins_in_without_a_word(lived_in: Book) -> None:
    """A later step of the schema: tickets, orders and counts are told by their own documents already."""
    with lived_in.writing() as session:
        before = ledger.head(session)
        join_in(session)
        assert ledger.head(session) == before
    assert check(lived_in).faults == ()


def test_rows_that_name_what_is_gone_are_found(lived_in: Book) -> None:
    faults = _faults_after(lived_in, "DELETE FROM material WHERE code = 'OFFCUT'")
    on_server = "Rows of 'move' name a material that is not there: 1."
    assert (on_server if lived_in.on_server else "Row 2 of 'move' names a material that is not there.") in faults


def test_a_document_booked_into_closed_days_is_found(lived_in: Book) -> None:
    close_period(lived_in, Period(first=date(2026, 1, 1), last=date(2026, 1, 31)), build.stamp("2026-02-02"))
    sell(lived_in, "POLISH", build.amount("1 piece"), build.stamp("2026-01-30", entered="2026-02-03"))
    assert check(lived_in).faults == ()
    faults = _faults_after(lived_in, f"UPDATE document SET booked_on = '2026-01-30' WHERE id = {LAST + 2}")
    assert f"Document {LAST + 2} is posted on 2026-01-30, in days that document {LAST + 1} had closed." in faults
    faults = _faults_after(lived_in, "UPDATE setting SET value = '2025-12-31' WHERE name = 'closed_through'")
    assert "The book is closed through 2025-12-31, but its documents close it through 2026-01-31." in faults


def test_what_can_not_be_read_at_all_is_a_fault_not_the_end(lived_in: Book) -> None:
    faults = _faults_after(lived_in, f"UPDATE document SET kind = 'nonsense', content = x'00ff' WHERE id = {FINISH}")
    assert f"Document {FINISH} was changed, or one before it: its check figure does not fit." in faults
    assert any(fault.startswith("The documents can't be read") for fault in faults)


def test_an_order_ended_early_agrees(lived_in: Book) -> None:
    order = place_order(lived_in, "NORTH", [OrderedPacks(material="THREAD", packs=2)], build.stamp("2026-01-26"))
    end_order(lived_in, order.number, build.stamp("2026-01-27"))
    assert check(lived_in).faults == ()


def test_a_clock_set_back_is_said_but_is_no_fault(lived_in: Book) -> None:
    sell(lived_in, "POLISH", build.amount("1 piece"), build.stamp("2026-01-24", entered="2020-01-01"))
    found = check(lived_in)
    assert found.faults == ()
    assert found.cautions == (
        f"The clock was set back: document {LAST + 1} was entered before 2026-01-23T12:00:00, the time of an earlier one.",
    )
