from datetime import date, datetime
from pathlib import Path

import pytest

from stockroom.stock.counts import CountReason
from stockroom.stock.moves import MoveKind
from stockroom.stock.quantities import unit
from tests.nasty.small_shop import load, said


def test_opening_stock_is_read_in_the_material_s_dimension(tmp_path: Path) -> None:
    text = (
        "material,amount,unit,day,value,lot,expiry\nGLUE,860,g,2026-01-02,12.00,L1,2027-01-31\nLACE,0,,2026-01-02,,,\n"
    )
    (line,) = load(tmp_path, {"opening": text}).opening
    assert (line.material, line.amount, line.value) == ("GLUE", unit("l").of(1), 1200)
    assert (line.day, line.lot, line.expiry, line.key) == (
        date(2026, 1, 2),
        "L1",
        date(2027, 1, 31),
        "opening:GLUE:2026-01-02:L1",
    )


def test_opening_stock_of_one_material_twice_is_refused(tmp_path: Path) -> None:
    (line,) = said(tmp_path, {"opening": "material,amount,day\nGLUE,8,2026-01-02\nGLUE,9,2026-01-02\n"})
    assert "This opening stock stands in row 2 already" in line


def test_sales_exactly_alike_are_two_sales_with_lasting_keys(tmp_path: Path) -> None:
    row = "2026-02-03 11:20,LACE,1,pair,3.50,R1\n"
    head = "when,material,amount,unit,price,receipt\n"
    first = load(tmp_path, {"sales": head + row + row}).sales
    longer = load(tmp_path, {"sales": head + row + row + row.replace("R1", "R2")}).sales
    assert (first[0].amount, first[0].price, first[0].when) == (unit("pair").of(1), 350, datetime(2026, 2, 3, 11, 20))
    assert len({sale.key for sale in longer}) == 3
    assert longer[:2] == first


def test_files_that_overlap_bring_each_sale_once(tmp_path: Path) -> None:
    head, row = "when,material,amount,price\n", "2026-02-03 11:20,LACE,1,3.50\n"
    half, whole = head + row + row, head + row + row + row.replace("02-03", "07-04")
    loaded = load(tmp_path, {"sales-2026-01": half, "sales-2026-07": whole})
    assert len(loaded.sales) == 3
    assert loaded.notes[0] == "sales-2026-07.csv: row 2 stands in another file too and was passed over."


def test_a_key_does_not_hang_on_how_a_row_is_written(tmp_path: Path) -> None:
    head = "when,material,amount,unit,price\n"
    written = load(tmp_path, {"sales": head + "2026-02-03 11:20,LACE,1,pair,3.50\n"}).sales
    otherwise = load(tmp_path, {"sales": head + " 03/02/2026 11:20 , lace ,2.0,pieces,3.5\n"}).sales
    assert written == otherwise


def test_waste_says_what_sort_of_loss_it_was(tmp_path: Path) -> None:
    text = "when,material,amount,unit,kind,reason\n2026-02-03,GLUE,100,ml,,tin left open\n2026-02-03,GLUE,1,l,Expiry,\n"
    thrown, expired = load(tmp_path, {"waste": text}).waste
    assert (thrown.kind, thrown.reason, thrown.when) == (MoveKind.WASTE, "tin left open", datetime(2026, 2, 3, 17))
    assert expired.kind is MoveKind.EXPIRY


def test_a_count_keeps_its_sheet_and_leaves_blank_bins_out(tmp_path: Path) -> None:
    text = (
        "counted at,material,amount,unit,error,who,reason,sheet,place,name\n"
        "2026-02-07 17:55,BEND,0.2,m2,0.01,bench 1,spoilt,W06,B2,Oak bend\n"
        "2026-02-07 17:58,LACE,0,,,,,W06,,\n"
        ",GLUE,,,,,,W06,,\n"
    )
    (count,) = load(tmp_path, {"counts": text}).counts
    assert count.key == "W06"
    first, second = count.lines
    assert (first.amount, first.error) == (unit("dm2").of(20), unit("dm2").of(1))
    assert (first.reason, first.who, first.counted) == (CountReason.SPOILT, "bench 1", datetime(2026, 2, 7, 17, 55))
    assert second.amount.nano == 0


def test_counts_without_a_sheet_go_by_day_whatever_their_order(tmp_path: Path) -> None:
    head, one, two = "counted at,material,amount\n", "2026-02-07,BEND,20\n", "2026-02-07,LACE,5\n"
    there = load(tmp_path, {"counts": head + one + two + "2026-02-14,LACE,4\n"}).counts
    back = load(tmp_path, {"counts": head + two + one}).counts
    assert len(there) == 2
    assert there[0].key == back[0].key
    assert there[0].key.startswith("2026-02-07:")
    assert there[0].lines[0].counted == datetime(2026, 2, 7, 20)


@pytest.mark.parametrize(
    ("row", "words"),
    [
        (",BEND,20,,", "When the item was counted isn't stated"),
        ("2026-02-07,BEND,20,m,", "BEND is kept in dm2 (area), not in length"),
        ("2026-02-07,BEND,-2,,", "must be zero or more"),
        ("2026-02-07,BEND,2,,stolen", "Words: spoilt, measuring"),
        ("2026-02-07,BEND,900000000,m2,", "more than the book can hold"),
        ("2026-02-07,BEND,9000000,kg,", "more than the book can hold"),
    ],
)
def test_a_count_at_fault_says_what_to_do(row: str, words: str, tmp_path: Path) -> None:
    (line,) = said(tmp_path, {"counts": f"counted at,material,amount,unit,reason\n{row}\n"})
    assert line.startswith("counts.csv, row 2")
    assert words in line


def test_a_bin_counted_twice_at_one_time_is_refused(tmp_path: Path) -> None:
    (line,) = said(tmp_path, {"counts": "counted at,material,amount\n2026-02-07,BEND,20\n2026-02-07,BEND,21\n"})
    assert "This item's count stands in row 2 already" in line
