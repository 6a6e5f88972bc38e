"""What people type: numbers and amounts with a point or comma, yes or no, days, and a few letters of a name.

A name is resolved when only one thing fits, listed when several do, never guessed.
"""

import itertools
import os
import re
import unicodedata
from collections.abc import Callable, Collection, Mapping
from contextlib import suppress
from datetime import date, datetime, time, timedelta
from decimal import Decimal

from stockroom.errors import AmbiguousError, UnknownError, UsageError, nearest
from stockroom.phrases import as_phrase, phrase
from stockroom.stock.materials import Material
from stockroom.stock.quantities import Quantity, Unit, unit

_LISTED = 8
YES_NO = {"yes": True, "true": True, "ja": True, "no": False, "false": False, "nein": False}
_SPELT = str.maketrans(
    {"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss", "ø": "o", "æ": "ae"}
)
_OF_A_WORD, _OF_WORDS, _OF_FIGURES = 8, 3, 2  # letters of a word, words and figures that a proposed code has
_LEAP = 8  # years, at most, from one 29 February to the next
_UNIT = 2  # letters of a word that tells nothing apart, such as 'mm'

WEEKDAY_NAMES = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_ALSO = ("montag", "dienstag", "mittwoch", "donnerstag", "freitag", "samstag", "sonntag")  # German
_SHORT = ("mo", "di", "mi", "do", "fr", "sa", "so")  # German, as calendars have them
_PER_CENT = 100
_LETTERS = 3  # fewest that name a weekday otherwise
_FROM_TODAY = {"today": 0, "heute": 0, "tomorrow": 1, "morgen": 1, "day after tomorrow": 2, "übermorgen": 2}
_TO_TODAY = {"today": 0, "heute": 0, "yesterday": 1, "gestern": 1, "day before yesterday": 2, "vorgestern": 2}
_DAY = len("2026-03-31")
_DOTTED_DAY = re.compile(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})(?=$|[T ])", re.ASCII)
_NO_YEAR = re.compile(r"(\d{1,2})([./])\s?(\d{1,2})\.?(?=$|[T ])", re.ASCII)
_STROKED_DAY = re.compile(r"(\d{1,2})/(\d{1,2})/(\d{4})(?=$|[T ])", re.ASCII)


def proposed_code(name: str, taken: Collection[str], otherwise: str) -> str:
    """Make a short code of a name that nothing has: 'Rubber half soles, EU 42–43' is RUBBER-HALF-SOLES-42-43.

    Where that is taken, the words that follow tell them apart, then a number.
    """
    spelt = unicodedata.normalize("NFKD", name.translate(_SPELT)).encode("ascii", "ignore").decode().upper()
    parts = re.findall(r"[A-Z]+|\d+", spelt.replace("'", ""))
    words = [word[:_OF_A_WORD] for word in parts if word.isalpha() and len(word) > _UNIT] or [
        otherwise.upper().replace(" ", "-")
    ]
    figures = [figure[:_OF_A_WORD] for figure in parts if figure.isdigit()][:_OF_FIGURES]
    most = min(len(words), _OF_WORDS + 2)
    longer = ["-".join([*words[:n], *figures]) for n in range(min(_OF_WORDS, most), most + 1)]
    several = (f"{longer[0]}-{n}" for n in itertools.count(2))
    known = {code.casefold() for code in taken}
    return next(code for code in itertools.chain(longer, several) if code.casefold() not in known)


def number(text: str) -> Decimal:
    """Read a number with a decimal point or comma; one that could be thousands is refused."""
    plainly = text.strip().replace(",", ".")
    if not re.fullmatch(r"[+-]?\d{1,18}(\.\d{1,18})?", plainly, re.ASCII):
        raise UsageError(
            phrase("'%(text)s' is not a number.", text=text), fix="Write it like 12.5 (no thousands marks)."
        )
    if re.fullmatch(r"[+-]?[1-9]\d{0,2}\.\d{3}", plainly):
        whole, parts = plainly.split(".")
        raise UsageError(
            phrase(
                "'%(text)s' could be %(whole)s%(parts)s or %(whole)s and a fraction.",
                text=text,
                whole=whole,
                parts=parts,
            ),
            fix=phrase("Write %(whole)s%(parts)s, or %(whole)s.%(parts)s0.", whole=whole, parts=parts),
        )
    return Decimal(plainly)


