"""What a locale's facts are asked for, and what is said of one that nobody knows."""

import pytest

from stockroom.errors import UnknownError, UsageError
from stockroom.show.countries import country, country_names
from stockroom.show.locale_facts import facts_of


def test_hyphen_serves_as_well_as_underscore() -> None:
    assert facts_of("de-DE") == facts_of("de_DE")


@pytest.mark.parametrize("name", ["xx_XX", "", "nonsense words"])
def test_unknown_locale_is_named(name: str) -> None:
    with pytest.raises(UsageError) as caught:
        facts_of(name)
    assert caught.value.what == f"'{name}' is not a known locale."
    assert caught.value.fix == "Use one such as en_IE, de_DE or fr_FR."


def test_the_union_is_no_country_to_choose() -> None:
    assert "AT" in dict(country_names("de"))
    assert "EU" not in dict(country_names("de"))
    with pytest.raises(UnknownError):
        country("EU", "de")
