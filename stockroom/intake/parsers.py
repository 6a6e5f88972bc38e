"""From a declared column to the function that reads its cells."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime

from stockroom.errors import UsageError, nearest
from stockroom.intake import cells
from stockroom.intake.cells import Cell, Marks
from stockroom.intake.columns import Field, Type
from stockroom.intake.known import LoadScope
from stockroom.phrases import joined, phrase
from stockroom.stock.money import minor
from stockroom.stock.quantities import Bridge, Quantity, bridge, plain, thickness_mm, unit
from stockroom.stock.shoe_sizes import ShoeSize, shoe_size
from stockroom.stock.shop import weekdays
from stockroom.stock.suppliers import PriceBreak

Parse = Callable[[Cell], object]

LONGEST_WORD = 200  # no figure, day or code is longer
LONG = {Type.TEXT, Type.ANY, Type.PAIRS}
_WORDS = (Type.TEXT, Type.ANY, Type.CODE, Type.REFERENCE, Type.CHOICE, Type.THICKNESS)
BLANK: Mapping[Type, object] = {**dict.fromkeys(_WORDS, ""), Type.PAIRS: {}, Type.BREAKS: ()}  # others: None


@dataclass(frozen=True, slots=True, kw_only=True)
class CellReading:
    """How the cells of a sheet are read."""

    marks: Marks
    digits: int  # decimals of the shop's currency
    book: LoadScope
    serial_zero: date | None = None  # day 0 of a workbook's serial numbers; None in a text file
    now: datetime | None = None  # what happened did so by then; None: whenever


def parser(column: Field, reading: CellReading) -> Parse:
    """Give the function that reads a column's cells; it raises a StockroomError with what is wrong."""
    parse, now = _parser(column, reading), reading.now
    if now is None or not (column.past or column.type is Type.MOMENT):
        return parse
    return lambda cell: _happened(parse(cell), column, now)


def _happened(found: object, column: Field, now: datetime) -> object:
    """Refuse what is still to come; a day alone that is today has begun."""
    if isinstance(found, datetime):
        begun = found.date() == now.date() and found.time() == column.at
        ahead = found > now and not begun
    else:
        ahead = isinstance(found, date) and found > now.date()
    if ahead:
        raise UsageError("This is still to come.", fix="Give when it happened, today at the latest.")
    return found


def _parser(column: Field, reading: CellReading) -> Parse:
    kind, marks, zero = column.type, reading.marks, reading.serial_zero
    above, at = column.above_zero, column.at
    by_type: dict[Type, Parse] = {
        Type.TEXT: cells.text,
        Type.ANY: lambda cell: cells.text(cells.written(cell)),
        Type.CODE: cells.code,
        Type.REFERENCE: lambda cell: reading.book.resolve(column.refers_to, cells.text(cell)),
        Type.CHOICE: lambda cell: _choice(cell, column),
        Type.NUMBER: lambda cell: cells.number(cell, marks, above_zero=above),
        Type.WHOLE: lambda cell: cells.whole(cell, marks, above_zero=above),
        Type.MONEY: lambda cell: cells.money(cell, marks, reading.digits, finer=column.finer),
        Type.PERCENT: lambda cell: cells.percent(cell, marks),
        Type.SHARE: lambda cell: cells.share(cell, marks),
        Type.DATE: lambda cell: cells.day(cell, marks, zero),
        Type.MOMENT: lambda cell: cells.moment(cell, marks, at, zero),
        Type.TIME: cells.clock,
        Type.YES_NO: cells.yes_no,
    }
    return by_type.get(kind) or _phrases(kind, reading)


def _phrases(kind: Type, reading: CellReading) -> Parse:
    marks = reading.marks
    by_type: dict[Type, Parse] = {
        Type.WEEKDAYS: lambda cell: weekdays(cells.text(cell)),
        Type.UNIT: lambda cell: unit(cells.text(cell)),
        Type.QUANTITY: lambda cell: _quantity(cell, marks),
        Type.BRIDGE: lambda cell: _bridge(cell, marks),
        Type.EXCHANGE: lambda cell: Bridge(**_sides(cell, marks)),
        Type.THICKNESS: lambda cell: _thickness(cell, marks),
        Type.SIZE: lambda cell: shoe_size(cells.text(cell)),
        Type.SIZES: _sizes,
        Type.PAIRS: _pairs,
        Type.BREAKS: lambda cell: _breaks(cell, reading),
    }
    return by_type[kind]


def _choice(cell: Cell, column: Field) -> str:
    word = cells.text(cell).casefold()
    if word not in column.choices:
        raise UsageError(
            "This is not one of the words for it.",
            fix=joined((nearest(word, column.choices), phrase("Words: %(words)s.", words=", ".join(column.choices)))),
        )
    return word


def _quantity(cell: Cell, marks: Marks) -> Quantity:
    found = re.fullmatch(r"([+-]?[0-9].*?)\s*([^\W\d_].*)", cells.text(cell))
    if not found:
        raise UsageError("This is not an amount with a unit.", fix="Write it like 2.5 kg.")
    return unit(found[2]).of(cells.number(found[1], marks, above_zero=True))


def _bridge(cell: Cell, marks: Marks) -> Bridge:
    sides = _sides(cell, marks)
    return bridge(f"{sides['left']} = {sides['right']}")


def _sides(cell: Cell, marks: Marks) -> dict[str, Quantity]:
    """Read two amounts with a sign between them that they are equal."""
    sides = cells.text(cell).split("=")
    if len(sides) != 2:  # noqa: PLR2004 -- left and right
        raise UsageError("This doesn't join two amounts.", fix="Write it like 1 l = 860 g.")
    return dict(zip(("left", "right"), (_quantity(side, marks) for side in sides), strict=True))


def _thickness(cell: Cell, marks: Marks) -> str:
    found = re.fullmatch(r"([0-9].*?)\s*(mm|iron|oz)", cells.text(cell))
    if not found:
        raise UsageError("This is not a thickness.", fix="Write it like 4 mm, 9 iron or 5 oz.")
    stated = f"{plain(cells.number(found[1], marks, above_zero=True))} {found[2]}"
    thickness_mm(stated)
    return stated


def _sizes(cell: Cell) -> tuple[ShoeSize, ...]:
    sizes = tuple(shoe_size(part) for part in cells.text(cell).split("="))
    if len({size.system for size in sizes}) < len(sizes):
        raise UsageError("A size system is named twice.", fix="Write each once, like EU 42 = UK 8.")
    return sizes


def _pairs(cell: Cell) -> Mapping[str, str]:
    found: dict[str, str] = {}
    for part in cells.text(cell).split(";"):
        name, equals, value = (piece.strip() for piece in part.partition("="))
        if not part.strip():
            continue
        if not (name and equals and value) or name in found:
            raise UsageError(
                "These are not names with values, each name once.", fix="Write them like sole=bend; colour=black."
            )
        found[name] = value
    return found


def _breaks(cell: Cell, reading: CellReading) -> tuple[PriceBreak, ...]:
    found = []
    for packs, price in _pairs(cell).items():
        least = cells.whole(packs, reading.marks, above_zero=True)
        found.append(PriceBreak(packs=least, price=minor(cells.number(price, reading.marks), reading.digits)))
    if len({each.packs for each in found}) < len(found) or any(each.packs == 1 for each in found):
        raise UsageError(
            "Each break needs its own number of packs, from 2 on.", fix="Write them like 10=4.20; 20=3.95."
        )
    return tuple(sorted(found, key=lambda each: each.packs))
