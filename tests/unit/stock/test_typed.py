"""What people type: days with dots, moments, the clock that stands in, and a few letters of a name."""

from datetime import date, datetime, time
from decimal import Decimal

import pytest

from stockroom.errors import AmbiguousError, UnknownError, UsageError
from stockroom.stock.typed import by_clock, day_ahead, day_or_moment, find, iso, material_meant, moment, past, share
from tests import build


@pytest.mark.parametrize(
    ("order", "read"),
    [("dmy", "2026-12-02T14:30"), ("mdy", "2026-02-12T14:30"), ("ymd", "2/12/2026T14:30"), (None, "2/12/2026T14:30")],
)
def test_a_day_with_strokes_is_read_as_the_country_writes_it(order: str | None, read: str) -> None:
    assert iso("2/12/2026T14:30", order) == read


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("2.12.2026", "2026-12-02"),
        ("02.12.2026", "2026-12-02"),
        (" 2. 12. 2026 ", "2026-12-02"),
        ("02.12.2026 14:30", "2026-12-02 14:30"),
        ("02.12.2026T14:30", "2026-12-02T14:30"),
        ("2026-12-02", "2026-12-02"),
        ("02/12/2026", "02/12/2026"),  # which comes first differs by country
        ("2.12.26", "2.12.26"),
        ("2026.12.02", "2026.12.02"),
    ],
)
def test_only_a_day_with_dots_and_its_whole_year_is_brought_into_form(typed: str, read: str) -> None:
    assert iso(typed) == read


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("2026-03-31", date(2026, 3, 31)),
        ("31.3.2026", date(2026, 3, 31)),
        ("2026-03-31T14:30", datetime(2026, 3, 31, 14, 30)),
        ("31.3.2026 14:30", datetime(2026, 3, 31, 14, 30)),
        ("2026-03-31T14:30:05.5", datetime(2026, 3, 31, 14, 30, 5)),
    ],
)
def test_a_day_or_a_moment_is_read_alike_at_every_door(typed: str, read: date) -> None:
    assert day_or_moment(typed) == read
    assert moment(typed) == (read if isinstance(read, datetime) else datetime.combine(read, time(12)))


WEDNESDAY = date(2026, 11, 25)


@pytest.mark.parametrize(
    ("typed", "ahead", "behind"),
    [
        ("25.12.", date(2026, 12, 25), date(2025, 12, 25)),
        ("25.12", date(2026, 12, 25), date(2025, 12, 25)),
        ("1. 2.", date(2027, 2, 1), date(2026, 2, 1)),
        ("25.11.", WEDNESDAY, WEDNESDAY),
        ("29.2.", date(2028, 2, 29), date(2024, 2, 29)),
        ("friday", date(2026, 11, 27), date(2026, 11, 20)),
        ("Freitag", date(2026, 11, 27), date(2026, 11, 20)),
        ("mi", date(2026, 12, 2), date(2026, 11, 18)),
        ("heute", WEDNESDAY, WEDNESDAY),
        ("25.12.2026", date(2026, 12, 25), date(2026, 12, 25)),
    ],
)
def test_a_day_without_its_year_or_in_words_is_the_next_ahead_and_the_last_behind(
    typed: str, ahead: date, behind: date
) -> None:
    assert day_ahead(typed, WEDNESDAY) == ahead
    assert day_or_moment(past(typed, WEDNESDAY)) == behind


def test_a_day_with_strokes_needs_no_year_where_the_country_is_known() -> None:
    assert day_ahead("25/12", WEDNESDAY, "dmy") == day_ahead("12/25", WEDNESDAY, "mdy") == date(2026, 12, 25)
    assert past("24/11 14:30", WEDNESDAY, "dmy") == "2026-11-24 14:30"
    assert past("gestern", WEDNESDAY) == "2026-11-24"
    for typed, order in (("25/12", None), ("31.2.", None), ("12/25", "dmy")):
        with pytest.raises(UsageError, match="is not a day or a moment"):
            day_ahead(typed, WEDNESDAY, order)


