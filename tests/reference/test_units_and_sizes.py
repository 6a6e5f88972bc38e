"""Units, sizes and weeks against published values; each check names its source and how it was come by."""

from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from stockroom.stock.calendar import WEEK, monday
from stockroom.stock.quantities import quantity, thickness_mm, unit
from stockroom.stock.shoe_sizes import shoe_size

# ASTM D1814-70(2000), section 1.2 (standards.iteh.ai sample; read): 1 ounce = 1/64 in = 0.0156 in = 0.396 mm,
# 1 iron = 1/48 in = 0.0208 in = 0.53 mm. The standard cuts 0.396875 to 0.396.
INCH = Fraction(254, 10)


def test_an_iron_and_a_leather_ounce_are_the_standards_parts_of_an_inch() -> None:
    assert thickness_mm("1 iron") == INCH / 48
    assert thickness_mm("1 oz") == INCH / 64
    assert float(thickness_mm("1 iron")) == pytest.approx(0.53, abs=0.005)
    assert int(thickness_mm("1 oz") * 1000) == 396
    assert round(float(thickness_mm("1 iron") / INCH), 4) == 0.0208
    assert round(float(thickness_mm("1 oz") / INCH), 4) == 0.0156


def test_twelve_irons_sixteen_ounces_and_a_quarter_inch_are_one_thickness() -> None:
    # Trade pages on sole leather (read): 12 iron = 1/4 in = 6.35 mm = 16 oz.
    assert thickness_mm("12 iron") == thickness_mm("16 oz") == thickness_mm("6.35 mm") == INCH / 4


def test_a_square_foot_of_leather_is_its_exact_metric_area() -> None:
    # By definition of the international foot (0.3048 m): 1 sq ft = 9.290304 dm2 exactly. Leather trade tables (read)
    # print 10.764 sq ft a square metre.
    assert unit("sq ft").nano == 9_290_304_000 == unit("ft").nano ** 2 * 100 // 10**9
    assert unit("sq ft").count(quantity("1 m2").nano) == pytest.approx(Decimal("10.764"), abs=Decimal("0.0005"))


def test_pounds_and_ounces_are_the_international_ones() -> None:
    # International pound of 1959 (from memory; exact by definition): 453.59237 g, 16 oz to the pound.
    assert quantity("1 lb") == quantity("453.59237 g") == quantity("16 oz")


def test_inches_and_feet_are_the_international_ones() -> None:
    # International yard and pound agreement of 1959 (from memory; exact by definition): 1 in = 25.4 mm, 12 to the foot.
    assert quantity("12 in") == quantity("1 ft") == quantity("304.8 mm")


@pytest.mark.parametrize(
    ("smaller", "larger", "step"),
    [
        ("EU 41", "EU 42", "6.67"),
        ("Mondo 260", "Mondo 265", "5"),
        ("UK 8", "UK 8.5", "4.23"),
        ("US M 9", "US M 9.5", "4.23"),
    ],
)
def test_sizes_step_by_their_systems_published_intervals(smaller: str, larger: str, step: str) -> None:
    # Scientific Reports 2019, s41598-019-55432-z, Introduction (read): a full size is 5 mm in Mondopoint and 6.67 mm
    # in the European system; half a size in UK and US is 4.23 mm.
    difference = shoe_size(larger).length_mm - shoe_size(smaller).length_mm
    assert round(float(difference), 2) == float(step)


def test_a_paris_point_is_two_thirds_of_a_centimetre_and_a_barleycorn_a_third_of_an_inch() -> None:
    # Encyclopaedia entry read second-hand, recomputed: 2/3 cm = 6.67 mm; 1/3 in = 8.47 mm.
    assert shoe_size("EU 40").length_mm - shoe_size("EU 39").length_mm == Fraction(20, 3)
    assert shoe_size("UK 7").length_mm - shoe_size("UK 6").length_mm == INCH / 3


@pytest.mark.parametrize(
    ("text", "inches"), [("UK 8", Fraction(33, 3)), ("US M 9", Fraction(33, 3)), ("US W 7.5", Fraction(30, 3))]
)
def test_sizes_begin_where_common_practice_puts_them(text: str, inches: Fraction) -> None:
    # From memory, common practice: UK adult = 3 x last inches - 25, US men = 3 x last inches - 24. The women's offset
    # of 22.5 has no source. Converters disagree by a size or two, which is why none is built in.
    assert shoe_size(text).length_mm == inches * INCH


# ISO 8601 week dates: the standard's and an encyclopaedia's examples, from memory; they agree with the Python
# standard library.
WEEKS = {
    "1977-01-01": "1976-W53-6",
    "1977-01-02": "1976-W53-7",
    "1979-12-31": "1980-W01-1",
    "1980-12-28": "1980-W52-7",
    "1981-12-31": "1981-W53-4",
    "2003-12-29": "2004-W01-1",
    "2004-01-04": "2004-W01-7",
    "2008-12-29": "2009-W01-1",
    "2010-01-03": "2009-W53-7",
    "2021-01-03": "2020-W53-7",
}


@pytest.mark.parametrize(("day", "week"), WEEKS.items())
def test_our_weeks_are_the_standards_weeks(day: str, week: str) -> None:
    """The standard numbers the week by its Thursday; our week is named by its Monday."""
    start = monday(date.fromisoformat(day))
    thursday = date.fromordinal(start.toordinal() + 3)
    number = (thursday.timetuple().tm_yday - 1) // WEEK + 1
    weekday = (date.fromisoformat(day) - start).days + 1
    assert f"{thursday.year}-W{number:02d}-{weekday}" == week


def test_long_years_have_fifty_three_weeks() -> None:
    # From memory (ISO 8601): years with 53 weeks between 2004 and 2032.
    found = []
    for year in range(2004, 2033):
        first, last = monday(date(year, 1, 1)).toordinal(), monday(date(year, 12, 31)).toordinal()
        thursdays = [start + 3 for start in range(first, last + 1, WEEK)]
        if sum(date.fromordinal(day).year == year for day in thursdays) == 53:
            found.append(year)
    assert found == [2004, 2009, 2015, 2020, 2026, 2032]
