from dataclasses import replace

from stockroom.flows.bench.tickets import Wanted, cancel_ticket, take_in
from stockroom.flows.book.privacy import forget
from stockroom.store import tickets
from stockroom.store.book import Book
from stockroom.store.integrity import audit
from stockroom.store.transfer import ORDER
from tests import build


def test_a_person_is_forgotten_everywhere_and_the_chain_stays_whole(open_shop: Book) -> None:
    size = build.size("EU 42")
    first = take_in(open_shop, Wanted(job="RESOLE", size=size, customer="Nobody Atall"), build.stamp("2026-02-03"))
    other = take_in(open_shop, Wanted(job="RESOLE", size=size, customer="Someone Else"), build.stamp("2026-02-04"))
    cancel_ticket(open_shop, first.number, build.stamp("2026-02-05"))
    with open_shop.reading() as session:
        figure = audit(session).figure
    assert forget(open_shop, " nobody atall ").tickets == (first.number,)
    with open_shop.reading() as session:
        assert audit(session).faults == ()
        assert audit(session).figure == figure
        assert tickets.the_ticket(session, other.number).customer == "Someone Else"
        everything = [str(row) for table in ORDER for row in session.execute(table.select())]
    assert not any("atall" in text.casefold() for text in everything)
    assert forget(open_shop, "Nobody Atall").tickets == ()


def test_notes_that_name_a_person_are_found_and_emptied_only_when_asked(open_shop: Book) -> None:
    notes = ("For Nobody  ATALL, rings twice", "nobody home", "Nobody Atallsson", "")
    made = [
        take_in(open_shop, Wanted(job="HEELS"), replace(build.stamp("2026-02-03", f"n{n}"), note=note)).number
        for n, note in enumerate(notes)
    ]
    with open_shop.reading() as session:
        figure = audit(session).figure
    found = forget(open_shop, "nobody atall")
    assert (found.tickets, found.notes, found.perhaps, len(found.documents)) == ((), (made[0],), (made[1], made[2]), 1)
    assert note_of(open_shop, made[0]) == notes[0], "nothing is emptied unasked"
    assert forget(open_shop, "nobody atall", notes=True).notes == (made[0],)
    assert [note_of(open_shop, number) for number in made] == ["", *notes[1:]]
    assert forget(open_shop, "nobody atall").notes == ()
    assert len(forget(open_shop, "nobody atall").documents) == 1, "the document's own note is part of the chain"
    with open_shop.reading() as session:
        assert (audit(session).faults, audit(session).figure) == ((), figure)


def note_of(book: Book, number: str) -> str:
    with book.reading() as session:
        return tickets.the_ticket(session, number).note
