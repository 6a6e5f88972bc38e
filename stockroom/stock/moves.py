"""The ledger's lines, and the documents that bring them: written once, never changed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from enum import Enum
from typing import Any, NamedTuple

from stockroom.phrases import Named, as_phrase, phrase

SITE = "main"


def site_called(site: str) -> str:
    """Name a site in a list: the one every book has in the reader's words, others as the shop named them."""
    return phrase("main") if site == SITE else site


class MoveKind(Named):
    """Why stock moved. A reversal carries the kind it takes back, so that sums by kind come out right."""

    OPENING = "opening"
    DELIVERY = "delivery"
    JOB_USE = "job use"
    REDO_USE = "redo use", "guarantee work"
    SALE = "counter sale"
    WASTE = "waste"
    EXPIRY = "expiry"
    OWN_USE = "own use"
    COUNT = "count difference"
    SUPPLIER_RETURN = "return to supplier"
    OFFCUT = "offcut return", "offcut stored"
    PART_KEPT = "part kept"
    TRANSFER = "transfer"


class DocumentKind(Named):
    """What a document records. Those without moves are kept too: the ledger is one unbroken chain."""

    OPENING = "opening"
    TAKE_IN = "take in"
    TICKET_CHANGE = "ticket change", "ticket changed"
    USE = "use", "used so far"
    FINISH = "finish"
    REDO = "redo", "guarantee work"
    CANCEL = "cancel"
    BEGUN = "begun", "work begun"
    PAUSED = "paused", "work paused"
    SERVICED = "serviced", "machine serviced"
    SENT = "sent", "parcel sent"
    SALE = "counter sale"
    WASTE = "waste"
    EXPIRY = "expiry"
    OWN_USE = "own use"
    OFFCUT = "offcut"
    PART_KEPT = "part kept"  # taken off a job, and good enough to be used again
    TRANSFER = "transfer"
    LENT = "lent", "lent out"
    LENT_BACK = "lent back", "given back"
    ORDER = "order"
    ORDER_END = "order end", "order closed"
    DELIVERY = "delivery"
    SUPPLIER_RETURN = "return to supplier"
    PRICE_CORRECTION = "price correction"
    COUNT = "count"
    COUNT_KEPT = "count kept", "count adjustment"  # lets a posted count hold when something before it is entered late
    REVERSAL = "reversal", "undo"
    PERIOD = "period"
    CHANGE = "change", "change of lists"  # of settings, too: which rows, and what they said before


CUSTOMER_RETURN = phrase("customer's return")


class Role(Enum):
    """What a kind of move is to the shop."""

    COMES_IN = "comes in"
    USED = "used"  # earns money
    WRITTEN_OFF = "written off"  # earns none; a person enters it, and says why
    PUT_RIGHT = "put right"  # lies elsewhere, or was never there


@dataclass(frozen=True, slots=True, kw_only=True)
class MoveFacts:
    """What holds of every move of a kind, for whoever asks: a new kind is one line here."""

    role: Role
    column: str  # of the accounts' summary, which several kinds may share
    account: str  # that column is set against; a shop may give it a number of its own


# In the order of the accounts' summary.
MOVES: dict[MoveKind, MoveFacts] = {
    kind: MoveFacts(role=role, column=column, account=account)
    for kind, role, column, account in (
        (MoveKind.OPENING, Role.COMES_IN, "opening stock entered", "opening stock"),
        (MoveKind.DELIVERY, Role.COMES_IN, "purchases", "goods received, not invoiced"),
        (MoveKind.SUPPLIER_RETURN, Role.COMES_IN, "returned to suppliers", "goods received, not invoiced"),
        (MoveKind.JOB_USE, Role.USED, "used on jobs", "materials used"),
        (MoveKind.REDO_USE, Role.USED, "guarantee work", "guarantee work"),
        (MoveKind.SALE, Role.USED, "cost of goods sold", "cost of goods sold"),
        (MoveKind.OWN_USE, Role.WRITTEN_OFF, "own use", "owner's drawings"),
        (MoveKind.WASTE, Role.WRITTEN_OFF, "waste", "waste and expiry"),
        (MoveKind.EXPIRY, Role.WRITTEN_OFF, "expiry", "waste and expiry"),
        (MoveKind.OFFCUT, Role.PUT_RIGHT, "offcuts and transfers", "materials used"),
        (MoveKind.PART_KEPT, Role.PUT_RIGHT, "offcuts and transfers", "materials used"),
        (MoveKind.TRANSFER, Role.PUT_RIGHT, "offcuts and transfers", "materials used"),
        (MoveKind.COUNT, Role.PUT_RIGHT, "count differences", "count differences"),
    )
}
USED = tuple(kind for kind in MoveKind if MOVES[kind].role is Role.USED)
WRITTEN_OFF = tuple(kind for kind in MoveKind if MOVES[kind].role is Role.WRITTEN_OFF)
WRITE_OFFS = {DocumentKind(kind.value): kind for kind in WRITTEN_OFF}  # each by a document of the same name


class Move(NamedTuple):
    """One ledger line; a mistake is answered by its reverse, never edited. A tuple, because a book holds very many."""

    material: str
    nano: int  # billionths of the base unit; negative leaves the shelf
    kind: MoveKind
    happened: datetime
    site: str = SITE
    value: int | None = None  # thousandths of the minor unit, where stated: the cost of what arrived
    recipe_line: str = ""
    ticket: str = ""
    lot: str = ""
    expiry: date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Document:
    """A document behind moves, posted whole or not at all."""

    kind: DocumentKind
    key: str  # the same key is never posted twice
    happened: datetime
    entered: datetime
    moves: tuple[Move, ...] = ()
    subject: str = ""  # the ticket, order or count it is about
    booked_on: date | None = None  # the accounting day; None: the day it happened
    site: str = SITE
    who: str = ""
    note: str = ""
    reverses: int | None = None
    content: Mapping[str, object] = field(default_factory=dict)  # what else the document says, JSON-ready
    asked: str = ""  # a hash of what was asked for under the key; empty where a file brought it
    id: int | None = None  # given by the book

    @property
    def called(self) -> str:
        """What lists call it: its kind, but a customer's return where a sale only brings things back."""
        lines = delivered_lines(self) if self.kind is DocumentKind.SALE else []
        back = bool(lines) and all(int(line.get("nano", 0)) < 0 for line in lines)
        return CUSTOMER_RETURN if back else as_phrase(self.kind.label)


def is_in_force(number: int, taken: Mapping[int, int]) -> bool:
    """Say whether a document is in force: not taken back, or the taking back is itself taken back.

    Parameters
    ----------
    number : int
        The document.
    taken : mapping of int to int
        By document that was taken back: the one that does so.
    """
    standing = True
    while number in taken:
        number, standing = taken[number], not standing
    return standing


def delivered_lines(document: Document) -> list[Mapping[str, Any]]:
    """Give the lines that the document of a delivery or a sale names."""
    lines = document.content.get("lines", [])
    return list(lines) if isinstance(lines, list) else []
