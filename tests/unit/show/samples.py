"""Rows of an invented shop, as the flows would fill them."""

from datetime import date, datetime

from stockroom.stock.lists import CountSheet, ReorderLine, ReorderList, RunOutRow, SheetLine, ShelfRow
from stockroom.stock.quantities import NANO, UNITS

TODAY = date(2026, 11, 25)
LITRE, PAIR, KILO = UNITS["l"], UNITS["pair"], UNITS["kg"]

SHELF = [
    ShelfRow(
        material="CEM-01",
        name="Contact cement, all purpose, slow drying",
        unit=LITRE,
        on_hand=3250 * NANO,
        set_aside=120 * NANO,
        on_order=5000 * NANO,
        family="cement",
        place="B2",
        last_counted=datetime(2026, 11, 20, 9, 30),
    ),
    ShelfRow(
        material="HEEL-45B",
        name="Rubber top piece 45 mm black",
        unit=PAIR,
        on_hand=-14 * NANO,
        place="A10",
        cause="the delivery for order P-14 is not entered",
    ),
]
RUN_OUTS = [
    RunOutRow(
        material="CEM-01",
        name="Contact cement, all purpose, slow drying",
        unit=LITRE,
        free=3130 * NANO,
        weekly_use=420.5,
        days_left=44,
        runs_out=date(2027, 1, 8),
        earliest=date(2026, 12, 22),
        latest=date(2027, 2, 3),
        chance_by_week=(0.0, 0.02, 0.3, 0.7),
        order_by=date(2026, 12, 15),
        tickets_at_risk=("1042", "1044"),
        why="Resoling picks up before the holidays",
    ),
    RunOutRow(
        material="LACE-90", name="Laces 90 cm", unit=PAIR, free=140 * NANO, weekly_use=3.2, chance_by_week=(0.03,)
    ),
]
ORDERS = [
    ReorderList(
        supplier="NORTH",
        name="Northgate Findings",
        carriage=895,
        carriage_free_over=15000,
        minimum_order=5000,
        order_by=date(2026, 11, 26),
        expected=date(2026, 11, 30),
        notes=("€42.50 more would make carriage free; not worth it this week.",),
        lines=(
            ReorderLine(
                supplier="NORTH",
                supplier_code="NG-4410",
                material="CEM-01",
                name="Contact cement",
                unit=LITRE,
                packs=1,
                pack=5000 * NANO,
                cost=6250,
                pack_name="tin of 5 l",
                reason="Runs out about 8 Jan; without it four resoles would wait.",
                cautions=("flammable: check local rules and your insurer",),
            ),
            ReorderLine(
                supplier="NORTH",
                supplier_code="=NG-0045",
                material="HEEL-45B",
                name="Rubber top piece 45 mm black",
                unit=PAIR,
                packs=5,
                pack=20 * NANO,
                cost=4500,
            ),
        ),
    )
]
SHEET = CountSheet(
    shop="The Last Bench",
    key="C-2026-48-7Q",
    made=datetime(2026, 11, 25, 9, 0),
    lines=(
        SheetLine(
            material="CEM-01",
            name="Contact cement",
            unit=LITRE,
            place="B2",
            aid="by weight",
            hint="Weigh the open tin; empty it weighs 310 g.",
        ),
        SheetLine(material="HEEL-45B", name="Rubber top piece 45 mm black", unit=PAIR, place="A10"),
        SheetLine(material="HEEL-40B", name="Rubber top piece 40 mm black", unit=PAIR, place="A2"),
        SheetLine(material="NAIL-13", name="Brass nails 13 mm", unit=KILO, aid="by sample"),
    ),
)
