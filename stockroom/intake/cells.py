"""How a locale writes numbers and days, as far as reading them goes."""

import re
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache

from stockroom.errors import UsageError
from stockroom.phrases import Number, phrase
from stockroom.stock.bounds import FIRST_YEAR, LAST_YEAR
from stockroom.stock.money import minor
from stockroom.stock.typed import YES_NO

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

    Raises
    ------
    UsageError
        If there is no such locale.
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
    return phrase("Write it like 2026-01-31, or %(sample)s as your country writes it.", sample=sample)


def _order(pattern: str, territory: str | None) -> str | None:
    bare = re.sub(r"'[^']*'", "", pattern).casefold()
    order = "".join(dict.fromkeys(letter for letter in bare if letter in "dmy"))
    return order if territory and len(order) == len("dmy") else None


def _between(pattern: str) -> str:
    found = re.search(r"[./-]", pattern)
    return found[0] if found else "/"


Cell = str | int | float | bool | date | datetime | time

MOST = Decimal(10) ** 9  # beyond it a figure is a slip in a small shop, and the ledger's integers would run full
LONGEST_TEXT = 2_000
LONGEST_CODE = 60
_DIGITS_OF_A_SPREADSHEET = 15
_SECONDS_OF_A_DAY = 86_400
_LAST_SERIAL = 110_000  # day numbers of spreadsheets, well past the last year

_ISO_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_ISO_MOMENT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2} [0-9]{2}:[0-9]{2}")
_LOCAL_DAY = re.compile(r"([0-9]{1,4})([./-])\s?([0-9]{1,2})\2\s?([0-9]{1,4})\.?")
_CLOCK = re.compile(r"([0-9]{1,2})[:.]([0-9]{2})(?:[:.]([0-9]{2}))?")
_CODE = re.compile(r"[^\W_][\w./+#-]*")
_DROPPED = dict.fromkeys(
    map(ord, "\N{ZERO WIDTH SPACE}\N{SOFT HYPHEN}\ufeff\N{LEFT-TO-RIGHT MARK}\N{RIGHT-TO-LEFT MARK}")
)
_JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"
_YES = YES_NO | {"y": True, "j": True, "1": True, "n": False, "0": False}


def text(cell: Cell) -> str:
    """Read a text: one line, single spaces, no invisible marks.

    Raises
    ------
    UsageError
        If the spreadsheet has turned it into a day or a time.
    """
    if isinstance(cell, date | time):
        raise UsageError(
            "The spreadsheet has turned this text into a day or a time.",
            fix="Set the column's format to Text and type it again.",
        )
    if isinstance(cell, str):
        easy = cell.isascii() and cell.isprintable() and len(cell) <= LONGEST_TEXT
        return cell.strip() if easy else _tidy(cell)
    return written(cell)


def written(cell: Cell) -> str:
    """Write a cell as a person would type it."""
    if isinstance(cell, str):
        return cell.strip()
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, datetime) and cell.time() == time():
        return cell.date().isoformat()
    if isinstance(cell, float):
        return f"{_spreadsheet_number(cell):f}" if abs(cell) < float(MOST) else f"{cell:g}"
    return str(cell)


def code(cell: Cell) -> str:
    """Read a code: no spaces, begins with a letter or digit, letters of one script.

    Raises
    ------
    UsageError
        If it is no code, or its letters are of several scripts.
    """
    found = text(cell)
    if not _CODE.fullmatch(found) or len(found) > LONGEST_CODE:
        raise UsageError(
            "This is not a code.",
            fix=phrase(
                "Use up to %(n)s letters, digits and - . _ / + #, no spaces, a letter or digit first.", n=LONGEST_CODE
            ),
        )
    scripts = () if found.isascii() else sorted(_scripts(found))
    if len(scripts) > 1:
        raise UsageError(
            phrase("The code mixes alphabets (%(all)s), whose letters may look alike.", all=" and ".join(scripts)),
            fix="Type it again in one alphabet.",
        )
    return found


def number(cell: Cell, marks: Marks, *, above_zero: bool = False) -> Decimal:
    """Read a number that is not below zero, by the locale's marks.

    Raises
    ------
    UsageError
        If it is no such number, or too large.
    """
    found = _number(cell, marks)
    if found < 0 or (above_zero and not found):
        least = phrase("The number must be above zero.") if above_zero else phrase("The number must be zero or more.")
        raise UsageError(least, fix="Check the row.")
    if found > MOST:
        fix = phrase("It may be %(most)s at most; check the unit.", most=Number(int(MOST)))
        raise UsageError("The number is too large.", fix=fix)
    return found


def whole(cell: Cell, marks: Marks, *, above_zero: bool = False) -> int:
    """Read a whole number.

    Raises
    ------
    UsageError
        If it is not whole.
    """
    found = number(cell, marks, above_zero=above_zero)
    if found != found.to_integral_value():
        raise UsageError("This must be a whole number.", fix="Leave the decimals out.")
    return int(found)


