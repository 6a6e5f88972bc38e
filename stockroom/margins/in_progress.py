"""Work in progress: what unfinished tickets have used so far, until they are finished or given up."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from stockroom.stock.layers import LayerEntry
from stockroom.stock.moves import Document, DocumentKind, MoveKind

_ENDS = (DocumentKind.FINISH, DocumentKind.REDO, DocumentKind.CANCEL)
_USE = (MoveKind.JOB_USE, MoveKind.REDO_USE)

Uses = dict[str, tuple[int, int]]  # material: amount in nano and cost in thousandths, both as used (positive)


@dataclass(frozen=True, slots=True)
class Unfinished:
    """The tickets worked in stages: what each had used by any day, while it was not finished."""

    entries: Sequence[LayerEntry]  # of those tickets
    ends: Sequence[tuple[str, date, int]]  # ticket, accounting day, 1 where it ended there and -1 where that is undone

    def on(self, day: date) -> dict[str, Uses]:
        """Give what unfinished tickets had used by the end of a day."""
        ended: dict[str, int] = {}
        for number, when, sign in self.ends:
            ended[number] = ended.get(number, 0) + (sign if when <= day else 0)
        found: dict[str, Uses] = {}
        for entry in self.entries:
            if entry.booked_on <= day and not ended.get(entry.move.ticket):
                uses = found.setdefault(entry.move.ticket, {})
                nano, value = uses.get(entry.move.material, (0, 0))
                uses[entry.move.material] = (nano - entry.nano, value - entry.value)
        return found

    def value(self, day: date) -> int:
        """Give what it had cost by the end of a day, in thousandths of the minor unit."""
        return sum(value for uses in self.on(day).values() for _, value in uses.values())


def unfinished(documents: Sequence[Document], entries: Iterable[LayerEntry]) -> Unfinished:
    """Find the tickets that were worked in stages.

    Parameters
    ----------
    documents : sequence of Document
        All documents, in entry order.
    entries : iterable of LayerEntry
        The cost entries of their replay.
    """
    staged = {document.subject for document in documents if document.kind is DocumentKind.USE}
    if not staged:
        return Unfinished((), ())
    by_id: Mapping[int | None, Document] = {document.id: document for document in documents}
    ends = []
    for document in documents:
        root, sign = document, 1
        while root.reverses is not None and root.reverses in by_id:
            root, sign = by_id[root.reverses], -sign
        if root.kind in _ENDS and root.subject in staged:
            ends.append((root.subject, document.booked_on or document.happened.date(), sign))
    mine = [entry for entry in entries if entry.kind in _USE and entry.move.ticket in staged]
    return Unfinished(mine, ends)
