from datetime import date, datetime, time
from decimal import Decimal
from fractions import Fraction

import pytest
from babel.numbers import format_decimal

from stockroom.errors import UsageError
from stockroom.intake import cells
from stockroom.intake.cells import Marks, marks, marks_of, number

IRISH = marks_of("en_IE")
GERMAN = marks_of("de_DE")
AMERICAN = marks_of("en_US")
EXCEL_ZERO = date(1899, 12, 30)


@pytest.mark.parametrize(
    ("text", "locale", "worth"),
    [
        ("12", IRISH, "12"),
        (" 12.50 ", IRISH, "12.50"),
        ("1,234", IRISH, "1234"),
        ("1,234.5", IRISH, "1234.5"),
        ("1.234", GERMAN, "1234"),
        ("1.234,5", GERMAN, "1234.5"),
        ("0,25", GERMAN, "0.25"),
        ("1 234,5", marks_of("fr_FR"), "1234.5"),
        ("1\N{NARROW NO-BREAK SPACE}234,5", marks_of("fr_FR"), "1234.5"),
        ("1'234.5", marks_of("de_CH"), "1234.5"),
        ("1’234.5", marks_of("de_CH"), "1234.5"),
    ],
)
def test_a_number_is_read_by_the_marks_of_the_locale(text: str, locale: Marks, worth: str) -> None:
    assert cells.number(text, locale) == Decimal(worth)


@pytest.mark.parametrize(
    ("text", "locale"),
    [
        ("12,5", IRISH),  # not a group of three, so not thousands; never taken for 12.5
        ("1.5", GERMAN),
        ("0.25", GERMAN),
        ("1,23,456", IRISH),
        ("1234,567", IRISH),
        ("1.2.3", IRISH),
        ("NaN", IRISH),
        ("inf", IRISH),
        ("-inf", IRISH),
        ("1e30", IRISH),
        ("1E5", IRISH),
        ("0x1F", IRISH),
        ("1_000", IRISH),
        ("٣", IRISH),
        ("", IRISH),
        (".", IRISH),
        ("5.", IRISH),
        (".5", IRISH),
        ("€5", IRISH),
        ("5 kg", IRISH),
        ("=1+1", IRISH),
    ],
)
def test_what_the_locale_does_not_write_is_refused_not_guessed(text: str, locale: Marks) -> None:
    with pytest.raises(UsageError, match="This is not a number"):
        cells.number(text, locale)


def test_a_decimal_comma_is_explained_where_the_locale_has_a_point() -> None:
    with pytest.raises(UsageError) as refused:
        cells.number("12,5", IRISH)
    assert refused.value.fix == "In your country '.' is the decimal sign; thousands need no sign."


@pytest.mark.parametrize("cell", [float("nan"), float("inf"), True, date(2026, 1, 1), time(9)])
def test_a_spreadsheet_cell_that_is_no_number_is_refused(cell: cells.Cell) -> None:
    with pytest.raises(UsageError):
        cells.number(cell, IRISH)


@pytest.mark.parametrize("cell", ["1000000001", 1e30, 10**30, "9" * 150])
def test_an_absurd_number_is_refused(cell: cells.Cell) -> None:
    with pytest.raises(UsageError, match="too large"):
        cells.number(cell, IRISH)


def test_a_spreadsheet_number_keeps_the_digits_it_shows() -> None:
    # 0.1 + 0.2 is 0.30000000000000004 in binary; a spreadsheet shows fifteen digits (common practice, from memory).
    assert cells.number(0.1 + 0.2, IRISH) == Decimal("0.3")
    assert cells.money(0.1 + 0.2, IRISH, 2) == 30
    assert cells.number(12.5, GERMAN) == Decimal("12.5")


def test_numbers_below_zero_and_where_needed_zero_are_refused() -> None:
    with pytest.raises(UsageError, match="zero or more"):
        cells.number("-1", IRISH)
    with pytest.raises(UsageError, match="above zero"):
        cells.number("0", IRISH, above_zero=True)
    assert cells.number("0", IRISH) == 0


