"""When work is busy and quiet, in the owner's words, or as is usual in the trade: what a young shop can't know yet.

'busy Oct-Dec; quiet Jun-Aug' are words for a job, or in the settings for all. Amounts are a starting point that a
shop's own work outgrows.
"""

import re
from functools import cache

from stockroom.errors import UsageError
from stockroom.phrases import phrase

Months = tuple[float, ...]  # one factor a month, January first; 1 on average
STEADY: Months = (1.0,) * 12
LEAST = 0.02  # of the usual, where nothing is expected
_HOW = {
    "very busy": 2.0, "busy": 1.5, "quiet": 0.6, "very quiet": 0.3, "shut": 0.0, "closed": 0.0, "steady": 1.0,
    "sehr viel": 2.0, "viel": 1.5, "wenig": 0.6, "sehr wenig": 0.3, "zu": 0.0, "gleichmäßig": 1.0,
}  # fmt: skip
_MONTHS = (
    "january januar", "february februar", "march märz mrz", "april", "may mai", "june juni", "july juli", "august",
    "september", "october oktober", "november", "december dezember",
)  # fmt: skip
_LETTERS = 3  # that tell a month
_TO = re.compile(r"\s*(?:-|–|\bto\b|\buntil\b|\bbis\b)\s*")
_BETWEEN = re.compile(r"[\s,]+(?:(?:in|im|from|von|and|und)\s+)*")
_SHARE = re.compile(r"(\d{1,3})\s?%")
_EXAMPLE = "busy Oct-Dec; quiet Jun-Aug"
# Common practice, no source: how the year goes for each sort of work, by words met in the names of families and jobs.
_TRADE = (
    ("boots boot stiefel winter wet", "busy Oct-Dec; quiet May-Jul"),
    ("sandals sandal sandalen summer sommer", "very busy May-Jul; quiet Oct-Feb"),
    ("children child school kinder schule", "busy Aug-Sep"),
    ("soling sole soles sohlen besohlung", "busy Oct-Nov; quiet Jul-Aug"),
    ("gifts gift geschenke", "very busy Dec; quiet Jan-Feb"),
)


def busy_months(words: str) -> Months:
    """Read when work is busy, such as 'busy Oct-Dec; quiet Jun-Aug; shut Aug' or '150% May, 80% Jan-Feb'.

    Raises
    ------
    UsageError
        If a part says neither how it is nor when.
    """
    factors = [1.0] * 12
    for part in filter(None, (each.strip() for each in re.split(r"[;.]", words.casefold()))):
        how, months = _part(part)
        for month in months:
            factors[month] = how
    return _evened(factors)


@cache
def trade_months(*names: str) -> Months:
    """Give how the year goes in the trade for work so called; steady where nothing is known of it."""
    met = {word for name in names for word in re.findall(r"\w+", name.casefold())}
    for words, said in _TRADE:
        if met & set(words.split()):
            return busy_months(said)
    return STEADY


def _part(part: str) -> tuple[float, tuple[int, ...]]:
    share = _SHARE.match(part)
    word = next((each for each in sorted(_HOW, key=len, reverse=True) if re.match(rf"{each}\b", part)), "")
    if not share and not word:
        known = ", ".join(list(_HOW)[:6])
        raise UsageError(
            phrase("'%(text)s' doesn't begin with how busy it is.", text=part),
            fix=phrase("Write it like '%(example)s'; words: %(words)s.", example=_EXAMPLE, words=known),
        )
    rest = part[share.end() if share else len(word) :]
    how = int(share[1]) / 100 if share else _HOW[word]
    if how == 1.0 and not rest.strip():
        return how, ()
    spans = filter(None, _BETWEEN.split(f" {_TO.sub('-', rest.strip())}"))
    return how, tuple(month for span in spans for month in _span(span))


def _span(text: str) -> tuple[int, ...]:
    first, dash, last = text.partition("-")
    start, end = _month(first), _month(last if dash else first)
    return tuple(month % 12 for month in range(start, end + 1 + (12 if end < start else 0)))


def _month(text: str) -> int:
    name = text.strip().rstrip(".")
    found = [n for n, names in enumerate(_MONTHS) if any(full.startswith(name) for full in names.split())]
    if len(name) < _LETTERS or not found:
        raise UsageError(
            phrase("'%(text)s' is not a month.", text=text.strip()),
            fix=phrase("Write it like '%(example)s'.", example=_EXAMPLE),
        )
    return found[0]


def _evened(factors: list[float]) -> Months:
    kept = [max(each, LEAST) for each in factors]
    return tuple(each * 12 / sum(kept) for each in kept)
