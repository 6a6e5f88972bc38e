"""What agreements mean for the outlook: materials that do each other's work, and goods that come by themselves."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from stockroom.buying.problem import OnTheWay, OrderItem, OrderProblem, PackOffer, ShelfLot
from stockroom.flows.book.snapshot import BookSnapshot
from stockroom.stock.agreements import StandingOrder, stands
from stockroom.stock.calendar import WEEK
from stockroom.stock.moves import delivered_lines
from stockroom.stock.quantities import NANO

Floats = NDArray[np.float64]
LATE = 1.0  # days until what is due and has not come is thought to come


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pools:
    """Items that do each other's work: of each pool the positions, the main one first, and what a unit of each does."""

    pools: tuple[tuple[NDArray[np.intp], Floats], ...] = ()

    def together(self, values: Floats, axis: int = -1) -> Floats:
        """Give each item all that its pool has of something, in units of its own."""
        if not self.pools:
            return values
        moved = np.moveaxis(values.copy(), axis, 0)
        for items, does in self.pools:
            all_of_it = np.tensordot(does, moved[items], axes=1)
            for item, each in zip(items, does, strict=True):
                moved[item] = all_of_it / each
        return np.moveaxis(moved, 0, axis)

    def mains(self, many: int) -> NDArray[np.intp]:
        """Say which item each of so many is bought as."""
        found = np.arange(many)
        for items, _ in self.pools:
            found[items] = items[0]
        return found

    def needed(self, blamed: int, needs: Floats) -> int:
        """Name, for an item that a pool lacks, the one of it that is needed."""
        for items, _ in self.pools:
            if blamed in items:
                return int(items[np.argmax(needs[items])])
        return blamed


def pools_of(known: BookSnapshot, codes: Sequence[str]) -> Pools:
    """Find which materials do each other's work."""
    column = {code: n for n, code in enumerate(codes)}
    found: dict[str, list[tuple[int, float]]] = {}
    for code, stand in stands(known.substitutes, known.shelf.materials).items():
        if code in column and stand.main in column:
            found.setdefault(stand.main, []).append((column[code], float(stand.does)))
    return Pools(
        pools=tuple(
            (np.array([item for item, _ in mine], dtype=np.intp), np.array([does for _, does in mine]))
            for mine in found.values()
            if len(mine) > 1
        )
    )


def pooled(problem: OrderProblem, pools: Pools) -> OrderProblem:
    """Let materials that do each other's work be one: one use, one stock, and every offer of any of them.

    Notes
    -----
    Each of a pool keeps its place and sees the whole of it in units of its own, so that run-outs can be told of each;
    only the first has offers, so that it alone is bought, in whichever is cheapest.
    """
    if not pools.pools:
        return problem
    items, place = list(problem.items), dict[int, tuple[int, float]]()
    for members, does in pools.pools:
        place |= {int(item): (int(members[0]), float(each)) for item, each in zip(members, does, strict=True)}
        for item, each in zip(members, does, strict=True):
            items[item] = _whole(problem, members, does / each, first=item == members[0])
    wish = problem.what_if
    promises = tuple(replace(each, needs=pools.together(each.needs)) for each in wish.promises)
    jobs = None if problem.jobs is None else replace(problem.jobs, needs=pools.together(problem.jobs.needs, 1))
    return replace(
        problem,
        items=tuple(items),
        use=pools.together(problem.use, 1),
        offers=tuple(_as_main(each, place) for each in problem.offers),
        jobs=jobs,
        what_if=replace(wish, promises=promises),
    )


def _whole(problem: OrderProblem, members: NDArray[np.intp], does: Floats, *, first: bool) -> OrderItem:
    """Put a pool together as one item; `does` is what a unit of each does in its units."""
    mine = [problem.items[each] for each in members]
    own, used = mine[int(np.argmin(np.abs(does - 1.0)))], problem.use[:, members].sum(axis=(0, 2)) * does
    weight = used / max(float(used.sum()), 1e-12)
    keeps = [each.shelf_days for each in mine if each.shelf_days is not None]
    whole: OrderItem = replace(
        own,
        on_hand=np.sum(np.broadcast_arrays(*(each.on_hand * d for each, d in zip(mine, does, strict=True))), axis=0),
        unit_cost=min(each.unit_cost / d for each, d in zip(mine, does, strict=True)),
        coming=tuple(
            OnTheWay(quantity=way.quantity * d, arrives=way.arrives)
            for each, d in zip(mine, does, strict=True)
            for way in each.coming
        ),
        lots=_lots(mine, does),
        sales_share=float(weight @ [each.sales_share for each in mine]),
        lost_margin=float(weight @ [each.lost_margin / d for each, d in zip(mine, does, strict=True)]),
        shelf_days=min(keeps, default=None),
        space=max(each.space / d for each, d in zip(mine, does, strict=True)) if first else 0.0,
        flammable=max(each.flammable / d for each, d in zip(mine, does, strict=True)) if first else 0.0,
    )
    return whole


def _lots(mine: Sequence[OrderItem], does: Floats) -> tuple[ShelfLot, ...]:
    """Put the lots of a pool in the order in which they expire; what has none keeps."""
    if not any(each.lots for each in mine):
        return ()
    lots = [
        ShelfLot(quantity=lot.quantity * d, until=lot.until)
        for each, d in zip(mine, does, strict=True)
        for lot in each.lots or (ShelfLot(quantity=float(np.mean(each.on_hand)), until=float("inf")),)
    ]
    return tuple(sorted((lot for lot in lots if lot.quantity > 0), key=lambda lot: lot.until))


def _as_main(offer: PackOffer, place: Mapping[int, tuple[int, float]]) -> PackOffer:
    if offer.item not in place:
        return offer
    main, does = place[offer.item]
    then = None if offer.then is None else _as_main(offer.then, place)
    back = None if offer.back is None else replace(offer.back, cost=offer.back.cost / does)
    return replace(offer, item=main, pack=offer.pack * does, then=then, back=back)


def standing_arrivals(known: BookSnapshot, reach: int) -> dict[str, tuple[OnTheWay, ...]]:
    """Say what standing orders will bring within so many days from now."""
    packs = {(o.supplier, o.material, o.supplier_code): o.pack.nano for o in known.offers}
    plain = {(o.supplier, o.material, ""): o.pack.nano for o in known.offers}
    found: dict[str, tuple[OnTheWay, ...]] = {}
    for order in known.standing:
        pack = (plain | packs).get((order.supplier, order.material, order.supplier_code))
        if pack is None:  # no longer offered
            continue
        for days in _due(known, order, reach):
            part = OnTheWay(quantity=order.packs * pack / NANO, arrives=np.array([days]))
            found[order.material] = (*found.get(order.material, ()), part)
    return found


def _due(known: BookSnapshot, order: StandingOrder, reach: int) -> list[float]:
    """Give the days from now on which a standing order comes; one that is due and has not come is due still."""
    half = timedelta(days=order.weeks * WEEK) / 2
    came = [
        each.happened.date()
        for each in known.deliveries
        if each.content.get("supplier") == order.supplier
        and any(line.get("material") == order.material for line in delivered_lines(each))
    ]
    since = known.day - timedelta(days=order.weeks * WEEK - 1)
    days = order.days(since, known.day + timedelta(days=reach))
    there = [day for day in days if not any(day - half <= each < day + half for each in came)]
    return [max(float((day - known.day).days), LATE) for day in there]
