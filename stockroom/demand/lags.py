"""How long work waits before it is done: learnt from tickets, and used to move future work to when it is worked."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from stockroom.demand.chance import Chance
from stockroom.demand.history import Floats
from stockroom.demand.paths import Paths

LONGEST = 60  # worked days; what waits longer counts as done then
SHOP_TICKETS = 8.0  # tickets' worth of belief that a job waits as the shop's work does
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]


def waiting_chances(kind: Ints, days: Ints, done: Bools, *, n_kinds: int) -> Floats:
    """Learn the chance of being done on each worked day from taking in, shape (n_kinds, LONGEST + 1); rows sum to 1.

    Parameters
    ----------
    kind, days, done : (n_tickets,) int, int and bool
        A ticket's kind, the worked days it took, or has waited for, and whether it is done.
    n_kinds : int
        How many kinds there are.

    Notes
    -----
    Product-limit estimate (Kaplan and Meier 1958): of those still waiting on a day, the part that is done on it, so
    that what is open says that it has waited so long, and not that it was never done. Each kind's part is drawn to the
    shop's, as if so many more of its tickets had waited as the shop's do. Where nothing was ever done, all is at once.
    """
    days = np.clip(days, 0, LONGEST)
    ended, there = (np.zeros((n_kinds, LONGEST + 1)) for _ in range(2))
    np.add.at(ended, (kind[done], days[done]), 1.0)
    np.add.at(there, (kind, np.where(done, days, days - 1)), np.where(done | (days > 0), 1.0, 0.0))
    waiting = there[:, ::-1].cumsum(axis=1)[:, ::-1]
    shop_ended, shop_waiting = ended.sum(axis=0), waiting.sum(axis=0)
    shop = np.where(shop_waiting > 0, shop_ended / np.maximum(shop_waiting, 1.0), 1.0)
    part = (ended + SHOP_TICKETS * shop) / (waiting + SHOP_TICKETS)
    part[:, -1] = 1.0
    left = np.cumprod(np.hstack([np.ones((n_kinds, 1)), 1.0 - part[:, :-1]]), axis=1)
    chances: Floats = left * part
    return chances


def weeks_moved(chances: Floats, week_of: Ints, n_weeks: int) -> Floats:
    """Say which part of a week's tickets is worked in each week, shape (n_kinds, n_weeks, n_weeks).

    Parameters
    ----------
    chances : (n_kinds, LONGEST + 1) float
        Of being done on each worked day from taking in.
    week_of : (n_days,) int
        The week of each coming worked day, in order.
    n_weeks : int
        How many weeks are looked at; what is worked later is left out.

    Notes
    -----
    Tickets are taken in evenly on the days worked; in a week without any, on the next one.
    """
    moved = np.zeros((len(chances), n_weeks, n_weeks + 1))
    week_of = np.minimum(week_of, n_weeks)
    after = np.full(chances.shape[1], n_weeks)
    for week in range(n_weeks):
        days = np.flatnonzero(week_of == week)
        if not len(days):
            days = np.searchsorted(week_of, [week])
        for day in days:
            done = np.concatenate([week_of[day : day + chances.shape[1]], after])[: chances.shape[1]]
            by_week = np.eye(n_weeks + 1)[done]
            moved[:, week] += chances @ by_week / len(days)
    return moved[:, :, :n_weeks]


def worked(paths: Paths, moved: Floats, kind: Ints, chance: Chance) -> Paths:
    """Move futures of tickets from the week they are taken in to the week they are worked in.

    Parameters
    ----------
    paths : Paths
        Tickets to come, by the week they are taken in.
    moved : (n_kinds, n_weeks, n_weeks) float
        As `weeks_moved` says.
    kind : (n_series,) int
        Each stream's kind.
    chance : Chance
        Every ticket draws its own day, from its stream's source.
    """
    counts, done_by = np.zeros_like(paths.counts), moved.cumsum(axis=2)
    for series, rng in enumerate(chance.each("worked", paths.names)):
        path, week = np.nonzero(paths.counts[:, series])
        many = paths.counts[path, series, week].astype(np.int64)
        path, week = np.repeat(path, many), np.repeat(week, many)
        done = (done_by[kind[series], week] <= rng.random(len(path))[:, None]).sum(axis=1)
        here = done < paths.horizon
        np.add.at(counts, (path[here], series, done[here]), 1)
    return replace(paths, mean=np.einsum("sw,swv->sv", paths.mean, moved[kind]), counts=counts)
