"""What a file may hold: kinds of file, their columns, and the types of their cells."""

from dataclasses import dataclass
from datetime import time
from enum import StrEnum

README = "read me"  # the sheet of a template that describes the columns; never loaded


class Type(StrEnum):
    """How a cell is read; the value is its plain description."""

    TEXT = "text"
    ANY = "what the setting asks for"
    CODE = "a code: letters, digits and - . _ / + #, without spaces"
    REFERENCE = "a code that is already known"
    CHOICE = "one of the words listed"
    NUMBER = "a number"
    WHOLE = "a whole number"
    MONEY = "money in whole currency, such as 12.50, without the currency's sign"
    PERCENT = "per cent, such as 21 or 21%"
    SHARE = "a share of jobs: 1/3, 0.33 or 33%"
    DATE = "a day, such as 2026-01-31, or as your locale writes it"
    MOMENT = "a day, with a time if known: 2026-01-31 14:30"
    TIME = "a time of day, such as 16:00"
    WEEKDAYS = "weekdays, such as Mon Wed Fri"
    YES_NO = "yes or no"
    UNIT = "a unit: dm2 cm2 m2 sq ft, m cm mm ft in, ml l, g kg oz lb, piece pair dozen gross"
    QUANTITY = "an amount with its unit, such as 2.5 kg"
    BRIDGE = "two amounts that are the same stuff, such as 1 l = 860 g"
    THICKNESS = "a thickness in mm, iron or oz, such as 4 mm"
    SIZE = "a shoe size with its system, such as EU 42 or UK 8.5"
    SIZES = "the same shoe size in each system you use, such as EU 42 = UK 8"
    PAIRS = "names with values, such as sole=bend; colour=black"
    BREAKS = "packs with the price from there on, such as 10=4.20; 20=3.95"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A declared column: what its header says and what its cells mean."""

    name: str
    meaning: str
    type: Type = Type.TEXT
    required: bool = False  # the header must be there and no cell may be blank
    headed: bool = False  # the header must be there, though cells may be blank
    example: str = ""
    choices: tuple[str, ...] = ()
    refers_to: str = ""  # whose codes it repeats: a kind of file, or "stock" for materials and their groups
    above_zero: bool = False  # numbers are never below zero; this one isn't zero either
    finer: str = ""  # what to do about money finer than the smallest coin, where a pack's price is no answer
    at: time = time()  # the time of a moment given as a day alone


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """A kind of file: the stem of its name, what it holds, and its columns."""

    stem: str
    what: str
    columns: tuple[Column, ...]
    identity: str  # what makes a row the same row when a file is loaded again

    def column(self, name: str) -> Column:
        """Give a column by its name."""
        return next(column for column in self.columns if column.name == name)


def plain_header(text: str) -> str:
    """Bring a header to the form in which headers are compared: 'Size_From ' is 'size from'."""
    return " ".join(text.replace("_", " ").casefold().split())
