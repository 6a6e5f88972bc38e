"""What a country usually means for a shop: its currency, how it writes figures, its usual rate of tax."""

from dataclasses import dataclass
from functools import cache

from stockroom.errors import UnknownError

# Standard rates of value added, goods or sales tax in per cent: from memory, as of 2026. They are offered, never taken
# unseen: the shop's accountant says what holds for it.
USUAL_TAX = {
    "AT": "20", "AU": "10", "BE": "21", "BG": "20", "CH": "8.1", "CY": "19", "CZ": "21", "DE": "19", "DK": "25",
    "EE": "24", "ES": "21", "FI": "25.5", "FR": "20", "GB": "20", "GR": "24", "HR": "25", "HU": "27", "IE": "23",
    "IS": "24", "IT": "22", "JP": "10", "LI": "8.1", "LT": "21", "LU": "17", "LV": "21", "MT": "18", "NL": "21",
    "NO": "25", "NZ": "15", "PL": "23", "PT": "23", "RO": "21", "SE": "25", "SG": "9", "SI": "22", "SK": "23",
    "TR": "20", "ZA": "15",
}  # fmt: skip
_WITHOUT_TAX = ("US", "CA")  # where prices on tags are without it


@dataclass(frozen=True, slots=True, kw_only=True)
class Country:
    """What a country usually means."""

    code: str
    currency: str
    digits: int  # of the currency
    locale: str
    tax: str  # per cent; empty where no usual rate is known
    prices_include_tax: bool


_NO_COUNTRY = frozenset({"EU", "EZ", "UN"})  # exceptionally reserved, ISO 3166-1 decoding table, from memory


@cache
def country_names(language: str) -> tuple[tuple[str, str], ...]:
    """List the countries that have a currency, by their names in a language; the Union is none, though its code is."""
    from babel import Locale  # noqa: PLC0415 -- only where a country is chosen
    from babel.numbers import get_territory_currencies  # noqa: PLC0415 -- as above

    names = {str(code): str(name) for code, name in Locale.parse(language).territories.items()}
    places = [code for code in names if len(code) == 2 and code.isalpha() and code not in _NO_COUNTRY]  # noqa: PLR2004 -- ISO 3166-1
    real = [code for code in places if get_territory_currencies(code)]
    return tuple(sorted(((code, names[code]) for code in real), key=lambda pair: _plain(pair[1])))


def country(code: str, language: str) -> Country:
    """Say what a country usually means for who reads a language.

    Raises
    ------
    UnknownError
        If there is no such country.
    """
    from babel.numbers import get_currency_precision, get_territory_currencies  # noqa: PLC0415 -- as above

    if code not in dict(country_names("en")):
        raise UnknownError("There is no such country.", fix="Choose one from the list.")
    currency = get_territory_currencies(code)[0]
    return Country(
        code=code,
        currency=currency,
        digits=min(int(get_currency_precision(currency)), 3),
        locale=_locale(code, language),
        tax=USUAL_TAX.get(code, ""),
        prices_include_tax=code not in _WITHOUT_TAX,
    )


def _locale(code: str, language: str) -> str:
    """Give the country's way of writing in the reader's language if there is one, else in its most usual one."""
    from babel import Locale, UnknownLocaleError  # noqa: PLC0415 -- as above
    from babel.localedata import exists  # noqa: PLC0415 -- as above

    if exists(f"{language}_{code}"):
        return f"{language}_{code}"
    try:
        return str(Locale.parse(f"und_{code}"))
    except (ValueError, UnknownLocaleError):
        return language


def _plain(name: str) -> str:
    """Sort 'Österreich' among the O."""
    from unicodedata import normalize  # noqa: PLC0415 -- as above

    return normalize("NFKD", name).encode("ascii", "ignore").decode().casefold() or name
