"""What each list holds, column by column: one description for spreadsheets and for JSON."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from typing import Generic, TypeVar

from stockroom.show.tables import USUAL_CAUSE
from stockroom.stock.lists import ReorderLine, RunOutRow, ShelfRow
from stockroom.stock.quantities import NANO

Row = TypeVar("Row", ShelfRow, RunOutRow, ReorderLine)


class Kind(Enum):
    """How a value is to be read and written."""

    TEXT = auto()
    TEXTS = auto()  # several texts
    AMOUNT = auto()  # nano of the base unit, shown in the row's unit
    UNIT = auto()
    MONEY = auto()  # minor units
    NUMBER = auto()  # a whole number
    SHARE = auto()  # 0 to 1
    SHARES = auto()
    DAY = auto()
    MOMENT = auto()
    FLAG = auto()


@dataclass(frozen=True, slots=True, kw_only=True)
class Column(Generic[Row]):
    """One column of a list."""

    key: str
    heading: str
    kind: Kind
    read: Callable[[Row], object]
    width: int = 12  # in a spreadsheet, in letters


def _cause(row: ShelfRow) -> str:
    return (row.cause or USUAL_CAUSE) if row.below_zero else ""


SHELF: tuple[Column[ShelfRow], ...] = (
    Column(key="material", heading="Code", kind=Kind.TEXT, read=lambda r: r.material, width=16),
    Column(key="name", heading="Material", kind=Kind.TEXT, read=lambda r: r.name, width=34),
    Column(key="family", heading="Family", kind=Kind.TEXT, read=lambda r: r.family, width=14),
    Column(key="place", heading="Place", kind=Kind.TEXT, read=lambda r: r.place, width=10),
    Column(key="on_hand", heading="On hand", kind=Kind.AMOUNT, read=lambda r: r.on_hand, width=10),
    Column(key="set_aside", heading="Set aside", kind=Kind.AMOUNT, read=lambda r: r.set_aside, width=10),
    Column(key="free", heading="Free", kind=Kind.AMOUNT, read=lambda r: r.free, width=10),
    Column(key="on_order", heading="On order", kind=Kind.AMOUNT, read=lambda r: r.on_order, width=10),
    Column(key="unit", heading="Unit", kind=Kind.UNIT, read=lambda r: r.unit, width=8),
    Column(key="below_zero", heading="Below zero", kind=Kind.FLAG, read=lambda r: r.below_zero),
    Column(key="cause", heading="Likely cause", kind=Kind.TEXT, read=_cause, width=34),
    Column(key="last_counted", heading="Last counted", kind=Kind.MOMENT, read=lambda r: r.last_counted, width=17),
)

RUN_OUTS: tuple[Column[RunOutRow], ...] = (
    Column(key="material", heading="Code", kind=Kind.TEXT, read=lambda r: r.material, width=16),
    Column(key="name", heading="Material", kind=Kind.TEXT, read=lambda r: r.name, width=34),
    Column(key="free", heading="Free", kind=Kind.AMOUNT, read=lambda r: r.free, width=10),
    Column(key="on_order", heading="On order", kind=Kind.AMOUNT, read=lambda r: r.on_order, width=10),
    Column(
        key="weekly_use", heading="Used a week", kind=Kind.AMOUNT, read=lambda r: round(r.weekly_use * NANO), width=10
    ),
    Column(key="unit", heading="Unit", kind=Kind.UNIT, read=lambda r: r.unit, width=8),
    Column(key="days_left", heading="Days left", kind=Kind.NUMBER, read=lambda r: r.days_left, width=8),
    Column(key="runs_out", heading="Runs out", kind=Kind.DAY, read=lambda r: r.runs_out, width=13),
    Column(key="earliest", heading="Early case", kind=Kind.DAY, read=lambda r: r.earliest, width=13),
    Column(key="latest", heading="Late case", kind=Kind.DAY, read=lambda r: r.latest, width=13),
    Column(key="order_by", heading="Order by", kind=Kind.DAY, read=lambda r: r.order_by, width=13),
    Column(key="chance", heading="Chance in the outlook", kind=Kind.SHARE, read=lambda r: r.chance, width=11),
    Column(key="chance_by_week", heading="Chance by week", kind=Kind.SHARES, read=lambda r: r.chance_by_week, width=30),
    Column(
        key="tickets_at_risk", heading="Tickets at risk", kind=Kind.TEXTS, read=lambda r: r.tickets_at_risk, width=18
    ),
    Column(key="why", heading="Why", kind=Kind.TEXT, read=lambda r: r.why, width=36),
)

REORDER: tuple[Column[ReorderLine], ...] = (
    Column(key="supplier", heading="Supplier", kind=Kind.TEXT, read=lambda r: r.supplier, width=10),
    Column(key="supplier_code", heading="Their code", kind=Kind.TEXT, read=lambda r: r.supplier_code, width=13),
    Column(key="material", heading="Code", kind=Kind.TEXT, read=lambda r: r.material, width=16),
    Column(key="name", heading="Material", kind=Kind.TEXT, read=lambda r: r.name, width=34),
    Column(key="packs", heading="Packs", kind=Kind.NUMBER, read=lambda r: r.packs, width=8),
    Column(key="pack_name", heading="Pack", kind=Kind.TEXT, read=lambda r: r.pack_name, width=18),
    Column(key="pack", heading="In a pack", kind=Kind.AMOUNT, read=lambda r: r.pack, width=10),
    Column(key="amount", heading="Amount", kind=Kind.AMOUNT, read=lambda r: r.amount, width=10),
    Column(key="unit", heading="Unit", kind=Kind.UNIT, read=lambda r: r.unit, width=8),
    Column(key="cost", heading="Cost without tax", kind=Kind.MONEY, read=lambda r: r.cost, width=13),
    Column(key="reason", heading="Reason", kind=Kind.TEXT, read=lambda r: r.reason, width=50),
    Column(key="cautions", heading="Cautions", kind=Kind.TEXTS, read=lambda r: r.cautions, width=36),
)
