from datetime import date, time
from pathlib import Path

import pytest

from stockroom.stock.calendar import Closure, Event
from stockroom.stock.quantities import unit
from stockroom.stock.suppliers import PriceBreak
from tests.nasty.small_shop import load, said

OFFERS = "supplier,material,supplier code,pack,unit,price,priced per,pack in priced,breaks,minimum packs,valid from,measured,tax %\n"


def test_a_supplier_is_read_with_the_terms_of_an_order(tmp_path: Path) -> None:
    text = (
        "code,name,lead days,carriage,carriage free over,minimum order,order weekdays,cut-off,tax %,email\n"
        "NORTH,Northgate (invented),4,8.50,150,40,Mon Thu,14:00,13.5,a@b.example\nWEST,Westgate (invented),9,,,,,,,\n"
    )
    north, west = load(tmp_path, {"suppliers": text}).suppliers
    assert (north.carriage, north.carriage_free_over, north.minimum_order) == (850, 15000, 4000)
    assert (north.order_weekdays, north.cut_off, north.tax_rate) == (frozenset({0, 3}), time(14), "13.5")
    assert (west.carriage, west.carriage_free_over, west.order_weekdays) == (0, None, frozenset(range(5)))


def test_an_offer_by_weight_of_a_measured_bend_is_read(tmp_path: Path) -> None:
    row = "NORTH,BEND,B9,1.1,m2,14.50,1 kg,5.5 kg,10=13.90; 5=14.20,2,2026-01-01,yes,0\n"
    (offer,) = load(tmp_path, {"offers": OFFERS + row}).offers
    assert offer.pack == unit("dm2").of(110)
    assert offer.breaks == (PriceBreak(packs=5, price=1420), PriceBreak(packs=10, price=1390))
    assert offer.cost(2) == 2 * 7975  # 5.5 kg at 14.50
    assert (offer.minimum_packs, offer.measured, offer.tax_rate) == (2, True, "0")


def test_a_price_by_weight_goes_over_the_material_s_bridge(tmp_path: Path) -> None:
    (offer,) = load(tmp_path, {"offers": OFFERS + "NORTH,BEND,B9,110,,14.50,1 kg,,,,2026-01-01,,\n"}).offers
    assert offer.pack_in_priced == unit("kg").of(5) + unit("g").of(500)  # 1 kg = 20 dm2


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (
            "NORT,BEND,,1,,1,,,,,2026-01-01,,",
            "column 'supplier': No supplier has the code 'NORT' (found: 'NORT'). Did you mean 'NORTH'?",
        ),
        ("NORTH,BAND,,1,,1,,,,,2026-01-01,,", "Did you mean 'BEND'?"),
        ("NORTH,BEND,,0,,1,,,,,2026-01-01,,", "must be above zero"),
        ("NORTH,BEND,,1,m,1,,,,,2026-01-01,,", "BEND is kept in dm2 (area), not in length: 1 m"),
        ("NORTH,LACE,,1,,1,1 kg,,,,2026-01-01,,", "how much mass a pack holds isn't stated"),
        ("NORTH,LACE,,1,,1,1 kg,2 l,,,2026-01-01,,", "how much mass a pack holds isn't stated"),
        ("NORTH,LACE,,1,,1,kg,,,,2026-01-01,,", "Write it like 2.5 kg"),
        ("NORTH,LACE,,1,,1,,,1=5,,2026-01-01,,", "from 2 on"),
        ("NORTH,LACE,,1,,1,,,5=5; 05=4,,2026-01-01,,", "its own number of packs"),
        ("NORTH,LACE,,1,,1,,,,0,2026-01-01,,", "must be above zero"),
        ("NORTH,LACE,,1,,1,,,,,,,", "column 'valid from': The cell is blank"),
    ],
)
def test_an_offer_at_fault_says_what_to_do(row: str, words: str, tmp_path: Path) -> None:
    (line,) = said(tmp_path, {"offers": OFFERS + row})
    assert line.startswith("offers.csv, row 2")
    assert words in line


def test_a_new_price_is_a_new_row_and_a_changed_one_a_fault(tmp_path: Path) -> None:
    row = "NORTH,LACE,L1,12,pair,9.00,,,,,2026-01-01,,\n"
    assert len(load(tmp_path, {"offers": OFFERS + row + row.replace("2026", "2027")}).offers) == 2
    (line,) = said(tmp_path, {"offers": OFFERS + row + row.replace("9.00", "9.50")})
    assert "The offer stands in row 2 already, with other content" in line


def test_closures_and_events_are_read(tmp_path: Path) -> None:
    loaded = load(
        tmp_path,
        {
            "closures": "first,last,who,reason\n2026-08-03,2026-08-15,,summer\n2026-12-24,,NORTH,\n",
            "events": "name,day\nback to school,31/08/2026\n",
        },
    )
    assert loaded.closures == (
        Closure(first=date(2026, 8, 3), last=date(2026, 8, 15), reason="summer"),
        Closure(first=date(2026, 12, 24), last=date(2026, 12, 24), who="NORTH"),
    )
    assert loaded.events == (Event(name="back to school", day=date(2026, 8, 31)),)


def test_a_closure_that_ends_before_it_begins_is_refused(tmp_path: Path) -> None:
    (line,) = said(tmp_path, {"closures": "first,last,who\n2026-08-03,2026-08-01,\n"})
    assert "The last day comes before the first" in line