def test_a_whole_number_has_no_decimals() -> None:
    assert cells.whole("12", IRISH) == 12
    assert cells.whole(12.0, IRISH) == 12
    with pytest.raises(UsageError, match="whole number"):
        cells.whole("12.5", IRISH)


# ISO 4217 minor units: EUR 2, JPY 0, KWD 3 (REFERENCES C3: from memory, agreeing with CLDR).
@pytest.mark.parametrize(("text", "digits", "minor"), [("12.50", 2, 1250), ("1250", 0, 1250), ("1.250", 3, 1250)])
def test_money_is_read_into_the_currency_s_minor_units(text: str, digits: int, minor: int) -> None:
    assert cells.money(text, IRISH, digits) == minor


def test_money_finer_than_the_smallest_coin_is_refused() -> None:
    with pytest.raises(UsageError, match="finer than the smallest coin"):
        cells.money("0.125", IRISH, 2)


def test_per_cent_may_carry_its_sign() -> None:
    assert cells.percent("21%", IRISH) == cells.percent("21", IRISH) == cells.percent(21, IRISH) == 21
    assert cells.percent("13,5 %", GERMAN) == Decimal("13.5")
    with pytest.raises(UsageError, match="more than 100"):
        cells.percent("120", IRISH)


def test_a_share_is_exact_however_it_is_written() -> None:
    assert cells.share("1/3", IRISH) == Fraction(1, 3)
    assert cells.share("25%", IRISH) == cells.share("0.25", IRISH) == cells.share(0.25, IRISH) == Fraction(1, 4)
    assert cells.share("0", IRISH) == 0  # an option that uses nothing: whether it may be is the row's to say
    for wrong in ("-0.1", "3/2", "1/0", "1.5", "a third"):
        with pytest.raises(UsageError):
            cells.share(wrong, IRISH)
    with pytest.raises(UsageError, match="turned this share into a day"):
        cells.share(datetime(2026, 3, 1), IRISH)


@pytest.mark.parametrize(
    ("text", "locale", "day"),
    [
        ("2026-04-03", IRISH, date(2026, 4, 3)),
        ("2026-04-03", AMERICAN, date(2026, 4, 3)),
        ("03/04/2026", IRISH, date(2026, 4, 3)),
        ("03/04/2026", AMERICAN, date(2026, 3, 4)),
        ("3.4.2026", GERMAN, date(2026, 4, 3)),
        ("3. 4. 2026", marks_of("cs_CZ"), date(2026, 4, 3)),
        ("2026/04/03", marks_of("sv_SE"), date(2026, 4, 3)),
        ("29/02/2028", IRISH, date(2028, 2, 29)),
    ],
)
def test_a_day_is_read_as_iso_or_in_the_locale_s_order(text: str, locale: Marks, day: date) -> None:
    assert cells.day(text, locale) == day


@pytest.mark.parametrize(
    ("text", "locale", "why"),
    [
        ("03/04/2026", marks_of("en"), "order of day and month isn't known"),
        ("04/13/2026", IRISH, "no such day"),
        ("29/02/2027", IRISH, "no such day"),
        ("2026-02-30", IRISH, "no such day"),
        ("03/04/26", IRISH, "isn't written in full"),
        ("2026/04/03", IRISH, "isn't written in full, or not where your country writes it"),
        ("03-04/2026", IRISH, "not a day"),
        ("20260403", IRISH, "not a day"),
        ("46115", IRISH, "not a day"),
        ("tomorrow", IRISH, "not a day"),
        ("1900-01-01", IRISH, "1900 can't be meant"),
        ("9999-12-31", IRISH, "9999 can't be meant"),
        ("01/01/1999", IRISH, "1999 can't be meant"),
    ],
)
def test_a_day_that_could_be_meant_otherwise_is_refused(text: str, locale: Marks, why: str) -> None:
    with pytest.raises(UsageError, match=why):
        cells.day(text, locale)