@pytest.mark.parametrize("typed", ["95%", "95 %", "0.95", "0,95", "95", " 95,0% "])
def test_a_share_is_read_however_it_is_written(typed: str) -> None:
    assert share(typed) == Decimal("0.95")


def test_what_is_no_share_is_refused() -> None:
    with pytest.raises(UsageError, match="'most' is not a share"):
        share("most")


def test_what_is_neither_day_nor_moment_is_refused() -> None:
    with pytest.raises(UsageError, match="is not a day or a moment"):
        day_or_moment("soon")


@pytest.mark.parametrize("text", ["2026-03-31T14:30+02:00", "2026-03-31T14:30Z"])
def test_a_time_zone_is_not_dropped_silently(text: str) -> None:
    with pytest.raises(UsageError, match="names a time zone"):
        day_or_moment(text)


def test_a_program_that_drives_the_shop_sets_the_clock(monkeypatch: pytest.MonkeyPatch) -> None:
    reads = datetime(2026, 1, 2, 3, 4, 5, 678)
    monkeypatch.delenv("STOCKROOM_NOW", raising=False)
    assert by_clock(lambda: reads) == datetime(2026, 1, 2, 3, 4, 5)
    monkeypatch.setenv("STOCKROOM_NOW", "2026-03-31")
    assert by_clock(lambda: reads) == datetime(2026, 3, 31, 12)


NAMES = {"TIP-S": "Heel tip small", "TIP-L": "Heel tip large", "CEM": "Contact cement", "CEMT": "Cement thinner"}


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("CEM", "CEM"),
        (" cem ", "CEM"),
        ("tip-l", "TIP-L"),
        ("small", "TIP-S"),
        ("tip large", "TIP-L"),
        ("contact cement", "CEM"),
    ],
)
def test_a_few_letters_find_the_one_thing_they_fit(typed: str, code: str) -> None:
    assert find("material", typed, NAMES) == code


@pytest.mark.parametrize("typed", ["glue", "contact neopr", "CEMENT"])
def test_a_material_is_found_by_what_else_people_call_it(typed: str) -> None:
    there = {m.code: m for m in build.materials()}
    assert material_meant(typed, there).code == "CEMENT"


def test_a_name_goes_before_what_else_something_is_called() -> None:
    names = {"A": "Glue", "B": "Cement"}
    assert find("material", "gl", names, {"B": "glue"}) == "A"


def test_letters_that_fit_two_things_list_them() -> None:
    with pytest.raises(AmbiguousError) as caught:
        find("material", "tip", NAMES)
    assert caught.value.what == "'tip' fits more than one material."
    assert caught.value.fix == "Say which: TIP-L (Heel tip large); TIP-S (Heel tip small)."


def test_a_long_list_is_cut_and_says_so() -> None:
    many = {f"N{n:02d}": f"Nail {n}" for n in range(11)}
    with pytest.raises(AmbiguousError) as caught:
        find("material", "nail", many)
    assert caught.value.fix.endswith("N07 (Nail 7); and 3 more.")


def test_a_slip_of_the_finger_is_met_with_the_nearest_never_taken() -> None:
    with pytest.raises(UnknownError) as caught:
        find("material", "contct cemant", NAMES)
    assert caught.value.what == "No material fits 'contct cemant'."
    assert caught.value.fix == "Did you mean 'Contact cement'?"


def test_nothing_typed_names_what_there_is() -> None:
    with pytest.raises(UnknownError) as caught:
        find("job", "  ", {"HEELS": "Heel tips"})
    assert (caught.value.what, caught.value.fix) == (
        "No job was named.",
        "Give its code or a part of its name. There is: HEELS.",
    )


def test_an_empty_book_says_there_is_none() -> None:
    with pytest.raises(UnknownError) as caught:
        find("supplier", "north", {})
    assert caught.value.fix == "There is none yet."
