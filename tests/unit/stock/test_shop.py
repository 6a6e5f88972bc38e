from datetime import date
from decimal import Decimal

import pytest

from stockroom.errors import UnknownError, UsageError
from stockroom.stock.shop import (
    SHOWN,
    Shop,
    setting_texts,
    shown_settings,
    weekdays,
    with_setting,
    write_weekdays,
)


def test_every_setting_reads_back_from_its_text() -> None:
    changed = Shop(
        name="Awl & last", start=date(2026, 1, 5), cash_limit=Decimal("800.50"), use_learnt=False, review_days=14
    )
    again = Shop()
    for name, text in setting_texts(changed).items():
        again = with_setting(again, name, text)
    assert again == changed


@pytest.mark.parametrize(
    ("name", "text", "what", "fix"),
    [
        ("tax_rate", "a lot", "'a lot' can't be tax rate.", "It must be a number."),
        ("tax_rate", "nan", "'nan' can't be tax rate.", "It must be a number."),
        ("cash_limit", "inf", "'inf' can't be cash limit.", "It must be a number."),
        ("outlook_weeks", "1.5", "'1.5' can't be outlook weeks.", "It must be a whole number."),
        ("start", "5/1/2026", "'5/1/2026' can't be start.", "It must be a day such as 2026-01-31."),
        ("use_learnt", "maybe", "'maybe' can't be use measured usage.", "It must be yes or no."),
        ("costing", "lifo", "'lifo' can't be costing.", "It must be fifo or average."),
        ("open_weekdays", "Tue-Sat", "'Tue-Sat' is not a weekday.", "Name each day: Mon Tue Wed Thu Fri Sat Sun."),
        ("cash_limit", "1,500", "'1,500' could be 1500 or 1 and a fraction.", "Write 1500, or 1.5000."),
        ("tax_rate", "-1", "-1 can't be tax rate.", "It must be from 0 to 100."),
    ],
)
def test_a_setting_that_can_not_be_is_refused(name: str, text: str, what: str, fix: str) -> None:
    with pytest.raises(UsageError) as caught:
        with_setting(Shop(), name, text)
    assert (caught.value.what, caught.value.fix) == (what, fix)


def test_a_figure_is_read_with_a_decimal_comma_as_everywhere_else() -> None:
    assert with_setting(Shop(), "bench_hour_rate", "45,50").bench_hour_rate == Decimal("45.50")


def test_a_setting_that_does_not_exist_is_met_with_the_nearest() -> None:
    with pytest.raises(UnknownError) as caught:
        with_setting(Shop(), "tax_rat", "21")
    assert (caught.value.what, caught.value.fix) == ("No setting is called 'tax_rat'.", "Did you mean 'tax_rate'?")


def test_weekdays_are_read_by_name_and_written_short() -> None:
    days = weekdays("tuesday, Thu;Sat")
    assert days == {1, 3, 5}
    assert write_weekdays(days) == "Tue Thu Sat"
    assert weekdays(write_weekdays(frozenset())) == frozenset()


def test_german_weekdays_and_words_for_yes_are_read_too() -> None:
    assert weekdays("Di Mi Do, Fr. Samstag") == frozenset(range(1, 6))
    assert [weekdays(day) for day in ("Mo", "So", "Mitt")] == [{0}, {6}, {2}]
    shop = with_setting(with_setting(Shop(), "tax_registered", "nein"), "use_learnt", "Ja")
    assert (shop.tax_registered, shop.use_learnt) == (False, True)
    assert str(with_setting(Shop(), "start", "5.1.2026").start) == "2026-01-05"


@pytest.mark.parametrize("word", ["Tu", "Monkey", "Tue-Thu", "8"])
def test_what_is_not_a_weekday_is_never_read_as_one(word: str) -> None:
    with pytest.raises(UsageError, match="is not a weekday"):
        weekdays(word)


def test_a_setting_answers_to_both_its_names_and_is_kept_by_the_older() -> None:
    for kept, shown in SHOWN.items():
        text = shown_settings(Shop())[shown]
        assert setting_texts(with_setting(Shop(), shown, text)) == setting_texts(with_setting(Shop(), kept, text))
        assert kept in setting_texts(Shop())
        assert shown not in setting_texts(Shop())