def test_a_spreadsheet_s_true_days_and_serial_numbers_are_read() -> None:
    # Serial 45292 is 1 January 2024 in the 1900 system, 43830 in the 1904 system (1,462 days apart): from memory.
    assert cells.day(datetime(2024, 1, 1), IRISH) == date(2024, 1, 1)
    assert cells.day(date(2024, 1, 1), IRISH) == date(2024, 1, 1)
    assert cells.day(45292, IRISH, EXCEL_ZERO) == date(2024, 1, 1)
    assert cells.day(45292 - 1462, IRISH, date(1904, 1, 1)) == date(2024, 1, 1)
    assert cells.moment(45292.5, IRISH, time(9), EXCEL_ZERO) == datetime(2024, 1, 1, 12)


@pytest.mark.parametrize("cell", [20240101, -3, 0, 1, 400000, 1e300, float("nan"), True, time(9)])
def test_a_number_that_is_no_day_s_serial_is_refused(cell: cells.Cell) -> None:
    with pytest.raises(UsageError):
        cells.day(cell, IRISH, EXCEL_ZERO)


def test_a_bare_number_is_no_day_in_a_text_file() -> None:
    with pytest.raises(UsageError):
        cells.day(45292, IRISH)


def test_a_day_with_a_time_is_not_silently_cut_to_a_day() -> None:
    with pytest.raises(UsageError, match="time stands with the day"):
        cells.day(datetime(2026, 1, 1, 9, 30), IRISH)
    with pytest.raises(UsageError, match="not a day"):
        cells.day("2026-01-01 09:30", IRISH)


@pytest.mark.parametrize(
    ("text", "moment"),
    [
        ("2026-04-03 10:05", datetime(2026, 4, 3, 10, 5)),
        ("2026-04-03T10:05", datetime(2026, 4, 3, 10, 5)),
        ("2026-04-03 10:05:07", datetime(2026, 4, 3, 10, 5, 7)),
        ("03/04/2026 9:05", datetime(2026, 4, 3, 9, 5)),
        ("03/04/2026, 9:05", datetime(2026, 4, 3, 9, 5)),
        ("2026-04-03", datetime(2026, 4, 3, 17)),
        ("3. 4. 2026", datetime(2026, 4, 3, 17)),
    ],
)
def test_a_moment_without_a_time_gets_the_column_s(text: str, moment: datetime) -> None:
    assert cells.moment(text, IRISH, time(17)) == moment


@pytest.mark.parametrize(
    "text",
    [
        "2026-04-03 25:00",
        "2026-13-03 10:00",
        "2026-04-03T10:05Z",
        "2026-04-03 10:05+01:00",
        "10:05",
        "1999-01-01 10:00",
    ],
)
def test_a_moment_that_cannot_be_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        cells.moment(text, IRISH, time(17))


def test_odd_microseconds_of_a_spreadsheet_are_undone() -> None:
    nearly = datetime(2026, 4, 3, 10, 4, 59, 999_997)
    assert cells.moment(nearly, IRISH, time(9)) == datetime(2026, 4, 3, 10, 5)


def test_a_time_of_day_is_read_from_text_and_spreadsheet() -> None:
    assert cells.clock("16:00") == cells.clock("16.00") == cells.clock(time(16)) == cells.clock(2 / 3) == time(16)
    for wrong in ("24:00", "4 pm", "1600", 16, True):
        with pytest.raises(UsageError):
            cells.clock(wrong)


def test_yes_and_no_are_read_in_any_capitals_and_nothing_else_is() -> None:
    assert [cells.yes_no(cell) for cell in ("Yes", "y", "TRUE", "1", True, 1, "ja", "J")] == [True] * 8
    assert [cells.yes_no(cell) for cell in ("NO", "n", "false", "0", False, 0, "Nein")] == [False] * 7
    with pytest.raises(UsageError, match="yes or no"):
        cells.yes_no("perhaps")


def test_text_is_brought_to_one_line_without_invisible_marks() -> None:
    assert cells.text("  two\n lines\tand\N{NO-BREAK SPACE}more ") == "two lines and more"
    assert cells.text("zip\N{ZERO WIDTH SPACE}per\ufeff") == "zipper"
    assert cells.text("cafe\N{COMBINING ACUTE ACCENT}") == "café"
    assert cells.text(10421) == "10421"
    assert cells.text(10421.0) == "10421"
    assert cells.text(2.5) == "2.5"


