"""Another way to fill a limit: what runs out first takes the money first, whatever else it could spare."""

from collections import defaultdict
from collections.abc import Mapping

import numpy as np

from stockroom.buying.basket import Basket, room_left
from stockroom.buying.order_cycle import carriage_on
from stockroom.buying.problem import FloatArray, OrderProblem

_TINY = 1e-9


def most_urgent_first(problem: OrderProblem, wanted: Basket, runs_out: FloatArray) -> dict[int, int]:
    """Take of a basket what fits the limits, the item that runs out first before all others.

    Parameters
    ----------
    problem : OrderProblem
        That the basket answers, with its limits.
    wanted : Basket
        What would be ordered without them.
    runs_out : ndarray
        Days until each item runs out; shape (n_items,).

    Returns
    -------
    dict of int to int
        Packs of each offer: of each as many as still fit, none below what is sold, no order below a minimum.
    """
    room = room_left(problem)
    lines = sorted(wanted.lines, key=lambda line: (float(runs_out[line.item]), line.offer))
    out = set[int]()
    while True:
        packs: dict[int, int] = {}
        for line in (each for each in lines if each.supplier not in out):
            packs[line.offer] = _most(problem, packs, line.offer, line.packs, room)
        packs = {offer: count for offer, count in packs.items() if count}
        small = _too_small(problem, packs)
        if not small:
            return packs
        out.add(small[0])


def _most(problem: OrderProblem, packs: Mapping[int, int], number: int, wanted: int, room: FloatArray) -> int:
    """Say how many packs of an offer still fit beside the others, up to what is wanted."""
    offer = problem.offers[number]
    sold = range(offer.at_least(1), wanted + 1, offer.multiple)
    fitting = (count for count in reversed(sold) if (_taken(problem, {**packs, number: count}) <= room + _TINY).all())
    return next(fitting, 0)


def _taken(problem: OrderProblem, packs: Mapping[int, int]) -> FloatArray:
    """Cash with carriage, space and litres that packs take."""
    worth = _worth(problem, packs)
    cash = sum(each + carriage_on(problem.suppliers[supplier], each) for supplier, each in worth.items())
    amounts = [(problem.items[problem.offers[n].item], count * problem.offers[n].pack) for n, count in packs.items()]
    space, litres = (sum(much * getattr(item, what) for item, much in amounts) for what in ("space", "flammable"))
    return np.array([cash, space, litres])


def _worth(problem: OrderProblem, packs: Mapping[int, int]) -> dict[int, float]:
    worth: dict[int, float] = defaultdict(float)
    for number, count in packs.items():
        worth[problem.offers[number].supplier] += count * problem.offers[number].price_at(count)
    return worth


def _too_small(problem: OrderProblem, packs: Mapping[int, int]) -> list[int]:
    """Name the suppliers who would not take such an order: too little money, or too light."""
    weight: dict[int, float] = defaultdict(float)
    for number, count in packs.items():
        weight[problem.offers[number].supplier] += count * problem.offers[number].weight
    terms = problem.suppliers
    return [
        each
        for each, worth in _worth(problem, packs).items()
        if worth < terms[each].least_order - _TINY or weight[each] < terms[each].least_weight - _TINY
    ]