def money(cell: Cell, marks: Marks, digits: int, *, finer: str = "") -> int:
    """Read money in major units, into minor units; `finer` says what to do about money finer than those.

    Raises
    ------
    UsageError
        If it is no amount of money, or finer than minor units.
    """
    stated = number(cell, marks)
    try:
        return minor(stated, digits)
    except UsageError as wrong:
        raise UsageError(wrong.what, fix=finer or wrong.fix) from wrong


def percent(cell: Cell, marks: Marks) -> Decimal:
    """Read per cent, with or without its sign.

    Raises
    ------
    UsageError
        If it is no number, or more than 100.
    """
    bare = cell.strip().removesuffix("%").rstrip() if isinstance(cell, str) else cell
    found = number(bare, marks)
    if found > 100:  # noqa: PLR2004 -- per cent
        raise UsageError("This is more than 100 per cent.", fix="Give per cent, such as 21.")
    return found


def share(cell: Cell, marks: Marks) -> Fraction:
    """Read a share such as 1/3, 0.33 or 33%, from 0 to 1.

    Raises
    ------
    UsageError
        If it is none, or the spreadsheet has turned it into a day.
    """
    bare = cell.strip() if isinstance(cell, str) else cell
    if isinstance(bare, date):
        raise UsageError("The spreadsheet has turned this share into a day.", fix="Write it as 0.33 or 33%.")
    if isinstance(bare, str) and "/" in bare:
        top, _, bottom = bare.partition("/")
        found = Fraction(number(top, marks)) / Fraction(number(bottom, marks, above_zero=True))
    elif isinstance(bare, str) and bare.endswith("%"):
        found = Fraction(percent(bare, marks)) / 100
    else:
        found = Fraction(number(bare, marks))
    if not 0 <= found <= 1:
        raise UsageError("A share lies between 0 and 1.", fix="Write it like 1/3, 0.33 or 33%.")
    return found


def day(cell: Cell, marks: Marks, serial_zero: date | None = None) -> date:
    """Read a day: ISO, the locale's own order, a spreadsheet's true date or its serial number.

    Raises
    ------
    UsageError
        If it is no day, or a time stands with it.
    """
    if isinstance(cell, str):
        return _plausible(_written_day(cell.strip(), marks))
    if isinstance(cell, datetime):
        if cell.time() != time():
            raise UsageError("A time stands with the day.", fix="Give the day alone.")
        return _plausible(cell.date())
    if isinstance(cell, date):
        return _plausible(cell)
    return _plausible(_from_serial(cell, serial_zero).date())


def moment(cell: Cell, marks: Marks, at: time, serial_zero: date | None = None) -> datetime:
    """Read a day with its time; a day alone gets the time stated."""
    if isinstance(cell, str):
        return _written_moment(cell.strip(), marks, at) if not _ISO_MOMENT.fullmatch(cell) else _iso_moment(cell)
    if isinstance(cell, datetime):
        found = _to_second(cell)
    elif isinstance(cell, date):
        found = datetime.combine(cell, time())
    else:
        found = _from_serial(cell, serial_zero)
    _plausible(found.date())
    return found if found.time() != time() else datetime.combine(found, at)


def clock(cell: Cell) -> time:
    """Read a time of day such as 16:00.

    Raises
    ------
    UsageError
        If there is no such time.
    """
    if isinstance(cell, time):
        return cell.replace(microsecond=0)
    if isinstance(cell, float) and 0 <= cell < 1:
        return (datetime.combine(date.min, time()) + timedelta(seconds=round(cell * _SECONDS_OF_A_DAY))).time()
    found = _CLOCK.fullmatch(cell.strip()) if isinstance(cell, str) else None
    if not found:
        raise UsageError("This is not a time of day.", fix="Write it like 16:00.")
    try:
        return time(int(found[1]), int(found[2]), int(found[3] or 0))
    except ValueError as wrong:
        raise UsageError("There is no such time of day.", fix="Write it like 16:00.") from wrong


def yes_no(cell: Cell) -> bool:
    """Read yes or no.

    Raises
    ------
    UsageError
        If it is neither.
    """
    found = _YES.get(written(cell).casefold())
    if found is None:
        raise UsageError("This must be yes or no.", fix="Write yes or no.")
    return found


def _number(cell: Cell, marks: Marks) -> Decimal:
    if isinstance(cell, bool | date | time):
        raise UsageError("This is not a number.", fix="Set the cell's format to a number and type it again.")
    if not isinstance(cell, str):
        return _spreadsheet_number(cell)
    bare = cell.strip()
    if not marks.number.fullmatch(bare):
        raise UsageError("This is not a number.", fix=_number_hint(bare, marks))
    for mark in marks.group:
        bare = bare.replace(mark, "")
    return Decimal(bare.replace(marks.decimal, "."))


