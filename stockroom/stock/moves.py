"""The ledger's lines, and the documents that bring them: written once, never changed."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime

from stockroom.phrases import Named

SITE = "main"


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
    TRANSFER = "transfer"


class DocumentKind(Named):
    """What a document records. Those without moves are kept too: the ledger is one unbroken chain."""

    OPENING = "opening"
    TAKE_IN = "take in"
    FINISH = "finish"
    REDO = "redo", "guarantee work"
    CANCEL = "cancel"
    SALE = "counter sale"
    WASTE = "waste"
    EXPIRY = "expiry"
    OWN_USE = "own use"
    OFFCUT = "offcut"
    TRANSFER = "transfer"
    ORDER = "order"
    ORDER_END = "order end", "order closed"
    DELIVERY = "delivery"
    SUPPLIER_RETURN = "return to supplier"
    PRICE_CORRECTION = "price correction"
    COUNT = "count"
    COUNT_KEPT = "count kept", "count adjustment"  # lets a posted count hold when something before it is entered late
    REVERSAL = "reversal", "undo"
    PERIOD = "period"


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One ledger line; a mistake is answered by its reverse, never edited."""

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
