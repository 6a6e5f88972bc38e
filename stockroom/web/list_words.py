"""The shop's lists as they are read and typed: a day as a day, a yes as a yes, figures with the reader's own marks.

Rows hold texts as the shop's files do, by its country's marks. A page shows and reads figures as all its other fields
do (`web/typed.py`): a point or a comma is the decimal mark, and what could be thousands is asked for again.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from datetime import date
from decimal import Decimal, InvalidOperation

from stockroom.errors import Problem, UsageError
from stockroom.flows.loading.lists import Entry, ListKind
from stockroom.intake.cells import marks_of
from stockroom.intake.columns import Field, Type
from stockroom.phrases import joined
from stockroom.show.formats import unit_word
from stockroom.stock.quantities import UNITS
from stockroom.stock.shop import weekdays, write_weekdays
from stockroom.web import typed
from stockroom.web.site import formats, shop
from stockroom.web.words import family, said, words

Row = Mapping[str, str]
Names = Mapping[str, Mapping[str, str]]  # of each list, code to name
FIGURED = {
    Type.NUMBER, Type.MONEY, Type.PERCENT, Type.EXCHANGE, Type.SHARE, Type.QUANTITY, Type.BRIDGE, Type.THICKNESS,
    Type.BREAKS,
}  # fmt: skip
_LABELLED = (Type.NUMBER, Type.WHOLE, Type.PERCENT, Type.DATE)  # a bare one says nothing
_TOLD = {  # what a list says of each entry under its name
    "materials": ("code", "family", "place", "sell price"),
    "suppliers": ("code", "lead days", "order weekdays"),
    "offers": ("supplier", "supplier code", "pack", "price", "valid from"),
    "jobs": ("code", "family", "price"),
    "recipes": ("valid from",),
    "closures": ("who", "reason"),
    "events": ("day", "last", "job", "jobs", "usual"),
    "postage": ("code", "cost"),
    "services": ("machine", "every hours", "every days"),
    "substitutes": ("substitute", "does"),
    "standing": ("material", "packs", "weeks", "first", "last"),
}
_HEADS = {"offers": "material", "recipes": "job", "substitutes": "material", "standing": "supplier"}  # called by it


def headed(kind: ListKind, entry: Entry, names: Names) -> str:
    """Name an entry as its list does."""
    row = entry.rows[0]
    if kind.stem == "closures":
        first, last = (formats().day(date.fromisoformat(row[each] or row["first"])) for each in ("first", "last"))
        return first if first == last else f"{first} – {last}"
    if kind.stem in _HEADS:
        return in_words(kind.kind.column(_HEADS[kind.stem]), row[_HEADS[kind.stem]], names)
    return entry.name


def told(kind: ListKind, entry: Entry, names: Names) -> list[str]:
    """Say what a list says of an entry beside its name, each fact in words."""
    row = entry.rows[0]
    found = [_fact(kind.kind.column(name), row, names) for name in _TOLD[kind.stem] if row.get(name)]
    return [*found, *(words(note) for name, note in _NOTES.items() if row.get(name) == _SAID[name])]


def _(text: str) -> str:
    """Mark a text for the catalogues; the page says it in the reader's language."""
    return text


_NOTES = {"active": _("not in use"), "yearly": _("every year")}
_SAID = {"active": "no", "yearly": "yes"}


def _fact(column: Field, row: Row, names: Names) -> str:
    text = in_words(column, row[column.name], names)
    if column.name == "pack":
        much = Decimal(row["pack"].replace(_mark(), "."))
        return said(formats().amount(UNITS[row["unit"]].of(much).nano, UNITS[row["unit"]]))
    if column.type in _LABELLED:
        return words("%(what)s: %(said)s", what=words(column.title), said=text)
    return text


def in_words(column: Field, text: str, names: Names) -> str:
    """Say what stands in a row's column as a person says it."""
    try:
        return _SPOKEN[column.type](text) if column.type in _SPOKEN else _named(column, text, names)
    except (ValueError, InvalidOperation, KeyError):  # a text that the file's readers would refuse, too
        return text


def _named(column: Field, text: str, names: Names) -> str:
    if column.type is Type.REFERENCE:
        return names.get("materials" if column.refers_to == "stock" else column.refers_to, {}).get(text, text)
    if column.name == "family":
        return family(text)
    if column.type is Type.CHOICE:
        return words(text)
    return as_shown(column, text)


def _number(text: str) -> Decimal:
    return Decimal(text.replace(_mark(), "."))


def _mark() -> str:
    return marks_of(shop().locale).decimal


_SPOKEN: dict[Type, Callable[[str], str]] = {
    Type.DATE: lambda text: formats().day(date.fromisoformat(text)),
    Type.YES_NO: words,
    Type.UNIT: lambda text: words(unit_word(UNITS[text])),
    Type.MONEY: lambda text: formats().money(int(_number(text).scaleb(formats().digits))),
    Type.NUMBER: lambda text: formats().number(_number(text)),
    Type.WHOLE: lambda text: formats().number(_number(text)),
    Type.PERCENT: lambda text: words("%(number)s %%", number=formats().number(_number(text))),
    Type.WEEKDAYS: lambda text: joined([words(day) for day in text.split()]),
}


def as_shown(column: Field, text: str) -> str:
    """Write a row's text for its field: figures with the reader's mark, and never such that they could be thousands."""
    if column.type is Type.WEEKDAYS:
        return " ".join(map(words, text.split()))
    if column.type not in FIGURED:
        return text
    mark = re.escape(_mark())
    return re.sub(rf"(?<![\w.,])\d+{mark}\d+(?![\w.,])", lambda found: typed.shown(_number(found[0])), text)


def as_kept(column: Field, text: str) -> str:
    """Read a field's text into a row's, its figures by the shop's marks.

    Raises
    ------
    UsageError
        If a figure could be thousands.
    """
    if column.type is Type.WEEKDAYS:
        with suppress(UsageError):  # what names no day is refused where the row is read
            return write_weekdays(weekdays(text))
    return typed.marked(text, _mark()) if column.type in FIGURED else text


def shown_rows(kind: ListKind, rows: Sequence[Row]) -> list[dict[str, str]]:
    """Write rows for the fields of a form."""
    return [{c.name: as_shown(c, row.get(c.name, "")) for c in kind.kind.columns} for row in rows]


def kept_rows(kind: ListKind, rows: Sequence[Row]) -> tuple[list[dict[str, str]], list[Problem]]:
    """Read the rows of a form; with what could be thousands, which stays as it was typed."""
    found, problems = list[dict[str, str]](), list[Problem]()
    for number, row in enumerate(rows, 1):
        at = None if len(rows) == 1 else number
        kept = dict(row)
        for column in kind.kind.columns:
            kept[column.name], doubts = kept_or_doubted(column, row.get(column.name, ""), column.title, at)
            problems += doubts
        found.append(kept)
    return found, problems


def kept_or_doubted(column: Field, text: str, where: str, row: int | None = None) -> tuple[str, list[Problem]]:
    """Read a field's text as `as_kept` does; what could be thousands stays, with what is wrong of it and where."""
    try:
        return as_kept(column, text), []
    except UsageError as doubt:
        return text, [Problem(what=doubt.what, fix=doubt.fix, row=row, column=where)]
