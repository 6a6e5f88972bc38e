"""The table of locale facts, and what happens outside it."""

import pytest

from stockroom.errors import UsageError
from stockroom.show.locale_facts import LOCALES, facts_of, from_babel


def test_locale_outside_the_table_is_read_from_babel() -> None:
    assert "de_LI" not in LOCALES
    assert facts_of("de_LI").decimal == "."


def test_hyphen_serves_as_well_as_underscore() -> None:
    assert facts_of("de-DE") == facts_of("de_DE")


@pytest.mark.parametrize("name", ["xx_XX", "", "nonsense words"])
def test_unknown_locale_is_named(name: str) -> None:
    with pytest.raises(UsageError) as caught:
        from_babel(name)
    assert caught.value.what == f"'{name}' is not a known locale."
    assert caught.value.fix == "Use one such as en_IE, de_DE or fr_FR."
