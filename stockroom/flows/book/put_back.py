"""Put a backup in the place of a book that is open: looked into, set beside what is there, swapped in one step."""

from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from secrets import token_hex

from stockroom.errors import RefusedError
from stockroom.flows.book.opening import keep_session_key, kept_passcodes, renew_passcodes
from stockroom.flows.book.safekeeping import (
    beside_book,
    check_backup,
    identity_of,
    put_checked_in_place,
    same_book,
)
from stockroom.phrases import phrase
from stockroom.stock.moves import Document
from stockroom.stock.quantities import Unit
from stockroom.stock.tickets import TicketState
from stockroom.store import book as books
from stockroom.store import catalogue, ledger, tickets
from stockroom.store.book import Book, Session
from stockroom.store.upgrading import refuse_unknown


@dataclass(frozen=True, slots=True, kw_only=True)
class Holding:
    """What a book holds, in short."""

    name: str
    documents: int
    last: Document | None
    open_tickets: int
    on_hand: Mapping[str, int]
    materials: Mapping[str, tuple[str, Unit]]  # name and unit, by code


@dataclass(frozen=True, slots=True, kw_only=True)
class BackupOffer:
    """A backup that was checked, beside the book in whose place it would come."""

    backup: Holding
    book: Holding
    same: bool  # of the same book
    shared: int  # documents that both have, from the first on

    @property
    def lost(self) -> int:
        """How many documents of the open book are not in the backup."""
        return self.book.documents - self.shared

    @property
    def more(self) -> int:
        """How many documents of the backup are not in the open book."""
        return self.backup.documents - self.shared

    @property
    def differing(self) -> list[tuple[str, Unit, int, int]]:
        """Give the materials of which the two say different amounts: name, unit, in the backup, in the book."""
        known = {**self.book.materials, **self.backup.materials}
        amounts = [(code, self.backup.on_hand.get(code, 0), self.book.on_hand.get(code, 0)) for code in sorted(known)]
        return [(*known[code], then, now) for code, then, now in amounts if then != now]


def refuse_on_server(book: Book) -> None:
    """Refuse where the book is kept by a server.

    Raises
    ------
    RefusedError
        Always, for such a book.
    """
    if book.on_server:
        raise RefusedError(
            "A database server's book is not written over.",
            fix="Whoever runs the server copies the backup into a new database, and the pages are opened on that.",
        )


def look_into(book: Book) -> BackupOffer:
    """Check the backup that was sent and lies beside an open book, and set it beside that.

    Raises
    ------
    BookError
        If it is no book, damaged, of a newer version, or anything in it does not agree.
    """
    refuse_on_server(book)
    sent = beside_book(book.place)
    refuse_unknown(str(sent))
    check_backup(sent, Path("backup"))
    with (
        closing(books.open_book(str(sent), read_only=True)) as backup,
        backup.reading() as theirs,
        book.reading() as ours,
    ):
        return BackupOffer(
            backup=_holding(theirs),
            book=_holding(ours),
            same=same_book(identity_of(theirs), identity_of(ours)),
            shared=_shared(theirs, ours),
        )


def put_back(book: Book, now: datetime, *, over: str = "") -> Path | None:
    """Put the backup that was looked into in the place of a book nobody works in; gives where that one is kept.

    The passcodes of today go on holding, where there are any; every session is over.

    Raises
    ------
    RefusedError
        If no backup was looked into, it is of another book whose name was not given, or the book is open elsewhere.
    """
    refuse_on_server(book)
    sent = beside_book(book.place)
    if not sent.exists():
        raise RefusedError("No backup was sent.", fix="Choose its file again.")
    with book.reading() as session:
        mine, name = identity_of(session), catalogue.read_shop(session).name
    passcodes = kept_passcodes(book)
    with closing(books.open_book(str(sent))) as fresh:
        with fresh.reading() as session:
            same = same_book(identity_of(session), mine)
        if not same and over.strip() != name:
            raise RefusedError(
                "The backup is of another book than the one that is open.",
                fix=phrase("To put it here all the same, type the name of the shop that goes: %(name)s", name=name),
            )
        with fresh.writing() as session:
            keep_session_key(session, token_hex(32))
            if passcodes:
                renew_passcodes(session, passcodes)
    book.close()
    return put_checked_in_place(book.place, now)


def _holding(session: Session) -> Holding:
    number, _ = ledger.head(session)
    last = ledger.newest_documents(session, 1)
    return Holding(
        name=catalogue.read_shop(session).name,
        documents=number,
        last=last[0] if last else None,
        open_tickets=len(tickets.read_tickets(session, state=TicketState.BOOKED)),
        on_hand=ledger.balances(session),
        materials={m.code: (m.name, m.unit) for m in catalogue.read_materials(session)},
    )


def _shared(one: Session, other: Session) -> int:
    """Say how many documents two chains have alike from their beginning: once apart, they never meet again."""
    low, high = 0, min(ledger.head(one)[0], ledger.head(other)[0])
    while low < high:
        middle = (low + high + 1) // 2
        if ledger.figure_of(one, middle) == ledger.figure_of(other, middle):
            low = middle
        else:
            high = middle - 1
    return low
