"""The pieces of a cost replay: entries, which are its result, and the layers, slices and arrivals it works with."""

from collections import deque
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from stockroom.phrases import Named
from stockroom.stock.moves import Move, MoveKind

SHORT = 0  # the layer of what is used before its delivery was entered
WHOLE = 1 << 60  # a moving average's survival is kept in parts of this


class Cause(Named):
    """Why an entry changes a cost."""

    MOVED = "as moved"
    PROVISIONAL = "provisional"  # used before its delivery was entered, at the last known cost
    TRUE_UP = "true-up", "cost correction"  # provisional cost becomes real, or a source is taken away
    CORRECTION = "price correction"
    DIFFERENCE = "price difference"  # a supplier's credit that is not what the goods cost


class LayerEntry(NamedTuple):
    """One effect on one cost layer. Value in thousandths of the minor unit; negative leaves the shelf.

    A tuple, because a year makes hundreds of thousands of them.
    """

    document: int  # the document that causes it
    move: Move  # the ledger line it is about: for a true-up the use, not the delivery
    kind: MoveKind
    cause: Cause
    layer: int
    nano: int
    value: int
    booked_on: date


@dataclass(slots=True, eq=False)
class Layer:
    """What is left of an arrival (or, at a moving average, of all arrivals)."""

    number: int
    order: tuple[int, int]  # its place in the queue: rank and line of the fact that first brought it
    document: int
    move: Move
    since: date
    nano: int = 0
    value: int = 0
    slices: list["Slice"] | None = None  # who drew from it, where a later document will ask
    survival: int = WHOLE  # how much of what lay here is left, for the moving average
    shift: int = 0  # how often survival was doubled to keep its digits
    epoch: int = 0  # how often the pool has run empty
    busy: bool = False  # being corrected: goods sent out and back must not correct themselves for ever
    drained: tuple[int, int, int] | None = None  # survival, shift and amount when it last did


@dataclass(slots=True, eq=False)
class Slice:
    """A part of a use and the layer it came from (None: not yet known)."""

    layer: Layer | None
    move: Move
    kind: MoveKind
    booked: date
    nano: int
    value: int
    group: list["Slice"] | None = None  # all slices of the same use, where it will be undone
    child: "Arrival | None" = None  # the arrival at the other site, for a transfer
    provisional: int | None = None  # what it was held at before its source came


@dataclass(slots=True, eq=False)
class Arrival:
    """A layer's birth, kept where a later document will ask for it."""

    layer: Layer
    move: Move
    nano: int
    value: int
    survival: int
    shift: int
    epoch: int
    served: list[Slice] = field(default_factory=list)  # uses that had waited for it (moving average)


@dataclass(frozen=True, slots=True)
class QueuePlace:
    """Where an arrival stands in the queue, and since when: those of the line it does again, if it does."""

    order: tuple[int, int]
    since: date


@dataclass(slots=True)
class Shelf:
    """One material at one site."""

    layers: deque[Layer] = field(default_factory=deque)
    shorts: deque[Slice] = field(default_factory=deque)
    pool: Layer | None = None


@dataclass(slots=True)
class Posting:
    """The document at hand."""

    id: int  # the number its entries carry
    key: int  # of the fact it is
    rank: int  # its place among all facts
    booked: date
    marked: bool  # a later fact undoes or corrects it
    transfers: dict[str, list[Slice]] = field(default_factory=dict)
    delivery: int | None = None  # the delivery a return goes back on
    cut: int = 0  # cost of the sheet that an offcut takes over
