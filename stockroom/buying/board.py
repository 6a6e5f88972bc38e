"""All ways to buy the items of some suppliers, laid out as one table of options an item chooses from."""

from dataclasses import dataclass, replace

import numpy as np

from stockroom.buying.ask import Ask, FloatArray, IntArray, Item
from stockroom.buying.sheets import Sheet, homes


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Order from a supplier now or not, and which of its next order days the shelf must last to."""

    now: bool
    wait: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Board:
    """Options of each item, shape (n_items, n_options); option 0 is to buy nothing.

    `slot` is the place of the option's supplier among `sheets` (-1 for option 0 and padding); `place`
    holds, per sheet, where its costs (those `taken`) go in the flattened table; `idle` the cost of option 0 under each
    sheet's waits, shape (n_items, n_waits), inf for items it does not offer, and `missed` its wish's weight.
    `home` is the place of the supplier an item usually comes from (-1: not among them) and `dear`, per
    sheet, how much more a unit costs there: what is used before the usual supplier's next order can arrive
    must be bought so dear.
    """

    sheets: tuple[Sheet, ...]
    items: IntArray
    slot: IntArray
    offer: IntArray
    counts: IntArray
    spend: FloatArray
    amounts: FloatArray
    space: FloatArray
    flammable: FloatArray
    place: tuple[IntArray, ...]
    taken: tuple[IntArray, ...]
    idle: tuple[FloatArray, ...]
    missed: tuple[FloatArray, ...]
    home: IntArray
    dear: tuple[FloatArray, ...]
    rate: FloatArray
    position: FloatArray

    def plans(self, slot: int) -> tuple[Plan, ...]:
        """List what may be planned with one supplier.

        Waiting may last as long as an order placed now: were it cut short, a full shelf could never wait to its end.
        """
        waits = range(len(self.sheets[slot].untils))
        later = tuple(Plan(now=False, wait=each) for each in waits)
        return later + (tuple(Plan(now=True, wait=each) for each in waits) if self.sheets[slot].may_order else ())

    def costs(self, plans: tuple[Plan, ...], *, wished: bool = True) -> FloatArray:
        """Cost of each option under these plans, without carriage and rhythm; inf where not open.

        With `wished`, options that miss the wished service carry its weight.
        """
        cost = np.full(self.spend.size, np.inf)
        idle = np.full(len(self.items), np.inf)
        lacking = self._lacking(plans)
        amounts = self.amounts.ravel()
        for slot, (sheet, plan) in enumerate(zip(self.sheets, plans, strict=True)):
            waiting = self.idle[slot][:, plan.wait] + self.dear[slot] * lacking
            np.minimum(idle, waiting + wished * self.missed[slot][:, plan.wait], out=idle)
            place, taken = self.place[slot], self.taken[slot]
            if plan.now and len(place):
                row = place // self.spend.shape[1]
                dear = self.dear[slot][row] * np.maximum(lacking[row] - amounts[place], 0.0)
                whole = sheet.cost[:, plan.wait, 1:] + wished * sheet.missed[:, plan.wait, 1:] + sheet.base[:, None]
                cost[place] = whole.ravel()[taken] + dear
        table = cost.reshape(self.spend.shape)
        table[:, 0] = idle
        return table

    def only(self, rows: IntArray) -> "Board":
        """Keep some of the items."""
        width = self.spend.shape[1]
        new_row = np.full(len(self.items), -1)
        new_row[rows] = np.arange(len(rows))
        kept = [new_row[place // width] >= 0 for place in self.place]
        places = (place[keep] for place, keep in zip(self.place, kept, strict=True))
        return replace(
            self,
            items=self.items[rows],
            slot=self.slot[rows],
            offer=self.offer[rows],
            counts=self.counts[rows],
            spend=self.spend[rows],
            amounts=self.amounts[rows],
            space=self.space[rows],
            flammable=self.flammable[rows],
            place=tuple(new_row[place // width] * width + place % width for place in places),
            taken=tuple(taken[keep] for taken, keep in zip(self.taken, kept, strict=True)),
            idle=tuple(each[rows] for each in self.idle),
            missed=tuple(each[rows] for each in self.missed),
            home=self.home[rows],
            dear=tuple(each[rows] for each in self.dear),
            rate=self.rate[rows],
            position=self.position[rows],
        )

    def _lacking(self, plans: tuple[Plan, ...]) -> FloatArray:
        """Units that must come from elsewhere before the usual supplier's next order can arrive."""
        arrivals = [sheet.untils[plan.wait] + sheet.lead for sheet, plan in zip(self.sheets, plans, strict=True)]
        usual = np.where(self.home >= 0, np.array(arrivals)[self.home], 0.0)
        return np.maximum(self.rate * usual - self.position, 0.0)

    def rhythm(self, plans: tuple[Plan, ...]) -> float:
        """Price the time bridged by these plans at its long-run cost."""
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
    amounts = filled["amounts"]
    space = np.array([ask.items[each].space for each in items])
    flammable = np.array([ask.items[each].flammable for each in items])
    idle = tuple(_idle(sheet, row_of, len(items)) for sheet in sheets)
    dear = tuple(_dear(sheet, row_of, len(items)) for sheet in sheets)
    usual = homes(ask)[items]
    home = np.full(len(items), -1)
    for slot, sheet in enumerate(sheets):
        home[usual == sheet.supplier] = slot
    return Board(
        sheets=sheets,
        items=items,
        place=places,
        taken=tuple(np.arange(len(each)) for each in places),
        idle=idle,
        missed=tuple(_missed(sheet, row_of, len(items)) for sheet in sheets),
        home=home,
        dear=dear,
        amounts=amounts,
        rate=ask.use[:, items, :].mean(axis=(0, 2)) / ask.step_days,
        position=np.array([_position(ask.items[each]) for each in items]),
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


def _missed(sheet: Sheet, row_of: dict[int, int], n_items: int) -> FloatArray:
    missed = np.zeros((n_items, len(sheet.untils)))
    for index, item in enumerate(sheet.items):
        missed[row_of[int(item)]] = sheet.missed[index, :, 0]
    return missed


def _dear(sheet: Sheet, row_of: dict[int, int], n_items: int) -> FloatArray:
    dear = np.full(n_items, np.inf)
    for index, item in enumerate(sheet.items):
        dear[row_of[int(item)]] = min(dear[row_of[int(item)]], sheet.dear[index])
    return np.where(np.isfinite(dear), dear, 0.0)


def _position(item: Item) -> float:
    return float(np.mean(item.on_hand)) + sum(each.quantity for each in item.coming)
