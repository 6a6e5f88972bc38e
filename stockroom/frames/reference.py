"""The reference of the public face, written of the frames' own declarations.

Run: python -m stockroom.frames.reference
"""

from pathlib import Path

from stockroom.frames.answers import ANSWERS
from stockroom.frames.reader import BookReader
from stockroom.frames.records import RECORDS
from stockroom.frames.shape import FrameColumn, Holds, Shape

SHAPES = {shape.name: shape for shape in (*ANSWERS, *RECORDS)}
PLACE = Path(__file__).with_name("REFERENCE.md")
_HEAD = """# Frames of a book

Written by `python -m stockroom.frames.reference` of the declarations the frames are made and checked by.

    >>> import stockroom
    >>> with stockroom.open("stockroom.sqlite") as book:
    ...     shelf = book.shelf()
    ...     then = book.moves(as_of="2026-01-07", site="main", exact=True, money="decimal")
    >>> float(then.groupby("material")["amount"].sum()["TIP"])
    5.0
    >>> float(shelf.at["TIP", "on_hand"])
    39.0

- The book is only read: the database refuses every change. Nothing heavy is loaded before the first frame.
- `as_of`: the book as it stood, by when things happened. A day means its end, for what lies ahead its noon; a moment
  is `2026-03-31T14:30`. What the shelf has set aside and on order is always today's.
- `site`: one site only; without it, all of them.
- `exact=True`: beside each amount `x` its whole number `x_nano` (Int64), in billionths of the base unit (dm2, m, ml,
  g, piece).
- `money="decimal"`: exact `Decimal`s (dtype object) instead of floats, in the currency's major unit. Estimates stay
  floats.
- A text that isn't there is empty; anything else that isn't there is missing. An empty book gives empty frames of the
  same columns and dtypes.
"""


def reference() -> str:
    """Write the reference, frame by frame in the order of the reader's methods."""
    names = [name for name in vars(BookReader) if name in SHAPES]
    return "\n".join([_HEAD, *(_frame(SHAPES[name]) for name in names)])


def _frame(shape: Shape) -> str:
    said = (getattr(BookReader, shape.name).__doc__ or "").partition("\n")[0]
    lines = [f"| {_name(shape, each)} | {_dtype(each)} | {each.holds.unit} | {each.meaning} |" for each in shape.fields]
    head = ["| Column | Dtype | In | Meaning |", "| --- | --- | --- | --- |"]
    return "\n".join([f"## book.{shape.name}()", "", said, f"A row: {_lower(shape.row)}", "", *head, *lines, ""])


def _name(shape: Shape, each: FrameColumn) -> str:
    return f"`{each.name}` (index)" if each.name in shape.index else f"`{each.name}`"


def _dtype(each: FrameColumn) -> str:
    chosen = f": {', '.join(each.choices)}" if each.holds is Holds.CHOICE else ""
    return f"{each.holds.dtype}{chosen}"


def _lower(text: str) -> str:
    return f"{text[:1].lower()}{text[1:]}"


if __name__ == "__main__":
    PLACE.write_text(reference(), encoding="utf-8")