@pytest.mark.parametrize("mark", ["\x00", "\x07", "\N{RIGHT-TO-LEFT OVERRIDE}", "\N{RIGHT-TO-LEFT ISOLATE}", "\ud800"])
def test_text_that_could_disguise_itself_is_refused(mark: str) -> None:
    with pytest.raises(UsageError, match="invisible mark"):
        cells.text(f"brown{mark}heel")


def test_right_to_left_names_are_welcome() -> None:
    assert cells.text("نعل مطاطي") == "نعل مطاطي"


def test_a_text_without_end_is_refused() -> None:
    for letter in "aé":
        with pytest.raises(UsageError, match="too long"):
            cells.text(letter * 2_001)


def test_text_that_a_spreadsheet_made_a_day_is_refused() -> None:
    with pytest.raises(UsageError, match="turned this text into a day"):
        cells.text(datetime(2026, 5, 6))


@pytest.mark.parametrize("code", ["BEND-OAK", "10421", "a.b_c/d+e#f", "ΚΑΛ-1", "Ä1"])
def test_a_code_is_letters_digits_and_a_few_marks(code: str) -> None:
    assert cells.code(code) == code


@pytest.mark.parametrize(
    "code", ["", "=1+1", "+A", "-A", "@A", "a b", "../../etc", "x" * 61, "a;b", 'a"b', "_x", "a\\b"]
)
def test_what_could_be_a_formula_or_a_path_is_no_code(code: str) -> None:
    with pytest.raises(UsageError, match="not a code"):
        cells.code(code)


def test_a_code_of_look_alike_letters_is_refused() -> None:
    with pytest.raises(UsageError, match=r"mixes alphabets \(Cyrillic and Latin\)"):
        cells.code("B\N{CYRILLIC CAPITAL LETTER IE}ND")


def test_marks_without_thousands_refuse_them() -> None:
    plain = marks(".", "", None)
    assert cells.number("1234.5", plain) == Decimal("1234.5")
    with pytest.raises(UsageError):
        cells.number("1,234.5", plain)


@pytest.mark.parametrize(
    ("locale", "sample"),
    [("de_DE", "31.01.2026"), ("en_IE", "31/01/2026"), ("en_US", "01/31/2026"), ("nl_NL", "31-01-2026")],
)
def test_a_day_that_is_none_is_answered_with_one_as_the_locale_writes_it(locale: str, sample: str) -> None:
    with pytest.raises(UsageError) as caught:
        cells.day("31st", marks_of(locale))
    assert caught.value.fix == f"Write it like 2026-01-31, or {sample} as your country writes it."
    assert cells.day(sample, marks_of(locale)) == date(2026, 1, 31)


@pytest.mark.parametrize("locale", ["sv_SE", "en"])
def test_a_locale_with_no_other_way_is_offered_none(locale: str) -> None:
    with pytest.raises(UsageError) as caught:
        cells.day("31st", marks_of(locale))
    assert caught.value.fix == "Write it like 2026-01-31."


@pytest.mark.parametrize(
    ("locale", "order"),
    [("en_IE", "dmy"), ("en-US", "mdy"), ("de_DE", "dmy"), ("sv_SE", "ymd"), ("hu_HU", "ymd"), ("en", None)],
)
def test_the_order_of_days_is_the_country_s(locale: str, order: str | None) -> None:
    assert marks_of(locale).order == order


@pytest.mark.parametrize("locale", ["en_IE", "de_DE", "fr_FR", "de_CH", "sv_SE", "pl_PL", "it_IT", "pt_PT", "nb_NO"])
def test_what_the_unicode_locale_data_writes_is_read_back(locale: str) -> None:
    # CLDR, as the babel library carries it, is the outside source of each locale's marks.
    for value in (0, 7, 12.5, 999, 1234.25, 1234567.125):
        assert float(number(format_decimal(value, locale=locale), marks_of(locale))) == value


@pytest.mark.parametrize("locale", ["", "xx_YY", "english please", "de_DE; rm", "../x"])
def test_what_is_no_locale_is_refused(locale: str) -> None:
    with pytest.raises(UsageError, match="not a locale"):
        marks_of(locale)
