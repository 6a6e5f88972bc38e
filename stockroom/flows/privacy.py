"""Forget a person: names stand on tickets only, never in the chained papers."""

from dataclasses import replace

from stockroom.store import tickets
from stockroom.store.book import Book


def forget(book: Book, name: str) -> int:
    """Remove a customer's name from every ticket that carries it; gives how many did."""
    sought = name.strip().casefold()
    with book.writing() as session:
        named = [t for t in tickets.read_tickets(session) if t.customer and t.customer.strip().casefold() == sought]
        tickets.save_tickets(session, [replace(t, customer="") for t in named])
    return len(named)