def share(text: str) -> Decimal:
    """Read a share of one: '95%', '95 %', '0.95' or '0,95'; above one it is meant per cent.

    Raises
    ------
    UsageError
        If it is none.
    """
    plainly = text.strip()
    try:
        found = number(plainly.removesuffix("%").strip())
    except UsageError as wrong:
        raise UsageError(phrase("'%(text)s' is not a share.", text=text), fix="Write it like 95% or 0.95.") from wrong
    return found / _PER_CENT if plainly.endswith("%") or found > 1 else found


def amount(text: str, usual: Unit | None) -> Quantity:
    """Read '2.5 dm2', '3 pairs', or a bare number in the material's own unit where one is given.

    Raises
    ------
    UsageError
        If it is no amount.
    """
    found = re.fullmatch(r"\s*([+-]?[\d.,]+)\s*(\D.*)?", text)
    meant = (unit(found[2]) if found[2] else usual) if found else None
    if found is None or meant is None:
        raise UsageError(
            phrase("'%(text)s' is not an amount with a unit.", text=text), fix="Write it like '2.5 dm2' or '1 pair'."
        )
    return meant.of(number(found[1]))


def measured(text: str) -> tuple[Quantity, Quantity | None]:
    """Read what came: '183 dm2', or '183 dm2/6.2 kg' where the price is by weight."""
    much, _, weighed = text.partition("/")
    return amount(much, None), amount(weighed, None) if weighed.strip() else None


def iso(text: str, order: str | None = None) -> str:
    """Bring a day as people write it into ISO form; others stay.

    Whoever writes dots, '2.12.2026', puts the day first; with strokes, '2/12/2026', it is as the country writes it,
    where its `order` of day, month and year is known to be 'dmy' or 'mdy'.
    """
    plainly = _DOTTED_DAY.sub(lambda found: f"{found[3]}-{found[2]:0>2}-{found[1]:0>2}", text.strip(), count=1)
    found = _STROKED_DAY.match(plainly)
    if found is None or order not in ("dmy", "mdy"):
        return plainly
    day, month = (found[1], found[2]) if order == "dmy" else (found[2], found[1])
    return f"{found[3]}-{month:0>2}-{day:0>2}{plainly[found.end() :]}"


def day_or_moment(text: str, order: str | None = None) -> date | datetime:
    """Read a day or a moment, ISO or as people write it (`iso`), to the second and in the shop's own time.

    Raises
    ------
    UsageError
        If the text is neither.
    """
    said = iso(text, order)
    try:
        read = datetime.fromisoformat(said)
    except ValueError as wrong:
        raise UsageError(
            phrase("'%(text)s' is not a day or a moment.", text=text),
            fix="Write 2026-03-31 or 2026-03-31T14:30, or the day as your country writes it: 31/03/2026, 31.3.2026.",
        ) from wrong
    if read.tzinfo is not None:
        raise UsageError(
            phrase("'%(text)s' names a time zone.", text=text), fix="Give the time as the shop's own clock shows it."
        )
    return read.date() if len(said) <= _DAY else read.replace(microsecond=0)


def weekday(word: str) -> int:
    """Read a weekday, in English or German, or its first letters: Monday is 0.

    Raises
    ------
    UsageError
        If it is none.
    """
    sought = word.casefold().rstrip(".")
    if sought in _SHORT:
        return _SHORT.index(sought)
    for day, names in enumerate(zip(WEEKDAY_NAMES, _ALSO, strict=True)):
        if len(sought) >= _LETTERS and any(name.startswith(sought) for name in names):
            return day
    raise UsageError(
        phrase("'%(word)s' is not a weekday.", word=word), fix="Name each day: Mon Tue Wed Thu Fri Sat Sun."
    )


def day_ahead(text: str, today: date, order: str | None = None) -> date:
    """Read a day still to come: as `day_or_moment`, without its year, or in words; a weekday is the next after today.

    Raises
    ------
    UsageError
        If it is no day.
    """
    word = " ".join(text.casefold().split())
    if word in _FROM_TODAY:
        return today + timedelta(days=_FROM_TODAY[word])
    with suppress(UsageError):
        return today + timedelta(days=(weekday(word) - today.weekday() - 1) % 7 + 1)
    return noon_of(day_or_moment(_dated(text, today, order, ahead=True), order)).date()


def past(text: str, today: date, order: str | None = None) -> str:
    """Bring a day or moment that lies behind us into ISO form: as `iso`, without its year, or in words.

    'yesterday' or 'gestern', and a weekday for the last one before today; what is no such day stays as it is.
    """
    word = " ".join(text.casefold().split())
    if word in _TO_TODAY:
        return (today - timedelta(days=_TO_TODAY[word])).isoformat()
    with suppress(UsageError):
        return (today - timedelta(days=(today.weekday() - weekday(word) - 1) % 7 + 1)).isoformat()
    return iso(_dated(text, today, order, ahead=False), order)


