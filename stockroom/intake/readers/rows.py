"""What the readers share: faults of whole rows, amounts in a material's own dimension, rows met twice, keys."""

import hashlib
from collections import Counter
from collections.abc import Hashable
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from stockroom.errors import Problem, StockroomError, UsageError
from stockroom.intake.cells import written
from stockroom.intake.faults import Faults, FilePlace
from stockroom.intake.known import LoadScope
from stockroom.intake.tables import ReadRow
from stockroom.phrases import as_phrase, phrase, trimmed
from stockroom.stock.materials import Material
from stockroom.stock.quantities import LIMIT, Quantity, Unit, plain


@dataclass(frozen=True, slots=True)
class Context:
    """What a reader works with."""

    book: LoadScope
    faults: Faults
    counted: datetime | None = None  # when bins were counted whose rows don't say

    def blame(self, line: ReadRow, error: StockroomError, *, column: str = "", value: object = "") -> None:
        """Keep a fault of a row."""
        self.faults.add(
            Problem(
                what=trimmed(error.what),
                fix=error.fix,
                file=line.place.file,
                sheet=line.place.sheet,
                row=line.row,
                column=column,
                value=str(value),
            )
        )


class RowsSeen:
    """Rows by identity, to meet one a second time: alike it is passed over, different it is a fault."""

    def __init__(self, context: Context, what: str) -> None:
        self._context, self._what = context, what
        self._met: dict[Hashable, tuple[FilePlace, int, object]] = {}

    def again(self, line: ReadRow, identity: Hashable, noun: object) -> bool:
        """Say whether a row repeats an earlier one."""
        place, row, was = self._met.setdefault(identity, (line.place, line.row, noun))
        if row == line.row and place == line.place:
            return False
        where = phrase("row %(number)s", number=row)
        if place != line.place:
            where = phrase("%(file)s row %(number)s", file=place.file, number=row)
        if was == noun:
            note = phrase("row %(number)s repeats %(where)s and was passed over.", number=line.row, where=where)
            self._context.faults.note(line.place, note)
        else:
            facts = {"what": as_phrase(self._what), "where": where}
            again = phrase("%(what)s stands in %(where)s already, with other content.", **facts)
            self._context.blame(line, UsageError(again, fix="Keep one of the two."))
        return True


def tax(rate: Decimal | None) -> str:
    """Write a tax rate as the nouns keep it."""
    return "" if rate is None else plain(rate)


def amount(line: ReadRow, context: Context, *, material: str | None = None, column: str = "amount") -> Quantity | None:
    """Read an amount into its material's dimension; blames the row and gives None where that can't be."""
    stated = line[column]
    found = context.book.materials.get(material or line["material"])
    if stated is None or found is None:
        return None
    try:
        return _limited(found.to_base(_unit(line, found).of(stated)))
    except StockroomError as wrong:
        context.blame(line, wrong, column=column, value=written(f"{plain(stated)} {_unit(line, found).name}"))
        return None


def _unit(line: ReadRow, material: Material) -> Unit:
    stated: Unit | None = line["unit"]
    return stated or material.unit


def _limited(found: Quantity) -> Quantity:
    if found.nano > LIMIT:
        raise UsageError(
            phrase("%(found)s is more than the book can hold.", found=found), fix="Check the amount and its unit."
        )
    return found


def one_spelling(line: ReadRow, context: Context, kind: str) -> bool:
    """Say whether a code is written as the book has it; blames the row where only capitals differ."""
    twin = context.book.declared(kind, line["code"])
    if twin in (None, line["code"]):
        return True
    error = UsageError(
        phrase("'%(twin)s' is the same code but for capitals.", twin=twin),
        fix=phrase("Write it as '%(twin)s'.", twin=twin),
    )
    context.blame(line, error, column="code", value=line["code"])
    return False


class Keys:
    """Keys for rows without a number of their own: a hash of the content, and a count among a file's rows alike.

    Files that overlap bring the same keys, whether they are loaded together or one after the other.
    """

    def __init__(self, kind: str, context: Context) -> None:
        self._kind, self._context = kind, context
        self._met: Counter[tuple[FilePlace, str]] = Counter()
        self._given: set[str] = set()

    def key(self, line: ReadRow, *content: object) -> str | None:
        """Give a row's key, or None (and a note) if another file has brought it already."""
        mark = digest(*content)
        self._met[line.place, mark] += 1
        key = f"{self._kind}:{mark}:{self._met[line.place, mark]}"
        if key in self._given:
            note = phrase("row %(number)s stands in another file too and was passed over.", number=line.row)
            self._context.faults.note(line.place, note)
            return None
        self._given.add(key)
        return key


def digest(*content: object) -> str:
    """Give a short hash of some content."""
    return hashlib.sha256("\x1f".join(map(str, content)).encode()).hexdigest()[:20]
