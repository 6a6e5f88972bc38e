from datetime import date, datetime
from pathlib import Path

import pytest

from stockroom.stock.quantities import unit
from tests.nasty.small_shop import load, said

HEAD = "reference,order,supplier,ordered,expected,received,material,supplier code,packs,amount,unit,cost,carriage,duties,lot,expiry,tax %\n"


def test_rows_of_one_delivery_note_are_one_delivery(tmp_path: Path) -> None:
    rows = (
        "D1,P1,NORTH,2026-02-02,,2026-02-06 10:15,LACE,L1,2,20,pair,18.00,8.50,,LOT7,2028-01-31,21\n"
        "D1,P1,NORTH,2026-02-02,,2026-02-06 10:15,GLUE,,1,5,l,60.00,,1.20,,,\n"
        "D1,,WEST,,,2026-03-01,BEND,,,1.87,m2,140.00,,,,,\n"
    )
    loaded = load(tmp_path, {"deliveries": HEAD + rows})
    north, west = loaded.deliveries
    assert (north.reference, north.order, north.ordered) == ("D1", "P1", date(2026, 2, 2))
    assert (north.carriage, north.duties, north.received) == (850, 120, datetime(2026, 2, 6, 10, 15))
    assert [line.amount for line in north.lines] == [unit("pair").of(20), unit("ml").of(5000)]
    assert (north.lines[0].lot, north.lines[0].expiry, north.lines[0].tax_rate) == ("LOT7", date(2028, 1, 31), "21")
    assert (west.supplier, west.received, west.lines[0].packs) == ("WEST", datetime(2026, 3, 1, 9), None)
    assert loaded.orders == ()


def test_rows_not_received_are_an_open_order_given_whole(tmp_path: Path) -> None:
    rows = (
        "D1,P1,NORTH,2026-02-02,,2026-02-06,LACE,L1,2,20,pair,18.00,,,,,\n"
        ",P1,NORTH,2026-02-02,2026-02-20,,LACE,L1,1,10,pair,9.00,8.50,,,,\n"
        ",P1,NORTH,2026-02-02,2026-02-20,,GLUE,,1,5,l,60.00,,,,,\n"
    )
    loaded = load(tmp_path, {"deliveries": HEAD + rows})
    (order,) = loaded.orders
    assert (order.number, order.supplier, order.expected, order.carriage) == ("P1", "NORTH", date(2026, 2, 20), 850)
    assert order.placed == datetime(2026, 2, 2, 12)
    assert [(line.material, line.packs, line.pack, line.cost, line.received) for line in order.lines] == [
        ("LACE", 3, unit("pair").of(10), 2700, 0),
        ("GLUE", 1, unit("l").of(5), 6000, 0),
    ]
    assert [line.amount for line in loaded.deliveries[0].lines] == [unit("pair").of(20)]


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        (
            ",,NORTH,2026-02-02,,2026-02-06,LACE,,,20,,18,,,,,\n",
            "column 'reference': The cell is blank, but it is needed here",
        ),
        (",,NORTH,2026-02-02,,,LACE,,2,20,,18,,,,,\n", "column 'order': The cell is blank, but it is needed here"),
        (",P1,NORTH,,,,LACE,,2,20,,18,,,,,\n", "column 'ordered': The cell is blank, but it is needed here"),
        (",P1,NORTH,2026-02-02,,,LACE,,,20,,18,,,,,\n", "column 'packs': The cell is blank, but it is needed here"),
        (
            "D1,,NORTH,2026-02-02,,2026-02-01,LACE,,,20,,18,,,,,\n",
            "column 'received': This lies before the order (2026-02-02)",
        ),
        (",P1,NORTH,2026-02-02,2026-02-01,,LACE,,2,20,,18,,,,,\n", "column 'expected': This lies before the order"),
        ("D1,,NORTH,,,2026-02-06,LACE,,,20,m,18,,,,,\n", "LACE is kept in pair (count), not in length: 20 m"),
        (
            "D1,,NORTH,,,2026-02-06,LACE,,,20,,18,5,,,,\nD1,,NORTH,,,2026-02-06,GLUE,,,20,,18,6,,,,\n",
            "don't agree on 'carriage': 500 and 600",
        ),
        (
            "D1,P1,NORTH,,,2026-02-06,LACE,,,20,,18,,,,,\nD1,P2,NORTH,,,2026-02-06,GLUE,,,20,,18,,,,,\n",
            "don't agree on 'order': P1 and P2",
        ),
        (
            "D1,,NORTH,,,2026-02-06,LACE,,,20,,18,,,,,\nD1,,NORTH,,,2026-02-07,GLUE,,,20,,18,,,,,\n",
            "don't agree on 'received'",
        ),
        (",P1,NORTH,2026-02-02,,,LACE,,3,5.000000001,g,18,,,,,\n", "kept in pair"),
        (",P1,NORTH,2026-02-02,,,BEND,,3,0.000000001,dm2,18,,,,,\n", "isn't 3 equal packs"),
    ],
)
def test_goods_at_fault_say_what_to_do(rows: str, words: str, tmp_path: Path) -> None:
    (line,) = said(tmp_path, {"deliveries": HEAD + rows})
    assert line.startswith("deliveries.csv, row 2")
    assert words in line


def test_carriage_repeated_on_each_row_is_charged_once(tmp_path: Path) -> None:
    rows = "".join(f"D1,,NORTH,,,2026-02-06,{code},,,20,,18,8.50,0,,,\n" for code in ("LACE", "GLUE"))
    (delivery,) = load(tmp_path, {"deliveries": HEAD + rows}).deliveries
    assert (delivery.carriage, delivery.duties) == (850, 0)
