import socket
from pathlib import Path

from tests.end_to_end.shop import Indoors, in_file
from tests.postgres import Server

TYPED = ("Quux", "Wilhelmina", "rings", "polish", "Bo,", "secret")


def _a_day(desk: Indoors, *book: str) -> None:
    desk(*book, "take-in", "heel", "--customer", "Wilhelmina Quux", "--note", "rings twice", "--who", "Bo")
    desk(*book, "sell", "polish", "1 piece", "--note", "for Quux")
    desk(*book, "sell", "nothing of the kind", "1 piece")
    desk(*book, "forget", "Wilhelmina Quux")
    desk(*book, "shelf")
    desk(*book, "log")


@in_file
def test_the_journal_says_what_was_done_and_nothing_that_was_typed(desk: Indoors) -> None:
    _a_day(desk)
    text = desk.book.with_name("book.sqlite.journal.txt").read_text("utf-8")
    assert all(line.startswith("2026-11-24 10:00:00  command line, ") for line in text.splitlines())
    here = f", {socket.gethostname()}, "
    said = [line.partition(here)[2] for line in text.splitlines()]
    assert said == ["take-in, ticket 2400", "sell, document 413", "sell, refused", "forget, done"]
    assert not any(typed in text for typed in TYPED)
    assert desk.says("log") == text, "the command shows what the file says"
    assert desk.says("log", "--newest", "1") == text.splitlines(keepends=True)[-1]


@in_file
def test_a_look_is_no_deed_and_a_change_by_the_same_command_is(desk: Indoors, tmp_path: Path) -> None:
    empty = tmp_path / "sales.csv"
    empty.write_text("when,material,amount\n")
    for looks in (
        ("settings",),
        ("sites",),
        ("tax-rates",),
        ("account-numbers",),
        ("usage",),
        ("load", "--check-only", str(empty)),
    ):
        desk.says(*looks)
    journal = desk.book.with_name("book.sqlite.journal.txt")
    assert not journal.exists()
    desk.says("settings", "idle_days=200")
    desk.says("sites", "--add", "kiosk")
    desk.says("tax-rates", "2027-01-01", "23")
    assert desk("settings", "idle_days=0").code == 2
    here = f", {socket.gethostname()}, "
    said = [line.partition(here)[2] for line in journal.read_text("utf-8").splitlines()]
    assert said == ["settings, done", "sites, done", "tax-rates, done", "settings, refused"]


@in_file
def test_a_servers_book_keeps_the_same_lines_itself(desk: Indoors, server: Server) -> None:
    place = server.create("noted")
    moved = desk("copy-book", place)
    assert (moved.code, str(server.folder) in moved.out) == (0, False), "no address of a server is shown"
    _a_day(desk, "--book", place)
    _a_day(desk)
    said = desk.says("--book", place, "log", "--newest", "4")
    assert said == desk.says("log", "--newest", "4")
    found = desk.facts("--book", place, "log")["deeds"]
    assert [(row["from"], row["what"], row["outcome"]) for row in found[:2]] == [
        (socket.gethostname(), "take-in", "ticket 2400"),
        (socket.gethostname(), "sell", "document 413"),
    ]
    assert not any(typed in said for typed in (*TYPED, str(server.folder)))
    server.drop(place)
