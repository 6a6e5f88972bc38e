"""Forget a person: names stand on tickets only; notes that name somebody are found, and emptied on demand."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

from stockroom.stock.moves import Document
from stockroom.stock.tickets import Ticket
from stockroom.store import ledger, tickets
from stockroom.store.book import Book

_LEAST = 3  # letters of a word that can be told from others


@dataclass(frozen=True, slots=True, kw_only=True)
class Forgotten:
    """Where a person's name stood: tickets by number, documents by theirs."""

    tickets: tuple[str, ...]  # it was their customer; removed
    notes: tuple[str, ...]  # the note names the person; emptied only where that was asked for
    perhaps: tuple[str, ...]  # the note holds a word of the name; left to the owner
    documents: tuple[int, ...]  # chained: what was typed with them can't be changed


def forget(book: Book, name: str, *, notes: bool = False) -> Forgotten:
    """Remove a customer's name from every ticket, and say where else it stands.

    Parameters
    ----------
    book : Book
        The book.
    name : str
        As on the tickets; capitals don't matter.
    notes : bool
        Empty the tickets' notes that hold the whole name, too.
    """
    sought = " ".join(name.split())
    with book.writing() as session:
        every = tickets.read_tickets(session)
        named = [t for t in every if sought and t.customer.strip().casefold() == sought.casefold()]
        noted = [t for t in every if _holds(t.note, sought)]
        changed = {t.number: replace(t, customer="") for t in named}
        if notes:
            changed |= {t.number: replace(changed.get(t.number, t), note="") for t in noted}
        tickets.save_tickets(session, list(changed.values()))
        documents = ledger.read_documents(session, with_moves=False)
    return Forgotten(
        tickets=_numbers(named),
        notes=_numbers(noted),
        perhaps=_numbers([t for t in every if t not in noted and _holds_part(t.note, sought)]),
        documents=tuple(document.id or 0 for document in documents if _holds(_typed(document), sought)),
    )


def _numbers(found: Sequence[Ticket]) -> tuple[str, ...]:
    return tuple(ticket.number for ticket in found)


def _typed(document: Document) -> str:
    return f"{document.note} | {document.who} | {document.content.get('reason', '')}"


def _holds(text: str, name: str) -> bool:
    """Say whether a text holds a name as words of its own, whatever its capitals and spaces."""
    pattern = r"\s+".join(re.escape(word) for word in name.split())
    return bool(text and pattern and re.search(rf"(?<!\w){pattern}(?!\w)", text, re.IGNORECASE))


def _holds_part(text: str, name: str) -> bool:
    return any(_holds(text, word) for word in name.split() if len(word) >= _LEAST)
