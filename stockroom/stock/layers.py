"""Cost layers by replay: what each move cost, and what the shelf is worth on any day, exact to a thousandth of a cent.

What happened is replayed in the order in which it happened, whatever the order of typing (`layer_order`). What comes
after a closing is booked in the open period and replayed there, which is why a closed period's figures never change.
Nothing here is stored; the same documents always give the same costs.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from stockroom.stock.layer_book import SHORT, AverageBook, Cause, Fifo, LayerEntry
from stockroom.stock.layer_order import in_order
from stockroom.stock.layer_replay import Replay
from stockroom.stock.materials import Material
from stockroom.stock.money import MILLI, split
from stockroom.stock.moves import Document, Move

__all__ = ["SHORT", "Birth", "Cause", "Costing", "LayerEntry", "Standing", "closing", "landed", "replay"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Birth:
    """Where a layer came from."""

    number: int
    document: int
    move: Move
    since: date | None  # None for a moving average's pool


@dataclass(frozen=True, slots=True, kw_only=True)
class Costing:
    """The result of a replay: every effect on every layer, and the layers' births by number."""

    entries: tuple[LayerEntry, ...]
    births: Mapping[int, Birth]


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What a layer holds on a day. Negative on layer 0: used before its delivery was entered, provisional cost."""

    material: str
    site: str
    layer: int
    nano: int
    value: int
    since: date | None
    document: int | None


def replay(documents: Iterable[Document], materials: Mapping[str, Material], *, method: str = "fifo") -> Costing:
    """Replay what documents say into cost entries, in the order in which it happened.

    Parameters
    ----------
    documents : iterable of Document
        In the order they were entered; each with its number (`id`), or numbered from 1 if none has one. A reversal
        must follow what it reverses.
    materials : mapping of str to Material
        For the usual cost of what has no known price yet.
    method : str
        'fifo' or 'average' (moving).

    Returns
    -------
    Costing
        Entries whose values, in thousandths of the minor unit, sum to the value of the shelf.

    Raises
    ------
    ValueError
        If a reversal has no original, or doesn't mirror it.

    Notes
    -----
    A document taken back before its period is closed leaves no entries. Taken back later, it restores every layer;
    undoing the undoing enters it again, at its old cost and in its old place, and uses that had found another source
    meanwhile stay with it.

    Cost formulas: IAS 2.25 and FRS 102 section 13 (first in first out, or weighted average). Linear in the number
    of moves, but for sorting them.
    """
    book = AverageBook(materials) if method == "average" else Fifo(materials)
    Replay(in_order(_numbered(documents)), book).run()
    pooled = method == "average"  # a pool has no age of its own
    births = {
        n: Birth(number=n, document=b.document, move=b.move, since=None if pooled else b.since)
        for n, b in book.births.items()
    }
    return Costing(entries=tuple(book.entries), births=births)


def closing(costing: Costing, day: date | None = None) -> list[Standing]:
    """Add up every layer to the end of an accounting day (None: all), leaving out the empty ones."""
    sums: dict[tuple[str, str, int], list[int]] = {}
    for entry in costing.entries:
        if day is None or entry.booked_on <= day:
            held = sums.setdefault((entry.move.material, entry.move.site, entry.layer), [0, 0])
            held[0] += entry.nano
            held[1] += entry.value
    return [_standing(key, held, costing.births) for key, held in sorted(sums.items()) if any(held)]


def landed(costs: Sequence[int], extra: int, weights: Sequence[int] | None = None) -> list[int]:
    """Spread carriage and duties over a delivery's lines, exactly.

    Parameters
    ----------
    costs : sequence of int
        Each line's cost ex tax, in minor units.
    extra : int
        Carriage and duties, in minor units.
    weights : sequence of int, optional
        Each line's weight in any one unit; None spreads by cost.

    Returns
    -------
    list of int
        Each line's whole cost, in thousandths of the minor unit; they add up to costs and extra.
    """
    if not costs:
        return []
    shares = split(extra * MILLI, list(costs if weights is None else weights))
    return [cost * MILLI + share for cost, share in zip(costs, shares, strict=True)]


def _numbered(documents: Iterable[Document]) -> list[Document]:
    return [document if document.id else replace(document, id=n) for n, document in enumerate(documents, start=1)]


def _standing(key: tuple[str, str, int], held: list[int], births: Mapping[int, Birth]) -> Standing:
    material, site, layer = key
    birth = births.get(layer)
    return Standing(
        material=material, site=site, layer=layer, nano=held[0], value=held[1],
        since=birth.since if birth else None, document=birth.document if birth else None,
    )  # fmt: skip
