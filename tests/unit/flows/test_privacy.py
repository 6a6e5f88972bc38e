from stockroom.flows.bench import Wanted, cancel_ticket, take_in
from stockroom.flows.privacy import forget
from stockroom.store import tickets
from stockroom.store.audit import audit
from stockroom.store.book import Book
from stockroom.store.transfer import ORDER
from tests import build


def test_a_person_is_forgotten_everywhere_and_the_chain_stays_whole(open_shop: Book) -> None:
    size = build.size("EU 42")
    first = take_in(open_shop, Wanted(job="RESOLE", size=size, customer="Nobody Atall"), build.stamp("2026-02-03"))
    other = take_in(open_shop, Wanted(job="RESOLE", size=size, customer="Someone Else"), build.stamp("2026-02-04"))
    cancel_ticket(open_shop, first.number, build.stamp("2026-02-05"))
    with open_shop.reading() as session:
        figure = audit(session).figure
    assert forget(open_shop, " nobody atall ") == 1
    with open_shop.reading() as session:
        assert audit(session).faults == ()
        assert audit(session).figure == figure
        assert tickets.the_ticket(session, other.number).customer == "Someone Else"
        everything = [str(row) for table in ORDER for row in session.execute(table.select())]
    assert not any("atall" in text.casefold() for text in everything)
    assert forget(open_shop, "Nobody Atall") == 0
