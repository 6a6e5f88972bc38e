from datetime import date

from stockroom.stock.calendar import Closure, OpenDays, closures_of, monday

TUESDAY_TO_SATURDAY = frozenset({1, 2, 3, 4, 5})
SUMMER = Closure(first=date(2026, 8, 3), last=date(2026, 8, 15))


def test_a_day_is_worked_on_open_weekdays_outside_closures() -> None:
    days = OpenDays(weekdays=TUESDAY_TO_SATURDAY, closures=(SUMMER,))
    assert [days.is_open(date(2026, 8, n)) for n in (1, 2, 4, 15, 18)] == [True, False, False, False, True]


def test_the_next_open_day_jumps_over_a_closure() -> None:
    days = OpenDays(weekdays=TUESDAY_TO_SATURDAY, closures=(SUMMER,))
    assert days.next_open(date(2026, 8, 2)) == date(2026, 8, 18)
    assert days.next_open(date(2026, 8, 1)) == date(2026, 8, 1)


def test_a_shop_that_never_opens_does_not_search_for_ever() -> None:
    assert OpenDays(weekdays=frozenset()).next_open(date(2026, 8, 2)) == date(2026, 8, 2)
    assert OpenDays(weekdays=frozenset()).share(date(2026, 8, 3)) == 0.0


def test_a_weeks_share_counts_the_days_worked() -> None:
    days = OpenDays(weekdays=TUESDAY_TO_SATURDAY, closures=(Closure(first=date(2026, 1, 1), last=date(2026, 1, 2)),))
    assert days.share(date(2025, 12, 29)) == 3 / 5
    assert days.share(date(2026, 1, 5)) == 1.0


def test_weeks_begin_on_monday_across_the_year() -> None:
    assert monday(date(2026, 1, 4)) == date(2025, 12, 29)
    assert monday(date(2026, 1, 12)) == date(2026, 1, 12)


def test_closures_are_the_shops_own_or_a_suppliers() -> None:
    theirs = Closure(first=date(2026, 8, 3), last=date(2026, 8, 31), who="TAN")
    assert closures_of("TAN", [SUMMER, theirs]) == (theirs,)
    assert closures_of("", [SUMMER, theirs]) == (SUMMER,)
