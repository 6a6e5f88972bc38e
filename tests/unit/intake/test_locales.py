import pytest
from babel.numbers import format_decimal

from stockroom.errors import UsageError
from stockroom.intake.cells import number
from stockroom.intake.locales import marks_of


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