def _dated(text: str, today: date, order: str | None, *, ahead: bool) -> str:
    """Give a day typed without its year, '25.12.' or '25/12', the year of the next such day, or of the last."""
    found = _NO_YEAR.match(text.strip())
    if found is None or (found[2] == "/" and order not in ("dmy", "mdy")):
        return text
    day, month = (
        (int(found[3]), int(found[1])) if found[2] == "/" and order == "mdy" else (int(found[1]), int(found[3]))
    )
    years = range(today.year, today.year + _LEAP + 1) if ahead else range(today.year, today.year - _LEAP - 1, -1)
    for year in years:
        with suppress(ValueError):
            meant = date(year, month, day)
            if (meant >= today) if ahead else (meant <= today):
                return f"{meant.isoformat()}{text.strip()[found.end() :]}"
    return text


def noon_of(when: date | datetime) -> datetime:
    """Give a moment as it is, and of a day its noon: between its morning and its evening documents."""
    return when if isinstance(when, datetime) else datetime.combine(when, time(12))


def moment(text: str) -> datetime:
    """Read a day or a moment; a day alone means its noon."""
    return noon_of(day_or_moment(text))


def by_clock(reads: Callable[[], datetime]) -> datetime:
    """Give the moment a door's clock reads; STOCKROOM_NOW stands in for it when a program drives the shop."""
    said = os.environ.get("STOCKROOM_NOW")
    return noon_of(day_or_moment(said)) if said else reads().replace(microsecond=0)


def find(kind: str, typed: str, names: Mapping[str, str], also: Mapping[str, str] | None = None) -> str:
    """Give the code that `typed` means.

    Parameters
    ----------
    kind : str
        What is looked for, as a person calls it: 'material', 'job', 'supplier'.
    typed : str
        A code, the beginning of one, or words of the name, in any case.
    names : mapping of str to str
        Code to name.
    also : mapping of str to str, optional
        Code to the other words people have for it, looked at where no name fits.

    Raises
    ------
    UnknownError, AmbiguousError
        If nothing fits, or more than one thing fits equally well.
    """
    sought = typed.strip().casefold()
    if not sought:
        raise UnknownError(
            phrase("No %(kind)s was named.", kind=as_phrase(kind)),
            fix=phrase("Give its code or a part of its name. %(some)s", some=_some(names)),
        )
    called = {code: f"{name} {(also or {}).get(code, '')}" for code, name in names.items()}
    for fits, by in ((_same, names), (_starts, names), (_words, names), (_words, called)):
        found = [code for code, name in by.items() if fits(sought, code.casefold(), name.casefold())]
        if len(found) == 1:
            return found[0]
        if found:
            listed = "; ".join(f"{code} ({names[code]})" for code in sorted(found)[:_LISTED])
            raise AmbiguousError(
                phrase("'%(typed)s' fits more than one %(kind)s.", typed=typed, kind=as_phrase(kind)),
                fix=_which(listed, len(found) - _LISTED),
            )
    hint = nearest(typed, names) or nearest(typed, names.values()) or _some(names)
    raise UnknownError(phrase("No %(kind)s fits '%(typed)s'.", kind=as_phrase(kind), typed=typed), fix=hint)


def material_meant(typed: str, materials: Mapping[str, Material]) -> Material:
    """Give the material that `typed` means: a code, the beginning of one, words of its name or what else it is called.

    Raises
    ------
    UnknownError, AmbiguousError
        If nothing fits, or more than one thing fits equally well.
    """
    names = {code: m.name for code, m in materials.items()}
    return materials[find("material", typed, names, {code: m.other_words for code, m in materials.items()})]


def _same(sought: str, code: str, name: str) -> bool:
    return sought in (code, name)


def _starts(sought: str, code: str, _name: str) -> bool:
    return code.startswith(sought)


def _words(sought: str, code: str, name: str) -> bool:
    return all(word in name or word in code for word in sought.split())


def _which(listed: str, more: int) -> str:
    if more > 0:
        return phrase("Say which: %(codes)s; and %(more)s more.", codes=listed, more=more)
    return phrase("Say which: %(codes)s.", codes=listed)


def _some(names: Mapping[str, str]) -> str:
    if not names:
        return phrase("There is none yet.")
    some = ", ".join(sorted(names)[:_LISTED]) + (", …" if len(names) > _LISTED else "")
    return phrase("There is: %(known)s.", known=some)
