from tests.end_to_end.shop import Indoors


def test_the_journal_says_what_was_done_and_nothing_that_was_typed(desk: Indoors) -> None:
    desk("take-in", "heel", "--customer", "Wilhelmina Quux", "--note", "rings twice", "--who", "Bo")
    desk("sell", "polish", "1 piece", "--note", "for Quux")
    desk("sell", "nothing of the kind", "1 piece")
    desk("forget", "Wilhelmina Quux")
    desk("shelf")
    text = desk.book.with_name("book.sqlite.journal.txt").read_text("utf-8")
    said = [line.partition("command line, ")[2].partition(", ")[2] for line in text.splitlines()]
    assert said == ["take-in, ticket 2400", "sell, document 412", "sell, refused", "forget, done"]
    assert all(line.startswith("2026-11-24 10:00:00  command line, ") for line in text.splitlines())
    assert not any(typed in text for typed in ("Quux", "Wilhelmina", "rings", "polish", "Bo,", "secret"))
