from datetime import date, time
from fractions import Fraction
from pathlib import Path

import pytest

from stockroom.errors import BadFileError
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.stock.calendar import Closure, Event
from stockroom.stock.materials import Material
from stockroom.stock.quantities import UNITS, Dimension, unit
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.suppliers import PriceBreak
from tests.nasty.small_shop import FILES, load, problems, said, write

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
            "column 'supplier': No supplier has the code or name 'NORT' (found: 'NORT'). Did you mean 'NORTH'?",
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


HEAD = "code,name,family,unit,group,size from,size to,hazards,flammable,bridge,thickness,sell price,extra,active\n"


def test_a_material_is_read_with_all_its_facts(tmp_path: Path) -> None:
    row = 'CEM,Cement,cement,ml,,,,"H225, H319",yes,1 l = 860 g,,0.04,tare=310 g; density=0.86,no\n'
    (found,) = load(tmp_path, {"materials": HEAD + row, "recipes": "job,valid from,line,material,amount\n"}).materials
    assert found.hazards == ("H225", "H319")
    assert found.flammable
    assert found.sell_price == 4
    assert not found.active
    assert found.extra == {"tare": "310 g", "density": "0.86"}
    assert found.to_base(unit("g").of(86)) == unit("ml").of(100)


def test_variants_share_a_group_and_a_single_size_needs_no_second(tmp_path: Path) -> None:
    rows = "A-36,x,top pieces,pair,A,EU 36,,,,,,,,\nA-40,x,top pieces,pair,A,EU 40,EU 44,,,,6 mm,,,\n"
    found = load(tmp_path, {"materials": HEAD + rows, "recipes": "job,valid from,line,material,amount\n"}).materials
    assert found[0].size_to == found[0].size_from == shoe_size("EU 36")
    assert found[1].thickness == "6 mm"


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("A,x,fillers,g,,,,,,,,,,", "family", "Did you mean 'filler'?"),
        ("A,x,filler,gramme,,,,,,,,,,", "unit", "No unit is called 'gramme'"),
        ("A,x,filler,g,,EU 40,EU 36,,,,,,,", "size to", "EU 40 is larger than EU 36"),
        ("A,x,filler,g,,EU 40,UK 8,,,,,,,", "size to", "different size systems"),
        ("A,x,filler,g,,,EU 36,,,,,,,", "size to", "needs 'size from'"),
        ("A,x,filler,g,,40,,,,,,,,", "size from", "Name the system too"),
        ("A,x,filler,g,,,,flammable,,,,,,", "hazards", "not a hazard statement"),
        ("A,x,filler,g,,,,,maybe,,,,,", "flammable", "must be yes or no"),
        ("A,x,filler,g,,,,,,1 l = 1 dm2,,,,", "conversion", "doesn't touch mass"),
        ("A,x,filler,g,,,,,,1 g = 1 kg,,,,", "conversion", "two different kinds of unit"),
        ("A,x,filler,g,,,,,,1 l,,,,", "conversion", "Write it like 1 l = 860 g"),
        ("A,x,filler,g,,,,,,,4,,,", "thickness", "Write it like 4 mm"),
        ("A,x,filler,g,,,,,,,,0.005,,", "sell price", "finer than the smallest coin"),
        ("A,x,filler,g,,,,,,,,,tare,", "counting facts", "Write them like sole=bend"),
        (",x,filler,g,,,,,,,,,,", "code", "blank, but it is needed"),
    ],
)
def test_a_material_at_fault_is_named_by_row_and_column(row: str, column: str, words: str, tmp_path: Path) -> None:
    (found,) = problems(tmp_path, {"materials": HEAD + row, "recipes": "job,valid from,line,material,amount\n"})
    assert (found.file, found.row, found.column) == ("materials.csv", 2, column)
    assert words in str(found)


def test_a_usual_cost_finer_than_a_cent_is_refused_with_a_way_that_can_be_gone(tmp_path: Path) -> None:
    head, recipes = "code,name,family,unit,usual cost,usual cost for\n", "job,valid from,line,material,amount\n"
    (found,) = problems(tmp_path, {"materials": f"{head}A,x,thread,m,0.055,\n", "recipes": recipes})
    assert (found.column, "under 'usual cost for'" in found.fix) == ("usual cost", True)
    (tmp_path / "materials.csv").write_text(f"{head}A,x,thread,m,5.50,100\n", "utf-8")
    (thread,) = read_files([tmp_path / "materials.csv"], BookFacts(), locale="en_IE", digits=2).materials
    assert thread.usual_rate == Fraction(550, 100 * thread.unit.nano)  # a metre at 5.5 cents, exactly


def test_every_fault_of_a_row_is_told_at_once(tmp_path: Path) -> None:
    row = "a b,,fillers,gramme,,,EU 36,H1,maybe,,4,0.005,,"
    found = problems(tmp_path, {"materials": HEAD + row, "recipes": "job,valid from,line,material,amount\n"})
    assert {each.column for each in found} >= {
        "code",
        "name",
        "family",
        "unit",
        "size to",
        "hazards",
        "flammable",
        "thickness",
        "sell price",
    }


def test_a_row_at_fault_does_not_put_the_rows_that_name_it_in_the_wrong(tmp_path: Path) -> None:
    wrong = FILES["materials"].replace("Oak bend,soling sheet", "Oak bend,solling sheet")
    lines = said(tmp_path, {"materials": wrong, "opening": "material,amount,day\nBEND,5,2026-01-01\n"})
    assert len(lines) == 1
    assert lines[0].startswith("materials.csv, row 2, column 'family'")


