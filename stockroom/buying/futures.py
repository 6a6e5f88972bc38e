"""Shelves in every future if nothing more were ordered, and what being short costs."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from stockroom.buying.ask import Ask, FloatArray, IntArray, Item

BATCH = 200  # items worked on at a time, to bound memory


@dataclass(frozen=True, kw_only=True, eq=False)
class Futures:
    """Net stock (below zero: owed to waiting work) of some items in each future.

    `items` are the items looked at; `used` has shape (n_items, n_paths, n_steps + 1), cumulative use at
    the edges of the steps.
    """

    items: tuple[Item, ...]
    used: FloatArray
    step_days: float

    @cached_property
    def days(self) -> float:
        """How far the futures reach."""
        return float((self.used.shape[2] - 1) * self.step_days)

    @cached_property
    def rate(self) -> FloatArray:
        """Mean use per day, shape (n_items,)."""
        mean: FloatArray = self.used[:, :, -1].mean(axis=1) / self.days
        return mean

    def used_by(self, day: FloatArray) -> FloatArray:
        """Use up to a day that may differ from path to path, shape (n_items, n_paths)."""
        place = np.clip(day / self.step_days, 0, self.used.shape[2] - 1)
        whole = np.minimum(place.astype(np.int64), self.used.shape[2] - 2)
        paths = np.arange(self.used.shape[1])
        low, high = self.used[:, paths, whole], self.used[:, paths, whole + 1]
        by: FloatArray = low + (high - low) * (place - whole)
        return by

    def stocked_by(self, day: FloatArray) -> FloatArray:
        """On hand now plus what has arrived by a day, shape (n_items, n_paths)."""
        n_paths = self.used.shape[1]
        stocked = np.empty((len(self.items), n_paths))
        for row, item in enumerate(self.items):
            stocked[row] = item.on_hand
            for each in item.coming:
                stocked[row] += each.quantity * (each.arrives <= day)
        return stocked

    def net_by(self, day: FloatArray) -> FloatArray:
        """Net stock on a day, shape (n_items, n_paths)."""
        return self.stocked_by(day) - self.used_by(day)

    def net_within(self, *, since: FloatArray | None = None, before: FloatArray | None = None) -> FloatArray:
        """Net stock in the middle of each step, shape (n_items, n_paths, n_steps).

        Where only the days since an arrival count, or those before it, shape (n_paths,), what comes with it is there
        in all of the days since and in none of the days before, though the step's middle lies on the other side.
        """
        middle = ((np.arange(self.used.shape[2] - 1) + 0.5) * self.step_days)[None, :]
        if since is not None:
            middle = np.maximum(middle, since[:, None])
        if before is not None:
            middle = np.minimum(middle, np.nextafter(before, -np.inf)[:, None])
        net: FloatArray = -(self.used[:, :, 1:] + self.used[:, :, :-1]) / 2
        for row, item in enumerate(self.items):
            net[row] += item.on_hand[:, None]
            for each in item.coming:
                net[row] += each.quantity * (each.arrives[:, None] <= middle)
        return net

    def position(self) -> FloatArray:
        """On hand plus everything ordered, shape (n_items, n_paths)."""
        return self.stocked_by(np.full(self.used.shape[1], np.inf))


def futures(ask: Ask, which: slice | IntArray = slice(None), thin: slice = slice(None)) -> Futures:
    """Shelves of some items of the ask (in some of its futures), promised jobs included."""
    use = np.moveaxis(ask.use[thin, which, :], 0, 1)
    used = np.zeros((use.shape[0], use.shape[1], use.shape[2] + 1))
    np.cumsum(use, axis=2, out=used[:, :, 1:])
    edges = np.arange(used.shape[2]) * ask.step_days
    for promise in ask.what_if.promises:
        used += promise.needs[which][:, None, None] * (edges > promise.day)
    chosen = ask.items[which] if isinstance(which, slice) else tuple(ask.items[each] for each in which)
    return Futures(items=tuple(_thinned(each, thin) for each in chosen), used=used, step_days=ask.step_days)


def _thinned(item: Item, thin: slice) -> Item:
    if thin == slice(None):
        return item
    coming = tuple(replace(each, arrives=_thin(each.arrives, thin)) for each in item.coming)
    return replace(item, on_hand=_thin(item.on_hand, thin), coming=coming)


def _thin(values: FloatArray, thin: slice) -> FloatArray:
    return values[thin] if values.size > 1 else values


def without_coming(shelves: Futures) -> Futures:
    """Empty the shelves: nothing on hand and nothing ordered."""
    bare = tuple(replace(each, on_hand=np.zeros(1), coming=()) for each in shelves.items)
    return Futures(items=bare, used=shelves.used, step_days=shelves.step_days)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Penalties:
    """What one unit short costs, shape (n_items,) each: once, and for every day it stays short."""

    once: FloatArray
    daily: FloatArray


def penalties(ask: Ask) -> Penalties:
    """Cost of a unit short, from the jobs it holds up and the sales it loses.

    Returns
    -------
    Penalties
        Money per unit of each item.

    Notes
    -----
    A unit short holds up ``1 / need`` jobs; over the jobs that share the item, the mean weighted by use
    is ``sum(rate * cost) / sum(rate * need)``. Each missing part is charged the whole job, so the sum
    over the parts is never below the cost of the job held up (union bound), and equals it whenever one
    part is missing at a time; `stockroom.buying.joint` settles the rest.
    """
    margin = np.array([each.lost_margin for each in ask.items])
    if ask.jobs is None:
        return Penalties(once=margin, daily=np.zeros_like(margin))
    share = np.array([each.sales_share for each in ask.items])
    rate = ask.jobs.paths.mean(axis=(0, 2)) + 1e-9
    needs = ask.jobs.needs
    touched = (needs > 0).astype(np.float64)
    use = np.maximum(rate @ needs, 1e-12)
    held = (rate * ask.jobs.held_cost) @ touched / use
    waiting = (rate * ask.jobs.held_day_cost) @ touched / use
    used = needs.any(axis=0)
    share = np.where(used, share, 1.0)
    return Penalties(once=(1 - share) * held + share * margin, daily=(1 - share) * waiting)
