"""How a locale writes numbers and days, as far as reading them goes."""

import re
from dataclasses import dataclass
from functools import lru_cache

from stockroom.errors import UsageError
from stockroom.phrases import phrase

_LOCALE = re.compile(r"[A-Za-z]{2,3}([_-][A-Za-z0-9]{2,8}){0,3}")
_SPACES = " \N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}"
_APOSTROPHES = "'\N{RIGHT SINGLE QUOTATION MARK}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """The marks of a locale: decimal, thousands (any one of several alike), and the order of day, month and year."""

    decimal: str
    group: str
    order: str | None  # 'dmy', 'mdy' or 'ymd'; None where the locale doesn't settle it
    number: re.Pattern[str]
    between_days: str = "/"  # what stands between day, month and year


def marks(decimal: str, group: str, order: str | None, between_days: str = "/") -> Marks:
    """Make the marks, with the pattern a written number must follow."""
    alike = next((family for family in (_SPACES, _APOSTROPHES) if group and group in family), group)
    between = f"[{re.escape(alike)}]" if alike else "(?!)"
    pattern = rf"[+-]?([0-9]+|[0-9]{{1,3}}(?:{between}[0-9]{{3}})+)(?:{re.escape(decimal)}([0-9]+))?"
    return Marks(decimal=decimal, group=alike, order=order, number=re.compile(pattern), between_days=between_days)


@lru_cache(maxsize=16)
def marks_of(locale: str) -> Marks:
    """Look a locale's marks up, such as those of 'en_IE'.

    The order of days is taken only from a locale that names its country: 'en' alone is written both ways.
    """
    from babel import Locale, UnknownLocaleError  # noqa: PLC0415 -- only when files are read

    try:
        found = Locale.parse(locale.replace("-", "_") if _LOCALE.fullmatch(locale) else "")
    except (UnknownLocaleError, ValueError) as wrong:
        raise UsageError(
            phrase("'%(locale)s' is not a locale.", locale=locale),
            fix="Give a language and a country, such as 'en_IE'.",
        ) from wrong
    symbols = found.number_symbols.get("latn") or found.number_symbols[found.default_numbering_system]
    short = found.date_formats["short"].pattern
    return marks(symbols["decimal"], symbols["group"], _order(short, found.territory), _between(short))


def day_hint(marks: Marks) -> str:
    """Say how a day is written."""
    parts = {"d": "31", "m": "01", "y": "2026"}
    sample = marks.between_days.join(parts[part] for part in marks.order or "ymd")
    if marks.order is None or sample == "2026-01-31":
        return phrase("Write it like 2026-01-31.")
    return phrase("Write it like 2026-01-31, or %(sample)s as your locale has it.", sample=sample)


def _order(pattern: str, territory: str | None) -> str | None:
    bare = re.sub(r"'[^']*'", "", pattern).casefold()
    order = "".join(dict.fromkeys(letter for letter in bare if letter in "dmy"))
    return order if territory and len(order) == len("dmy") else None


def _between(pattern: str) -> str:
    found = re.search(r"[./-]", pattern)
    return found[0] if found else "/"
