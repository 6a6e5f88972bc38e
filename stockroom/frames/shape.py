"""What a frame is: its columns declared once, made from the book's facts and checked as it is made.

A text that isn't there is empty; anything else that isn't there is missing (NaN, NaT, <NA>).
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import Enum, auto
from operator import attrgetter
from typing import Any, Literal, TypedDict

import numpy as np
import pandas as pd

from stockroom.stock.money import MILLI, major
from stockroom.stock.quantities import UNITS

Money = Literal["float", "decimal"]
UNIT_MEANING = "The unit of the row's amounts. A pair is two pieces."
Facts = Mapping[str, Sequence[Any]]  # values by column, as the book keeps them


class Written(TypedDict, total=False):
    """How figures are to be written: options of every frame that has such figures."""

    exact: bool  # beside each amount its exact whole number, in a column of its own ending in `_nano` [False]
    money: Money  # 'float' or 'decimal' [float]


class Holds(Enum):
    """What a column holds."""

    TEXT = auto()
    CHOICE = auto()  # one of a closed list
    UNIT = auto()
    TEXTS = auto()
    SHARES = auto()
    AMOUNT = auto()  # given in billionths of the base unit
    MEASURE = auto()  # an estimate, in the row's unit: there is no exact number behind it
    MONEY = auto()  # given in minor units
    COST = auto()  # given in thousandths of the minor unit
    WORTH = auto()  # an estimate, given in minor units
    VALUE = auto()  # an estimate, given in major units
    NUMBER = auto()
    MAYBE_NUMBER = auto()
    SHARE = auto()
    DAY = auto()
    MOMENT = auto()
    FLAG = auto()

    @property
    def dtype(self) -> str:
        """How it is kept in the frame."""
        return _DTYPES.get(self, "float64")

    @property
    def unit(self) -> str:
        """What its figures are in."""
        return _UNITS.get(self, "")


_DTYPES = {
    Holds.TEXT: "string",
    Holds.CHOICE: "category",
    Holds.UNIT: "category",
    Holds.TEXTS: "object",
    Holds.SHARES: "object",
    Holds.NUMBER: "int64",
    Holds.MAYBE_NUMBER: "Int64",
    Holds.DAY: "datetime64[s]",
    Holds.MOMENT: "datetime64[s]",
    Holds.FLAG: "bool",
}
_IN_UNIT, _IN_MONEY = "the row's `unit`", "the currency"
_UNITS = {
    Holds.TEXTS: "a tuple of texts",
    Holds.SHARES: "a tuple of numbers from 0 to 1",
    Holds.AMOUNT: _IN_UNIT,
    Holds.MEASURE: _IN_UNIT,
    Holds.MONEY: _IN_MONEY,
    Holds.COST: _IN_MONEY,
    Holds.WORTH: _IN_MONEY,
    Holds.VALUE: _IN_MONEY,
    Holds.SHARE: "0 to 1",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameColumn:
    """One column of a frame."""

    name: str
    holds: Holds
    meaning: str
    read: Callable[[Any], object]
    choices: tuple[str, ...] = ()  # all there can be

    @property
    def dtype(self) -> Any:  # noqa: ANN401 -- pandas' own kinds of dtype
        """Its dtype; of a closed list the categories too, whatever the book holds."""
        if self.holds is Holds.UNIT:
            return pd.CategoricalDtype(list(UNITS))
        return pd.CategoricalDtype(list(self.choices)) if self.holds is Holds.CHOICE else self.holds.dtype


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A frame: what a row is, the columns in their order, and those that name a row."""

    name: str
    row: str
    index: tuple[str, ...]
    fields: tuple[FrameColumn, ...]


class FrameError(Exception):
    """A frame that is not what was declared: a mistake of this program, never of the book."""


def field(
    name: str, holds: Holds, meaning: str, read: str | Callable[[Any], object] = "", choices: Iterable[object] = ()
) -> FrameColumn:
    """Declare a column; unless told how, it is read from what bears its name."""
    reading = read if callable(read) else attrgetter(read or name)
    return FrameColumn(
        name=name, holds=holds, meaning=meaning, read=reading, choices=tuple(str(each) for each in choices)
    )


def facts(shape: Shape, rows: Sequence[object]) -> Facts:
    """Spread rows over the columns of a frame."""
    return {each.name: [each.read(row) for row in rows] for each in shape.fields}


