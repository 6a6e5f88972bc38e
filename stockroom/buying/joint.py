"""Jobs that a missing part holds up anyway: while they wait for it, their other parts cost nothing by being short."""

import numpy as np

from stockroom.buying.ask import Ask, FloatArray, Jobs
from stockroom.buying.futures import BATCH, futures

Relief = dict[int, FloatArray]


def relief(ask: Ask) -> Relief:
    """Find how much a shortage still costs where the same job lacks a part that no order can bring in time.

    Parameters
    ----------
    ask : Ask
        Shelves, jobs and suppliers.

    Returns
    -------
    dict of int to ndarray
        Per affected item an array of shape (n_paths, n_steps) in [0, 1]; items not named cost in full.

    Notes
    -----
    A job waits for its last part: its cost is the largest, not the sum, over its missing parts. Charging
    each missing part in full is a bound from above (a sum is never below its largest term), and exact
    while one part is missing at a time. Where a part is short before anything ordered now can arrive, the
    job's days are lost whatever is bought, so the bound stays valid when the other parts are let off.
    """
    if ask.jobs is None:
        return {}
    doomed = _doomed(ask)
    if not doomed:
        return {}
    touched = ask.jobs.needs > 0
    found: Relief = {}
    for item in np.flatnonzero(touched[touched[:, list(doomed)].any(axis=1)].any(axis=0)):
        let_off = _let_off(ask.jobs, int(item), doomed)
        if let_off is not None:
            found[int(item)] = 1.0 - let_off
    return found


def _doomed(ask: Ask) -> Relief:
    """Items short before any order could arrive: where (path, step), as ones and zeros."""
    first = np.full((len(ask.items), ask.n_paths), np.inf)
    for offer in ask.offers:
        supplier = ask.suppliers[offer.supplier]
        if supplier.order_days[0] == 0 and supplier.name not in ask.what_if.skip:
            np.minimum(first[offer.item], supplier.leads, out=first[offer.item])
    middle = (np.arange(ask.use.shape[2]) + 0.5) * ask.step_days
    found: Relief = {}
    for start in range(0, len(ask.items), BATCH):
        net = futures(ask, slice(start, start + BATCH)).net_within()
        before = middle < first[start : start + BATCH, :, None]
        short = (net < 0) & before & np.isfinite(first[start : start + BATCH, :, None])
        for row in np.flatnonzero(short.any(axis=(1, 2))):
            found[start + int(row)] = short[row].astype(np.float64)
    return found


def _let_off(jobs: Jobs, item: int, doomed: Relief) -> FloatArray | None:
    """Part of the item's daily cost that other, doomed parts already cause; None if none."""
    own = np.flatnonzero(jobs.needs[:, item] > 0)
    rate = jobs.paths[:, own].mean(axis=(0, 2)) + 1e-9
    weight = rate * jobs.held_day_cost[own]
    total, let_off = float(weight.sum()), None
    for job, share in zip(own, weight / max(total, 1e-12), strict=True):
        others = [
            doomed[each] for each in np.flatnonzero(jobs.needs[job] > 0).tolist() if each != item and each in doomed
        ]
        if others:
            part = share * np.maximum.reduce(others)
            let_off = part if let_off is None else let_off + part
    return let_off