def _number_hint(bare: str, marks: Marks) -> str:
    if re.fullmatch(r"[+-]?[0-9]+([.,][0-9]+)+", bare):
        return phrase("In your country '%(mark)s' is the decimal sign; thousands need no sign.", mark=marks.decimal)
    if re.fullmatch(r"[^\w\s]?\s?[0-9.,]+\s?[^0-9.,]*", bare):
        return phrase("Write the figure alone; units and signs of currency don't belong in this column.")
    return phrase("Write it like 1234%(mark)s5.", mark=marks.decimal)


def _spreadsheet_number(cell: float) -> Decimal:
    """Keep the fifteen digits a spreadsheet shows, not the tail of its binary fraction."""
    found = Decimal(f"{cell:.{_DIGITS_OF_A_SPREADSHEET}g}") if isinstance(cell, float) else Decimal(cell)
    if not found.is_finite():
        raise UsageError("This is not a number.", fix="Check the formula behind it.")
    return found.quantize(Decimal(1)) if found == found.to_integral_value() and abs(found) <= MOST else found


def _written_day(bare: str, marks: Marks) -> date:
    try:
        if _ISO_DAY.fullmatch(bare):
            return date.fromisoformat(bare)
        return _local_day(bare, marks)
    except ValueError as wrong:
        raise UsageError("There is no such day.", fix=day_hint(marks)) from wrong


def _local_day(bare: str, marks: Marks) -> date:
    found = _LOCAL_DAY.fullmatch(bare)
    if not found:
        raise UsageError("This is not a day.", fix=day_hint(marks))
    if marks.order is None:
        raise UsageError(
            "The order of day and month isn't known from language and country.",
            fix="Write the day like 2026-01-31, or set the language with its country, such as locale=en_IE.",
        )
    parts = dict(zip(marks.order, (found[1], found[3], found[4]), strict=True))
    if len(parts["y"]) != len("2026"):
        raise UsageError("The year isn't written in full, or not where your country writes it.", fix=day_hint(marks))
    return date(int(parts["y"]), int(parts["m"]), int(parts["d"]))


def _iso_moment(cell: str) -> datetime:
    """Read the form in which long files come; the general way gives the same, three times slower."""
    try:
        found = datetime.fromisoformat(cell)
    except ValueError as wrong:
        raise UsageError("There is no such day or time.", fix="Write it like 2026-01-31 14:30.") from wrong
    _plausible(found)
    return found


def _written_moment(bare: str, marks: Marks, at: time) -> datetime:
    head, _, tail = bare.replace("T", " ", 1).rpartition(" ")
    if not head or ":" not in tail:
        return datetime.combine(_plausible(_written_day(bare, marks)), at)
    return datetime.combine(_plausible(_written_day(head.rstrip(" ,"), marks)), clock(tail))


def _plausible(found: date) -> date:
    if not FIRST_YEAR <= found.year <= LAST_YEAR:
        raise UsageError(
            phrase("The year %(year)s can't be meant.", year=found.year),
            fix=phrase("Years run from %(first)s to %(last)s.", first=FIRST_YEAR, last=LAST_YEAR),
        )
    return found


def _from_serial(cell: float | time, zero: date | None) -> datetime:
    if zero is None or isinstance(cell, bool | time) or not 1 <= cell < _LAST_SERIAL:
        raise UsageError("This is not a day.", fix="Write it like 2026-01-31.")
    return _to_second(datetime.combine(zero, time()) + timedelta(days=cell))


def _to_second(found: datetime) -> datetime:
    """Undo the odd microseconds that a spreadsheet's fraction of a day leaves."""
    return (found + timedelta(microseconds=500_000)).replace(microsecond=0)


def _tidy(cell: str) -> str:
    found = " ".join(unicodedata.normalize("NFC", cell).translate(_DROPPED).split())
    if len(found) > LONGEST_TEXT:
        raise UsageError("The text is too long.", fix=phrase("Keep it to %(most)s letters.", most=Number(LONGEST_TEXT)))
    odd = next(
        (mark for mark in found if unicodedata.category(mark) in {"Cc", "Cf", "Cs"} and mark not in _JOINERS), ""
    )
    if odd:
        raise UsageError(
            phrase(
                "The text holds an invisible mark (U+%(mark)s) that could disguise what it says.",
                mark=f"{ord(odd):04X}",
            ),
            fix="Type the text again.",
        )
    return found


def _scripts(found: str) -> set[str]:
    """Name the alphabets of a text's letters, by the first word of each letter's Unicode name."""
    return {unicodedata.name(mark, "an unnamed alphabet").split()[0].capitalize() for mark in found if mark.isalpha()}
