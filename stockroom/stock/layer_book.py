"""How cost layers fill and empty, one shelf a material and site: first in, first out, or a moving average.

Every effect is written as an `Entry` on one layer, so that the layers of any day are sums of entries. What is used
before its delivery was entered stands on layer 0 at a provisional cost, and moves to a real layer when one comes.
"""

from bisect import insort
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from operator import attrgetter
from typing import NamedTuple

from stockroom.phrases import Named
from stockroom.stock.materials import Material
from stockroom.stock.money import MILLI, half_up, split
from stockroom.stock.moves import Move, MoveKind
from stockroom.stock.offcuts import is_piece

SHORT = 0  # the layer of what is used before its delivery was entered
HANDED_ON = (MoveKind.TRANSFER, MoveKind.OFFCUT)  # what leaves arrives elsewhere in the same document, at its cost
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
    cut_from: list[Slice] = field(default_factory=list)  # of the sheet, whose cost an offcut takes over


class Fifo:
    """First in, first out. The state of a replay; `entries` is its result."""

    def __init__(self, materials: Mapping[str, Material]) -> None:
        self.materials = materials
        self.entries: list[LayerEntry] = []
        self.shelves: dict[tuple[str, str], Shelf] = {}
        self.births: dict[int, Layer] = {}
        self.last: dict[str, tuple[int, int]] = {}  # material: amount and value of its last priced arrival

    def shelf(self, move: Move) -> Shelf:
        """Find the shelf of a move."""
        key = (move.material, move.site)
        found = self.shelves.get(key)
        if found is None:
            found = self.shelves[key] = Shelf()
        return found

    def issue(self, posting: Posting, move: Move, *, keep: bool = False) -> list[Slice]:
        """Draw an amount; what isn't there is drawn at a provisional cost. Gives the slices where they are kept."""
        shelf = self.shelf(move)
        wanted = -move.nano
        keep = keep or posting.marked or move.kind in HANDED_ON
        group: list[Slice] | None = [] if keep else None
        while wanted and shelf.layers:
            layer = self._front(shelf, posting, move.lot)
            nano = min(wanted, layer.nano)
            value = self._take(shelf, layer, nano)
            self._write(posting, move, Cause.MOVED, (layer.number, -nano, -value))
            if group is not None or layer.slices is not None:
                _keep(Slice(layer, move, move.kind, posting.booked, nano, value, group))
            wanted -= nano
        if wanted:
            self._draw_short(posting, shelf, Slice(None, move, move.kind, posting.booked, wanted, 0, group))
        return group or []

    def arrive(self, posting: Posting, move: Move, worth: tuple[int, int], *, place: QueuePlace) -> Arrival:
        """Lay an amount down at a cost, then serve what was used before it came."""
        return self._lay(posting, move, worth, place=place)

    def remember_price(self, move: Move) -> None:
        """Keep the last price paid, for what comes or goes without one."""
        if move.value:
            self.last[move.material] = (move.nano, move.value)

    def receive_transfer(self, posting: Posting, move: Move, *, place: QueuePlace) -> list[Arrival]:
        """Lay down what left the other site in the same document, at its cost and with its age."""
        made, wanted = [], move.nano
        waiting = posting.transfers.get(move.material, [])
        while waiting and waiting[0].nano <= wanted:
            piece = waiting.pop(0)
            since = piece.layer.since if piece.layer else posting.booked
            piece.child = self._lay(posting, move, (piece.nano, piece.value), place=QueuePlace(place.order, since))
            made.append(piece.child)
            wanted -= piece.nano
        if wanted:
            raise ValueError(f"document {posting.id} transfers more {move.material} in than out, or in other parts")
        return made

    def receive_offcut(self, posting: Posting, move: Move, *, place: QueuePlace) -> Arrival:
        """Lay an offcut down at the cost of what left its sheet in the same document, whatever that comes to cost."""
        cost = sum(piece.value for piece in posting.cut_from)
        made = self._lay(posting, move, (move.nano, cost), place=place)
        for piece in posting.cut_from:
            piece.child = made
        posting.cut_from = []
        return made

    def undo_issue(self, posting: Posting, move: Move, slices: list[Slice]) -> None:
        """Put what a use drew back where it came from, at what it has come to cost."""
        shelf = self.shelf(move)
        for piece in [each for each in slices if each.nano]:
            layer = piece.layer
            self._write(posting, move, Cause.MOVED, (layer.number if layer else SHORT, piece.nano, piece.value))
            if layer:
                self._give_back(shelf, layer, piece)
            piece.nano = piece.value = 0
        self._cover(posting, shelf)

    def take_back(self, posting: Posting, move: Move, slices: list[Slice]) -> int:
        """Put a part of what uses drew back where it came from, the last first; gives what none of them had drawn."""
        wanted, parts = move.nano, []
        for piece in reversed(slices):
            nano = min(piece.nano, wanted)
            if nano and nano < piece.nano:
                part = replace(piece, nano=nano, value=half_up(Fraction(piece.value * nano, piece.nano)), group=None)
                piece.nano -= nano
                piece.value -= part.value
                parts.append(part)
            elif nano:
                parts.append(piece)
            wanted -= nano
        self.undo_issue(posting, move, parts)
        return wanted

    def undo_arrival(self, posting: Posting, move: Move, arrival: Arrival) -> None:
        """Take an arrival back whole; what was used of it looks for another source."""
        shelf, layer = self.shelf(move), arrival.layer
        loose = [piece for piece in layer.slices or [] if piece.nano]
        for piece in loose:
            self._restate(posting, piece, (layer.number, piece.nano, piece.value), Cause.TRUE_UP)
            layer.nano += piece.nano
            layer.value += piece.value
        self._write(posting, move, Cause.MOVED, (layer.number, -layer.nano, -layer.value))
        if layer in shelf.layers:
            shelf.layers.remove(layer)
        layer.nano = layer.value = arrival.nano = arrival.value = 0
        layer.slices = []
        self._send_short(posting, shelf, loose)

    def correct(self, posting: Posting, arrival: Arrival, delta: int) -> None:
        """Change what an arrival cost: the part still here in its layer, the part used in the cost of its use."""
        layer = arrival.layer
        drawn = [piece for piece in layer.slices or [] if piece.nano]
        weights = [layer.nano, *(piece.nano for piece in drawn)]
        if not delta or not any(weights) or layer.busy:
            return
        layer.busy = True
        arrival.value += delta
        self._write(posting, arrival.move, Cause.CORRECTION, (layer.number, 0, delta))
        shares = spread(delta, weights)
        layer.value += shares[0]
        for piece, share in zip(drawn, shares[1:], strict=True):
            piece.value += share
            self._restate(posting, piece, (layer.number, 0, -share), Cause.CORRECTION)
            if piece.child:
                self.correct(posting, piece.child, share)
        layer.busy = False

    def differ(self, posting: Posting, move: Move, off: int) -> None:
        """Set apart the part of a supplier's credit that is not the goods' cost."""
        if off:
            self._write(posting, move, Cause.MOVED, (SHORT, 0, off))
            self._write(posting, move, Cause.DIFFERENCE, (SHORT, 0, -off))

    def current_cost(self, move: Move, nano: int) -> int:
        """Cost an amount found: as the newest layer, else the last price paid, else the usual cost, else nothing."""
        shelf = self.shelf(move)
        if shelf.layers:
            newest = shelf.layers[-1]
            return half_up(Fraction(newest.value * nano, newest.nano))
        return self._last_cost(move.material, nano)

    def short_cost(self, move: Move) -> tuple[int, int]:
        """Say how much of an arrival serves uses waiting for it, and at what provisional cost."""
        served, value = 0, 0
        for piece in self.shelf(move).shorts:
            part = min(piece.nano, move.nano - served)
            value += half_up(Fraction(piece.value * part, piece.nano)) if piece.nano else 0
            served += part
        return served, value

    def _last_cost(self, material: str, nano: int) -> int:
        if material in self.last:
            amount, value = self.last[material]
            return half_up(Fraction(value * nano, amount))
        known = self.materials.get(material)
        rate = known.usual_rate if known is not None else None
        return 0 if rate is None else half_up(rate * MILLI * nano)

    def _lay(self, posting: Posting, move: Move, worth: tuple[int, int], *, place: QueuePlace) -> Arrival:
        shelf = self.shelf(move)
        layer = Layer(len(self.births) + 1, place.order, posting.id, move, place.since, *worth)
        if posting.marked or move.kind in HANDED_ON:
            layer.slices = []
        self.births[layer.number] = layer
        self._write(posting, move, Cause.MOVED, (layer.number, *worth))
        queue(shelf, layer)
        self._cover(posting, shelf)
        return Arrival(layer, move, *worth, layer.survival, layer.shift, layer.epoch)

    def _front(self, shelf: Shelf, posting: Posting, lot: str) -> Layer:
        """Find the layer to draw from: the delivery's, an offcut's own, else the oldest that is no offcut's."""
        first = shelf.layers[0]
        if posting.delivery is not None:
            return next((layer for layer in shelf.layers if layer.document == posting.delivery), first)
        if lot and is_piece(lot):
            return next((layer for layer in shelf.layers if layer.move.lot == lot), first)
        if first.move.lot and is_piece(first.move.lot):
            return next((layer for layer in shelf.layers if not is_piece(layer.move.lot)), first)
        return first

    def _take(self, shelf: Shelf, layer: Layer, nano: int) -> int:
        if nano == layer.nano:
            value, layer.nano, layer.value = layer.value, 0, 0
            shelf.layers.remove(layer)
            return value
        # halves up, as half_up, without a Fraction: this runs for every move (values here are never negative)
        value = (2 * layer.value * nano + layer.nano) // (2 * layer.nano)
        layer.nano -= nano
        layer.value -= value
        return value

    def _give_back(self, shelf: Shelf, layer: Layer, piece: Slice) -> None:
        if not layer.nano:
            queue(shelf, layer)
        layer.nano += piece.nano
        layer.value += piece.value

    def _draw_short(self, posting: Posting, shelf: Shelf, piece: Slice) -> None:
        piece.value = self._last_cost(piece.move.material, piece.nano)
        self._write(posting, piece.move, Cause.PROVISIONAL, (SHORT, -piece.nano, -piece.value))
        _keep(piece)
        shelf.shorts.append(piece)

    def _send_short(self, posting: Posting, shelf: Shelf, loose: list[Slice]) -> None:
        for piece in loose:
            known, piece.layer = piece.value, None
            piece.value = known if piece.provisional is None else piece.provisional
            self._restate(posting, piece, (SHORT, -piece.nano, -piece.value), Cause.TRUE_UP)
            shelf.shorts.append(piece)
            if piece.child:
                self.correct(posting, piece.child, piece.value - known)
        self._cover(posting, shelf)

    def _cover(self, posting: Posting, shelf: Shelf) -> None:
        while shelf.shorts and shelf.layers:
            piece = shelf.shorts[0]
            if piece.nano:
                self._cover_one(posting, shelf, piece)
            if not piece.nano:
                shelf.shorts.popleft()

    def _cover_one(self, posting: Posting, shelf: Shelf, piece: Slice) -> None:
        layer = shelf.layers[0]
        nano = min(piece.nano, layer.nano)
        provisional = piece.value if nano == piece.nano else half_up(Fraction(piece.value * nano, piece.nano))
        value = self._take(shelf, layer, nano)
        self._restate(posting, piece, (SHORT, nano, provisional), Cause.TRUE_UP)
        self._restate(posting, piece, (layer.number, -nano, -value), Cause.TRUE_UP)
        parts = (nano, value, piece.group, piece.child, provisional)
        _keep(Slice(layer, piece.move, piece.kind, piece.booked, *parts))
        piece.nano -= nano
        piece.value -= provisional
        if piece.child:
            self.correct(posting, piece.child, value - provisional)

    def _restate(self, posting: Posting, piece: Slice, effect: tuple[int, int, int], cause: Cause) -> None:
        day = max(posting.booked, piece.booked)
        self.entries.append(LayerEntry(posting.id, piece.move, piece.kind, cause, *effect, day))

    def _write(self, posting: Posting, move: Move, cause: Cause, effect: tuple[int, int, int]) -> None:
        self.entries.append(LayerEntry(posting.id, move, move.kind, cause, *effect, posting.booked))


