"""All ways to buy the items of some suppliers, laid out as one table of options an item chooses from."""

from dataclasses import dataclass

import numpy as np

from stockroom.buying.ask import Ask, FloatArray, IntArray
from stockroom.buying.sheets import Sheet


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Order from a supplier now or not, and which of its next order days the shelf must last to."""

    now: bool
    wait: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Board:
    """Options of each item, shape (n_items, n_options); option 0 is to buy nothing.

    `slot` is the place of the option's supplier among `sheets` (-1 for option 0 and padding); `place`
    holds, per sheet, where its costs go in the flattened table; `idle` the cost of option 0 under each
    sheet's waits, shape (n_items, n_waits), inf for items it does not offer.
    """

    sheets: tuple[Sheet, ...]
    items: IntArray
    slot: IntArray
    offer: IntArray
    counts: IntArray
    spend: FloatArray
    space: FloatArray
    flammable: FloatArray
    place: tuple[IntArray, ...]
    idle: tuple[FloatArray, ...]

    def plans(self, slot: int) -> tuple[Plan, ...]:
        """What may be planned with one supplier."""
        waits = range(len(self.sheets[slot].untils))
        later = tuple(Plan(now=False, wait=each) for each in waits[:3])
        return later + (tuple(Plan(now=True, wait=each) for each in waits) if self.sheets[slot].may_order else ())

    def costs(self, plans: tuple[Plan, ...]) -> FloatArray:
        """Cost of each option under these plans, without carriage and rhythm; inf where not open."""
        cost = np.full(self.spend.size, np.inf)
        idle = np.full(len(self.items), np.inf)
        for sheet, plan, place, waiting in zip(self.sheets, plans, self.place, self.idle, strict=True):
            np.minimum(idle, waiting[:, plan.wait], out=idle)
            if plan.now:
                cost[place] = (sheet.cost[:, plan.wait, 1:] + sheet.base[:, None]).ravel()
        table = cost.reshape(self.spend.shape)
        table[:, 0] = idle
        return table

    def rhythm(self, plans: tuple[Plan, ...]) -> float:
        """What the time bridged by these plans would cost in the long run."""
        pairs = zip(self.sheets, plans, strict=True)
        return float(sum(sheet.rhythm.day_cost * sheet.untils[plan.wait] for sheet, plan in pairs))


def board(ask: Ask, sheets: tuple[Sheet, ...]) -> Board:
    """Lay out the options of some suppliers."""
    items = np.unique(np.concatenate([each.items for each in sheets]))
    row_of = {int(item): row for row, item in enumerate(items)}
    width = np.ones(len(items), dtype=np.int64)
    starts = []
    for sheet in sheets:
        start = np.empty(len(sheet.offers), dtype=np.int64)
        for index, item in enumerate(sheet.items):
            start[index] = width[row_of[int(item)]]
            width[row_of[int(item)]] += sheet.counts.shape[1] - 1
        starts.append(start)
    shape = (len(items), int(width.max()))
    places = tuple(_places(sheet, row_of, start, shape[1]) for sheet, start in zip(sheets, starts, strict=True))
    filled = _filled(sheets, places, shape)
    amounts = filled.pop("amounts")
    space = np.array([ask.items[each].space for each in items])
    flammable = np.array([ask.items[each].flammable for each in items])
    idle = tuple(_idle(sheet, row_of, len(items)) for sheet in sheets)
    return Board(
        sheets=sheets,
        items=items,
        place=places,
        idle=idle,
        slot=filled["slot"].astype(np.int64),
        offer=filled["offer"].astype(np.int64),
        counts=filled["counts"].astype(np.int64),
        spend=filled["spend"],
        space=amounts * space[:, None],
        flammable=amounts * flammable[:, None],
    )


def _places(sheet: Sheet, row_of: dict[int, int], start: IntArray, width: int) -> IntArray:
    rows = np.array([row_of[int(item)] for item in sheet.items])
    columns = start[:, None] + np.arange(sheet.counts.shape[1] - 1)
    places: IntArray = (rows[:, None] * width + columns).ravel()
    return places


def _filled(sheets: tuple[Sheet, ...], places: tuple[IntArray, ...], shape: tuple[int, int]) -> dict[str, FloatArray]:
    names = {"slot": -1.0, "offer": -1.0, "counts": 0.0, "spend": 0.0, "amounts": 0.0}
    flat = {name: np.full(shape[0] * shape[1], empty) for name, empty in names.items()}
    for slot, (sheet, place) in enumerate(zip(sheets, places, strict=True)):
        many = sheet.counts.shape[1] - 1
        flat["slot"][place] = slot
        flat["offer"][place] = np.repeat(sheet.offers, many)
        flat["counts"][place] = sheet.counts[:, 1:].ravel()
        flat["spend"][place] = sheet.spend[:, 1:].ravel()
        flat["amounts"][place] = sheet.amounts[:, 1:].ravel()
    return {name: values.reshape(shape) for name, values in flat.items()}


def _idle(sheet: Sheet, row_of: dict[int, int], n_items: int) -> FloatArray:
    idle = np.full((n_items, len(sheet.untils)), np.inf)
    for index, item in enumerate(sheet.items):
        idle[row_of[int(item)]] = sheet.cost[index, :, 0] + sheet.base[index]
    return idle