def test_a_file_that_cannot_be_read_does_not_put_other_files_in_the_wrong(tmp_path: Path) -> None:
    for broken in ("kode,name,family,unit\nBEND,x,filler,g\n", 'code,name,family,unit\nBEND,"x,filler,g\n'):
        lines = said(tmp_path, {"materials": broken, "opening": "material,amount,day\nBEND,5,2026-01-01\n"})
        assert lines
        assert all(line.startswith("materials.csv") for line in lines)


def test_a_code_keeps_its_dimension_for_good(tmp_path: Path) -> None:
    before = Material(code="BEND", name="x", family="filler", unit=UNITS["g"])
    write(tmp_path, {"materials": FILES["materials"]})
    with pytest.raises(BadFileError) as refused:
        read_files([tmp_path], BookFacts(materials={"BEND": before}), locale="en_IE", digits=2)
    assert "BEND is kept by mass in the book, not by area" in str(refused.value.problems[0])


def test_a_code_already_in_the_book_keeps_its_capitals(tmp_path: Path) -> None:
    before = Material(code="Bend", name="x", family="filler", unit=UNITS["dm2"])
    write(tmp_path, {"materials": FILES["materials"]})
    with pytest.raises(BadFileError) as refused:
        read_files([tmp_path], BookFacts(materials={"Bend": before}), locale="en_IE", digits=2)
    assert "'Bend' is the same code but for capitals" in str(refused.value.problems[0])


def test_variants_of_a_group_are_of_one_dimension(tmp_path: Path) -> None:
    rows = "A-1,x,filler,g,A,,,,,,,,,\nA-2,x,filler,ml,A,,,,,,,,,\n"
    (line,) = said(tmp_path, {"materials": HEAD + rows, "recipes": "job,valid from,line,material,amount\n"})
    assert f"A-1 of the same group is kept by {Dimension.MASS}, this one by {Dimension.VOLUME}" in line


def test_a_group_is_no_material(tmp_path: Path) -> None:
    rows = "A,x,filler,g,,,,,,,,,,\nA-2,x,filler,g,A,,,,,,,,,\n"
    lines = said(tmp_path, {"materials": HEAD + rows, "recipes": "job,valid from,line,material,amount\n"})
    assert any("A material and a group share this code" in line for line in lines)


def test_the_same_row_twice_is_noted_and_another_refused(tmp_path: Path) -> None:
    row = "A,x,filler,g,,,,,,,,,,\n"
    empty = {"recipes": "job,valid from,line,material,amount\n"}
    loaded = load(tmp_path, {"materials": HEAD + row + row, **empty})
    assert len(loaded.materials) == 1
    assert "materials.csv: row 3 repeats row 2 and was passed over." in loaded.notes
    (line,) = said(tmp_path, {"materials": HEAD + row + row.replace("x", "y"), **empty})
    assert "row 3: The code stands in row 2 already, with other content" in line


def test_a_flammable_hazard_without_the_mark_is_noted(tmp_path: Path) -> None:
    loaded = load(
        tmp_path,
        {"materials": HEAD + "A,x,cement,ml,,,,H225,,,,,,\n", "recipes": "job,valid from,line,material,amount\n"},
    )
    assert any("a hazard says flammable" in note for note in loaded.notes)


def test_settings_are_tried_before_they_are_taken(tmp_path: Path) -> None:
    loaded = load(tmp_path, {"shop": "setting,value\nOpen weekdays,Mon Tue\ntax_rate,13.5\n"})
    assert loaded.settings == {"open_weekdays": "Mon Tue", "tax_rate": "13.5"}
    lines = said(tmp_path, {"shop": "setting,value\nlocal,de_DE\ntax_rate,much\nlocale,zz_ZZ\ncosting,lifo\n"})
    columns = ((2, "setting"), (3, "value"), (4, "value"), (5, "value"))
    assert [line.split(":")[0] for line in lines] == [f"shop.csv, row {row}, column '{name}'" for row, name in columns]
    assert "Did you mean 'locale'?" in lines[0]


def test_the_shop_s_locale_and_currency_rule_the_other_files(tmp_path: Path) -> None:
    shop = "setting,value\nlocale,de_DE\ncurrency_digits,3\n"
    jobs = 'code,name,price,sized\nHEEL,Heel tops,"9,505",yes\nSOLE,x,1,yes\n'
    loaded = load(tmp_path, {"shop": shop, "jobs": jobs, "recipes": "job,valid from,line,material,amount\n"})
    assert loaded.jobs[0].price == 9505


def test_the_least_offcut_is_a_size(tmp_path: Path) -> None:
    head, *rows = FILES["materials"].splitlines()
    for size, words in (("15 x 10 cm", ""), ("large", "is not the size of a piece"), ("3 x 2 furlong", "No unit")):
        text = "\n".join([f"{head},least offcut", *(f"{row}," for row in rows[1:]), f"{rows[0]},{size}\n"])
        if words:
            (line,) = said(tmp_path, {"materials": text})
            assert "column 'least offcut'" in line
            assert words in line
        else:
            assert {m.least_offcut for m in load(tmp_path, {"materials": text}).materials} == {"", size}
