import pytest
import sqlalchemy as sa

from stockroom.flows.book.check import check
from stockroom.stock.audit_log import LogLine
from stockroom.store import audit_log
from stockroom.store.book import Book
from tests import build


def _line(n: int) -> LogLine:
    when = build.at(f"2026-03-01 09:{n:02d}")
    return LogLine(when=when, door="pages", who="owner", device="192.0.2.7", what=f"page.{n}", outcome="done")


@pytest.fixture
def noted(book: Book) -> Book:
    with book.writing() as session:
        audit_log.append(session, [_line(n) for n in range(4)])
        audit_log.append(session, [_line(4)])
    return book


def test_lines_read_back_with_the_newest_last(noted: Book) -> None:
    with noted.reading() as session:
        assert audit_log.newest(session, 3) == [_line(2), _line(3), _line(4)]
        assert len(audit_log.newest(session, 100)) == 5


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE deed SET who = 'me'",
        "DELETE FROM deed WHERE id = 5",
        "INSERT INTO deed (id, who) VALUES (1, 'me') ON CONFLICT (id) DO UPDATE SET who = 'me'",
    ],
)
def test_the_database_refuses_to_change_a_line(noted: Book, change: str) -> None:
    _is_refused(noted, change)


def test_no_program_replaces_or_truncates_lines(noted: Book) -> None:
    change = "TRUNCATE deed" if noted.on_server else "REPLACE INTO deed (id, who) VALUES (1, 'me')"
    _is_refused(noted, change)


def _is_refused(noted: Book, change: str) -> None:
    def run() -> None:
        with noted.writing() as session:
            session.execute(sa.text(change))

    with pytest.raises(sa.exc.DatabaseError, match="what was done stays written"):
        run()


def test_a_line_taken_out_is_missed_as_is_its_guard(noted: Book) -> None:
    guard = "deed_append_only ON deed" if noted.on_server else "deed_no_delete"
    with noted.writing() as session:
        session.execute(sa.text(f"DROP TRIGGER {guard}"))
        session.execute(sa.text("DELETE FROM deed WHERE id IN (2, 3)"))
    assert check(noted).faults == (
        f"The guard '{guard.split(maxsplit=1)[0]}' that keeps the ledger from being edited is gone.",
        "Of the lines that say what was done, 2 are missing.",
    )