def queue(shelf: Shelf, layer: Layer) -> None:
    """Put a layer in its place among those waiting to be drawn."""
    if not shelf.layers or shelf.layers[-1].order <= layer.order:
        shelf.layers.append(layer)
    else:
        insort(shelf.layers, layer, key=attrgetter("order"))


def _keep(piece: Slice) -> None:
    if piece.layer is not None and piece.layer.slices is not None:
        piece.layer.slices.append(piece)
    if piece.group is not None:
        piece.group.append(piece)


def spread(delta: int, weights: list[int]) -> list[int]:
    """Split a change so that its opposite splits into the opposites: taking a change back leaves nothing behind."""
    return split(delta, weights) if delta >= 0 else [-share for share in split(-delta, weights)]


_DIGITS = 30  # survival keeps at least this many binary digits


class AverageBook(Fifo):
    """Moving average: all arrivals on a shelf share one pool.

    Notes
    -----
    A draw takes every arrival in the pool down by the same share. `survival` multiplies those shares up, so what is
    left of any one arrival is known without keeping the draws: survival now / survival when it came. The used part
    of a correction is charged to job use as a whole, not ticket by ticket.
    """

    def undo_arrival(self, posting: Posting, move: Move, arrival: Arrival) -> None:
        """Take an arrival back whole; the share of it that was used looks for another source."""
        shelf, pool = self.shelf(move), arrival.layer
        nano, value, loose = self._shares(posting, arrival)
        self._write(posting, move, Cause.MOVED, (pool.number, -arrival.nano, -arrival.value))
        for piece in loose:
            if piece.nano or piece.value:
                self._restate(posting, piece, (pool.number, piece.nano, piece.value), Cause.TRUE_UP)
        pool.nano -= nano
        pool.value -= value
        arrival.nano = arrival.value = 0
        if nano and not pool.nano:
            shelf.layers.remove(pool)
            _run_empty(pool, nano)
        self._send_short(posting, shelf, [piece for piece in loose if piece.nano])

    def correct(self, posting: Posting, arrival: Arrival, delta: int) -> None:
        """Change what an arrival cost: the share left in the pool, the rest in the cost of use."""
        pool = arrival.layer
        if not delta or not arrival.nano or pool.busy:
            return
        pool.busy = True
        nano, _, loose = self._shares(posting, arrival)
        stays, *shares = spread(delta, [nano, *(piece.nano for piece in loose)])
        pool.value += stays
        arrival.value += delta
        self._write(posting, arrival.move, Cause.CORRECTION, (pool.number, 0, delta))
        for piece, share in zip(loose, shares, strict=True):
            piece.value += share
            if share:
                self._restate(posting, piece, (pool.number, 0, -share), Cause.CORRECTION)
            if piece.child:
                self.correct(posting, piece.child, share)
        pool.busy = False

    def _shares(self, posting: Posting, arrival: Arrival) -> tuple[int, int, list[Slice]]:
        """Part an arrival into what is left of it, the uses that had waited for it, and all other use."""
        served = [piece for piece in arrival.served if piece.nano]
        nano, value = _left_of(arrival)
        rest_nano = arrival.nano - nano - sum(piece.nano for piece in served)
        rest_value = arrival.value - value - sum(piece.value for piece in served)
        rest = Slice(None, arrival.move, MoveKind.JOB_USE, posting.booked, rest_nano, rest_value)
        return nano, value, [*served, rest]

    def _lay(self, posting: Posting, move: Move, worth: tuple[int, int], *, place: QueuePlace) -> Arrival:
        shelf = self.shelf(move)
        if shelf.pool is None:
            shelf.pool = Layer(len(self.births) + 1, place.order, posting.id, move, place.since)
            self.births[shelf.pool.number] = shelf.pool
        pool = shelf.pool
        if not pool.nano:
            queue(shelf, pool)
            pool.since = place.since
        pool.nano += worth[0]
        pool.value += worth[1]
        self._write(posting, move, Cause.MOVED, (pool.number, *worth))
        served: list[Slice] = []
        pool.slices, pool.drained = served, None
        self._cover(posting, shelf)
        pool.slices = None
        return Arrival(pool, move, *worth, pool.survival, pool.shift, pool.epoch, served)

    def _give_back(self, shelf: Shelf, layer: Layer, piece: Slice) -> None:
        if layer.nano:
            layer.survival = layer.survival * (layer.nano + piece.nano) // layer.nano
        elif layer.drained:
            survival, layer.shift, nano = layer.drained
            layer.survival, layer.drained = survival * piece.nano // nano or 1, None
            layer.epoch -= 1
        super()._give_back(shelf, layer, piece)

    def _take(self, shelf: Shelf, layer: Layer, nano: int) -> int:
        if nano == layer.nano:
            _run_empty(layer, nano)
        else:
            _shrink(layer, nano)
        return super()._take(shelf, layer, nano)


def _left_of(arrival: Arrival) -> tuple[int, int]:
    pool = arrival.layer
    if arrival.epoch != pool.epoch:
        return 0, 0
    then = arrival.survival << (pool.shift - arrival.shift)
    served = sum(piece.nano for piece in arrival.served), sum(piece.value for piece in arrival.served)
    share = min(pool.survival, then)
    nano = min((arrival.nano - served[0]) * share // then, pool.nano)
    value = min((arrival.value - served[1]) * share // then, pool.value)
    return (nano, value) if nano < pool.nano else (nano, pool.value)


def _shrink(pool: Layer, nano: int) -> None:
    pool.survival = pool.survival * (pool.nano - nano) // pool.nano
    while pool.survival < 1 << _DIGITS:
        pool.survival = (pool.survival or 1) << _DIGITS
        pool.shift += _DIGITS


def _run_empty(pool: Layer, nano: int) -> None:
    pool.drained = (pool.survival, pool.shift, nano)
    pool.survival, pool.shift = WHOLE, 0
    pool.epoch += 1
