"""What each list holds, column by column: one description for spreadsheets and for JSON."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import Enum, auto
from typing import Generic, TypeVar

from stockroom.show.tables.listing import USUAL_CAUSE
from stockroom.stock.lists import ReorderLine, RunOutRow, ShelfRow
from stockroom.stock.quantities import NANO

Row = TypeVar("Row", ShelfRow, RunOutRow, ReorderLine)


class ValueKind(Enum):
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
class ListColumn(Generic[Row]):
    """One column of a list."""

    key: str
    heading: str
    kind: ValueKind
    read: Callable[[Row], object]
    width: int = 12  # in a spreadsheet, in letters


def _cause(row: ShelfRow) -> str:
    return (row.cause or USUAL_CAUSE) if row.below_zero else ""


SHELF: tuple[ListColumn[ShelfRow], ...] = (
    ListColumn(key="material", heading="Code", kind=ValueKind.TEXT, read=lambda r: r.material, width=16),
    ListColumn(key="name", heading="Material", kind=ValueKind.TEXT, read=lambda r: r.name, width=34),
    ListColumn(key="family", heading="Family", kind=ValueKind.TEXT, read=lambda r: r.family, width=14),
    ListColumn(key="place", heading="Location", kind=ValueKind.TEXT, read=lambda r: r.place, width=10),
    ListColumn(key="on_hand", heading="On hand", kind=ValueKind.AMOUNT, read=lambda r: r.on_hand, width=10),
    ListColumn(key="set_aside", heading="Reserved", kind=ValueKind.AMOUNT, read=lambda r: r.set_aside, width=10),
    ListColumn(key="lent", heading="Lent out", kind=ValueKind.AMOUNT, read=lambda r: r.lent, width=10),
    ListColumn(key="free", heading="Available", kind=ValueKind.AMOUNT, read=lambda r: r.free, width=10),
    ListColumn(key="on_order", heading="On order", kind=ValueKind.AMOUNT, read=lambda r: r.on_order, width=10),
    ListColumn(key="unit", heading="Unit", kind=ValueKind.UNIT, read=lambda r: r.unit, width=8),
    ListColumn(key="below_zero", heading="Below zero", kind=ValueKind.FLAG, read=lambda r: r.below_zero),
    ListColumn(key="cause", heading="Likely cause", kind=ValueKind.TEXT, read=_cause, width=34),
    ListColumn(
        key="last_counted", heading="Last counted", kind=ValueKind.MOMENT, read=lambda r: r.last_counted, width=17
    ),
)

RUN_OUTS: tuple[ListColumn[RunOutRow], ...] = (
    ListColumn(key="material", heading="Code", kind=ValueKind.TEXT, read=lambda r: r.material, width=16),
    ListColumn(key="name", heading="Material", kind=ValueKind.TEXT, read=lambda r: r.name, width=34),
    ListColumn(key="free", heading="Available", kind=ValueKind.AMOUNT, read=lambda r: r.free, width=10),
    ListColumn(key="on_order", heading="On order", kind=ValueKind.AMOUNT, read=lambda r: r.on_order, width=10),
    ListColumn(
        key="weekly_use",
        heading="Used a week",
        kind=ValueKind.AMOUNT,
        read=lambda r: round(r.weekly_use * NANO),
        width=10,
    ),
    ListColumn(key="unit", heading="Unit", kind=ValueKind.UNIT, read=lambda r: r.unit, width=8),
    ListColumn(key="days_left", heading="Days left", kind=ValueKind.NUMBER, read=lambda r: r.days_left, width=8),
    ListColumn(key="runs_out", heading="Runs out", kind=ValueKind.DAY, read=lambda r: r.runs_out, width=13),
    ListColumn(key="earliest", heading="Early case", kind=ValueKind.DAY, read=lambda r: r.earliest, width=13),
    ListColumn(key="latest", heading="Late case", kind=ValueKind.DAY, read=lambda r: r.latest, width=13),
    ListColumn(key="order_by", heading="Order by", kind=ValueKind.DAY, read=lambda r: r.order_by, width=13),
    ListColumn(key="chance", heading="Risk of running short", kind=ValueKind.SHARE, read=lambda r: r.chance, width=11),
    ListColumn(
        key="chance_by_week", heading="Risk by week", kind=ValueKind.SHARES, read=lambda r: r.chance_by_week, width=30
    ),
    ListColumn(
        key="tickets_at_risk",
        heading="Tickets at risk",
        kind=ValueKind.TEXTS,
        read=lambda r: r.tickets_at_risk,
        width=18,
    ),
    ListColumn(key="why", heading="Why", kind=ValueKind.TEXT, read=lambda r: r.why, width=36),
)

REORDER: tuple[ListColumn[ReorderLine], ...] = (
    ListColumn(key="supplier", heading="Supplier", kind=ValueKind.TEXT, read=lambda r: r.supplier, width=10),
    ListColumn(
        key="supplier_code", heading="Their code", kind=ValueKind.TEXT, read=lambda r: r.supplier_code, width=13
    ),
    ListColumn(key="material", heading="Code", kind=ValueKind.TEXT, read=lambda r: r.material, width=16),
    ListColumn(key="name", heading="Material", kind=ValueKind.TEXT, read=lambda r: r.name, width=34),
    ListColumn(key="packs", heading="Packs", kind=ValueKind.NUMBER, read=lambda r: r.packs, width=8),
    ListColumn(key="pack_name", heading="Pack", kind=ValueKind.TEXT, read=lambda r: r.pack_name, width=18),
    ListColumn(key="pack", heading="In a pack", kind=ValueKind.AMOUNT, read=lambda r: r.pack, width=10),
    ListColumn(key="amount", heading="Amount", kind=ValueKind.AMOUNT, read=lambda r: r.amount, width=10),
    ListColumn(key="unit", heading="Unit", kind=ValueKind.UNIT, read=lambda r: r.unit, width=8),
    ListColumn(key="cost", heading="Cost before tax", kind=ValueKind.MONEY, read=lambda r: r.cost, width=13),
    ListColumn(key="reason", heading="Reason", kind=ValueKind.TEXT, read=lambda r: r.reason, width=50),
    ListColumn(key="warning", heading="Too late", kind=ValueKind.TEXT, read=lambda r: r.warning, width=40),
    ListColumn(key="more", heading="Also", kind=ValueKind.TEXT, read=lambda r: r.more, width=40),
    ListColumn(key="cautions", heading="Hazards", kind=ValueKind.TEXTS, read=lambda r: r.cautions, width=36),
    ListColumn(key="runs_out", heading="Runs out", kind=ValueKind.DAY, read=lambda r: r.runs_out, width=13),
    ListColumn(key="lasts_until", heading="Lasts until", kind=ValueKind.DAY, read=lambda r: r.lasts_until, width=13),
    ListColumn(
        key="risk_if_left", heading="Risk if left", kind=ValueKind.SHARE, read=lambda r: r.risk_if_left, width=11
    ),
    ListColumn(
        key="better_price_from",
        heading="Better price from",
        kind=ValueKind.NUMBER,
        read=lambda r: r.better_price_from,
        width=11,
    ),
)
