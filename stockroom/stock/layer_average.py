"""Moving average: all arrivals of a material at a site share one pool."""

from stockroom.stock.layer_book import Fifo, queue, spread
from stockroom.stock.layer_pieces import WHOLE, Arrival, Cause, Layer, Posting, QueuePlace, Shelf, Slice
from stockroom.stock.moves import Move, MoveKind

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
