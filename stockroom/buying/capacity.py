"""How much work a shelf allows: exactly, of one kind and of the best mix of several."""

from collections.abc import Mapping, Sequence
from math import gcd

import numpy as np

from stockroom.buying.exact import quiet

Amounts = Mapping[str, int]  # whole units by material


def most(needs: Amounts, shelf: Amounts) -> int | None:
    """Say how many times a shelf serves the same needs; None where nothing is needed."""
    return min((max(shelf.get(code, 0), 0) // need for code, need in needs.items() if need > 0), default=None)


def scarcest(needs: Amounts, shelf: Amounts) -> str:
    """Name the material that ends it: the one a further job would lack most; empty where nothing is needed."""
    asked = [(max(shelf.get(code, 0), 0) / need, code) for code, need in needs.items() if need > 0]
    return min(asked, default=(0.0, ""))[1]


def best_mix(ways: Sequence[Amounts], shelf: Amounts) -> tuple[int, ...]:
    """Find the mix that makes the most jobs of what is on the shelf.

    Parameters
    ----------
    ways : sequence of mapping of str to int
        What one job needs, in each of the ways it can be done; each needs something.
    shelf : mapping of str to int
        What there is; below zero counts as nothing.

    Returns
    -------
    tuple of int
        How many of each way. Together they never need more than there is.

    Raises
    ------
    ValueError
        If a way needs nothing: there is no end to it.

    Notes
    -----
    An integer knapsack with a row a material: most jobs, subject to what they need together. Rows are divided by what
    their amounts have in common. The solver works in floating point, so its answer is held against the shelf in whole
    numbers, taken back where it is too much, and filled up where something is left.
    """
    alone = [most(needs, shelf) for needs in ways]
    if None in alone:
        raise ValueError("a way that needs nothing has no end")
    caps = np.array(alone, dtype=np.float64)
    if not caps.any() or len(ways) == 1:
        return tuple(int(cap) for cap in caps)
    return _made_exact(ways, shelf, _solved(ways, shelf, caps))


def _solved(
    ways: Sequence[Amounts], shelf: Amounts, caps: "np.ndarray[tuple[int, ...], np.dtype[np.float64]]"
) -> list[int]:
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 -- slow import

    rows, tops = [], []
    for code in sorted({code for needs in ways for code, need in needs.items() if need > 0}):
        asked = [needs.get(code, 0) for needs in ways]
        common = gcd(*asked)
        asked, there = [need // common for need in asked], max(shelf.get(code, 0), 0) // common
        rows.append([need / max(asked) for need in asked])
        tops.append(there / max(asked))
    with quiet():
        answer = milp(
            -np.ones(len(ways)),
            constraints=LinearConstraint(np.array(rows), ub=np.array(tops)),
            bounds=Bounds(0.0, caps),
            integrality=np.ones(len(ways)),
            options={"mip_rel_gap": 0.0},
        )
    return [0] * len(ways) if answer.x is None else [int(n) for n in np.rint(answer.x)]


def _made_exact(ways: Sequence[Amounts], shelf: Amounts, found: list[int]) -> tuple[int, ...]:
    left = {code: max(shelf.get(code, 0), 0) for needs in ways for code in needs}
    for needs, times in zip(ways, found, strict=True):
        for code, need in needs.items():
            left[code] -= need * times
    counts = list(found)
    while shortfall := next((code for code, amount in left.items() if amount < 0), ""):
        place = max((n for n in range(len(ways)) if counts[n]), key=lambda n: ways[n].get(shortfall, 0))
        _take(counts, left, place, ways[place], -1)
    for place, needs in enumerate(ways):
        _take(counts, left, place, needs, most(needs, left) or 0)
    return tuple(counts)


def _take(counts: list[int], left: dict[str, int], place: int, needs: Amounts, times: int) -> None:
    counts[place] += times
    for code, need in needs.items():
        left[code] -= need * times