def made(shape: Shape, told: Facts, *, digits: int, exact: bool = False, money: Money = "float") -> pd.DataFrame:
    """Make a frame of its facts.

    Parameters
    ----------
    shape : Shape
        What is declared.
    told : mapping of str to sequence
        The values of each column as the book keeps them: amounts in billionths of the base unit, money in minor
        units or thousandths of them, days and moments as such or as ISO texts.
    digits : int
        Decimals of the currency.
    exact : bool, optional
        Whether each amount has its whole number beside it.
    money : {'float', 'decimal'}, optional
        How money is written.

    Returns
    -------
    pandas.DataFrame
        Indexed and typed as declared.

    Raises
    ------
    FrameError
        If the facts don't make the frame that was declared.
    """
    worth = _worth(told.get("unit", ()))
    columns: dict[str, Any] = {}
    for each in shape.fields:
        values = told[each.name]
        if each.holds is Holds.AMOUNT:
            columns[each.name] = _amounts(values, worth)
            if exact:
                columns[f"{each.name}_nano"] = pd.array(list(values), dtype="Int64")
        elif each.holds in _MINOR:
            columns[each.name] = _money(values, digits, each.holds, money)
        else:
            fill: Callable[[FrameColumn, Sequence[Any]], Any] = _FILL.get(each.holds, _plain)
            columns[each.name] = fill(each, values)
    frame = pd.DataFrame(columns, copy=False).set_index(list(shape.index))
    _check(shape, frame, money)
    return frame


def _worth(units: Sequence[Any]) -> Any:  # noqa: ANN401 -- an array
    """Give what each row's unit is worth, in billionths of its base unit."""
    return np.fromiter((float(unit.exact or unit.nano) for unit in units), dtype=np.float64, count=len(units))


def _amounts(values: Sequence[int | None], worth: Any) -> Any:  # noqa: ANN401 -- arrays
    return np.array(values, dtype=np.float64) / worth  # None becomes NaN


_MINOR = {Holds.MONEY: 1, Holds.COST: MILLI, Holds.WORTH: 1}  # parts of the minor unit


def _money(values: Sequence[float | None], digits: int, holds: Holds, money: Money) -> Any:  # noqa: ANN401 -- as above
    parts = _MINOR[holds]
    if money == "decimal" and holds is not Holds.WORTH:
        exact = [None if value is None else major(int(value), digits) / parts for value in values]
        return pd.Series(exact, dtype=object)
    return np.array(values, dtype=np.float64) / (parts * 10**digits)


def _plain(each: FrameColumn, values: Sequence[object]) -> Any:  # noqa: ANN401 -- as above
    return pd.array(list(values), dtype=each.dtype)


def _texts(_each: FrameColumn, values: Sequence[str | None]) -> Any:  # noqa: ANN401 -- as above
    one: dict[str, str] = {}  # the same text once, as a plain one
    return pd.array([one.setdefault(value, str(value)) if value else "" for value in values], dtype="string")


def _choices(each: FrameColumn, values: Sequence[object]) -> Any:  # noqa: ANN401 -- as above
    place = {name: code for code, name in enumerate(each.dtype.categories)}
    unknown = {str(value) for value in set(values)} - place.keys()
    if unknown:
        raise FrameError(f"{each.name}: {sorted(unknown)} was never declared")
    codes = np.fromiter((place[value] for value in map(str, values)), dtype=np.int8, count=len(values))
    return pd.Categorical.from_codes(codes, dtype=each.dtype)


def _units(each: FrameColumn, values: Sequence[Any]) -> Any:  # noqa: ANN401 -- as above
    place = {name: code for code, name in enumerate(each.dtype.categories)}
    codes = np.fromiter((place[unit.name] for unit in values), dtype=np.int8, count=len(values))
    return pd.Categorical.from_codes(codes, dtype=each.dtype)


def _moments(_each: FrameColumn, values: Sequence[object]) -> Any:  # noqa: ANN401 -- as above
    return np.array([value or "NaT" for value in values], dtype="datetime64[s]")


def _objects(_each: FrameColumn, values: Sequence[Sequence[object]]) -> Any:  # noqa: ANN401 -- as above
    return pd.Series([tuple(value) for value in values], dtype=object)


_FILL: dict[Holds, Callable[[FrameColumn, Sequence[Any]], Any]] = {
    Holds.TEXT: _texts,
    Holds.CHOICE: _choices,
    Holds.UNIT: _units,
    Holds.DAY: _moments,
    Holds.MOMENT: _moments,
    Holds.TEXTS: _objects,
    Holds.SHARES: _objects,
    Holds.VALUE: lambda _each, values: np.array(values, dtype=np.float64),
    Holds.MEASURE: lambda _each, values: np.array(values, dtype=np.float64),
    Holds.SHARE: lambda _each, values: np.array(values, dtype=np.float64),
    Holds.NUMBER: lambda _each, values: np.array(values, dtype=np.int64),
    Holds.FLAG: lambda _each, values: np.array(values, dtype=bool),
}


def _check(shape: Shape, frame: pd.DataFrame, money: Money) -> None:
    """Hold a frame against its declaration: names, dtypes, and an index that names each row once."""
    levels = [frame.index.get_level_values(name) for name in shape.index]
    found = {level.name: level.dtype for level in levels} | dict(frame.dtypes)
    for each in shape.fields:
        decimal = money == "decimal" and each.holds in (Holds.MONEY, Holds.COST)
        wanted = np.dtype(object) if decimal else each.dtype
        if each.name not in found or found[each.name] != wanted:
            raise FrameError(f"{shape.name}.{each.name} is {found.get(each.name)}, not {wanted}")
    if not frame.index.is_unique:
        raise FrameError(f"{shape.name}: {', '.join(shape.index)} does not name each row once")
