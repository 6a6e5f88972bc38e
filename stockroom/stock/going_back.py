"""Goods that may go back to their supplier: of which delivery, how much of it is still there, and until when."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from stockroom.stock.money import half_up
from stockroom.stock.moves import Document, DocumentKind, delivered_lines, is_in_force

KINDS = (DocumentKind.DELIVERY, DocumentKind.SUPPLIER_RETURN, DocumentKind.PRICE_CORRECTION)


@dataclass(frozen=True, slots=True, kw_only=True)
class MayGoBack:
    """What of a delivery's goods may still go back.

    Goods on approval are the supplier's until they are used or their last day has passed: `there` of them lies on the
    shelf, of which whole packs may go back.
    """

    delivery: int  # its document
    supplier: str
    material: str
    came: date
    until: date
    there: int  # nano of it that lies there
    pack: int  # nano
    cost: int  # minor units before tax, of what lies there
    on_approval: bool = False
    supplier_code: str = ""

    @property
    def packs(self) -> int:
        """Whole packs that may go back."""
        return self.there // self.pack

    @property
    def nano(self) -> int:
        """What may go back: whole packs."""
        return self.packs * self.pack

    @property
    def credit(self) -> int:
        """What is credited for that, or need not be paid, in minor units before tax."""
        return self.cost_of(self.nano)

    def cost_of(self, nano: int) -> int:
        """Give what a part of it cost."""
        return half_up(Fraction(self.cost * nano, self.there)) if self.there else 0


def may_go_back(
    documents: Iterable[Document], taken: Mapping[int, int], on_hand: Mapping[str, int], day: date
) -> list[MayGoBack]:
    """Say what may go back on a day, the first last day first.

    Parameters
    ----------
    documents : iterable of Document
        Deliveries, returns to suppliers and price corrections up to that day, in the order they were entered; others
        are left out.
    taken : mapping of int to int
        By document that was taken back: the one that does so.
    on_hand : mapping of str to int
        What lies there of each material, in nano, all sites together.
    day : date
        What may go back until an earlier day is the shop's own.

    Notes
    -----
    What lies there is thought to be of the newest deliveries, as the oldest is used first; what has been sent back of
    a delivery is gone from it.
    """
    known = [document for document in documents if document.kind in KINDS and is_in_force(document.id or 0, taken)]
    gone, prices = _sent_back(known), _corrected(known)
    left = {material: max(nano, 0) for material, nano in on_hand.items()}
    found: list[MayGoBack] = []
    for document in sorted(_deliveries(known), key=lambda d: (d.happened, d.id or 0), reverse=True):
        lines = delivered_lines(document) or [{}] * len(document.moves)
        for line, move in reversed(list(zip(lines, document.moves, strict=True))):
            of = (document.id or 0, move.material)
            back = min(gone.get(of, 0), move.nano)
            gone[of] = gone.get(of, 0) - back
            there = min(move.nano - back, left.get(move.material, 0))
            left[move.material] = left.get(move.material, 0) - there
            if there and line.get("back_until", "") >= day.isoformat():
                found.append(_line(document, line, (move.nano, there), prices.get(of, Fraction(1))))
    return sorted(found, key=lambda each: (each.until, each.delivery, each.material))


def _deliveries(known: Iterable[Document]) -> list[Document]:
    return [document for document in known if document.kind is DocumentKind.DELIVERY]


def _line(document: Document, line: Mapping[str, Any], amounts: tuple[int, int], price: Fraction) -> MayGoBack:
    came, there = amounts
    return MayGoBack(
        delivery=document.id or 0,
        supplier=str(document.content.get("supplier", "")),
        material=line["material"],
        came=document.happened.date(),
        until=date.fromisoformat(line["back_until"]),
        there=there,
        pack=line["back_pack"],
        cost=half_up(Fraction(line["cost"] * there, came) * price),
        on_approval=bool(line.get("on_approval")),
        supplier_code=line.get("code", ""),
    )


def _sent_back(known: Iterable[Document]) -> dict[tuple[int, str], int]:
    """Add up what was sent back by name of a delivery."""
    gone: dict[tuple[int, str], int] = {}
    for document in known:
        delivery: Any = document.content.get("delivery")
        if document.kind is DocumentKind.SUPPLIER_RETURN and delivery is not None:
            for move in document.moves:
                gone[delivery, move.material] = gone.get((delivery, move.material), 0) - move.nano
    return gone


def _corrected(known: list[Document]) -> dict[tuple[int, str], Fraction]:
    """Give by what invoices changed the price of a delivery's goods."""
    asked: dict[tuple[int, str], int] = {}
    for document in _deliveries(known):
        for line in delivered_lines(document):
            of = (document.id or 0, line["material"])
            asked[of] = asked.get(of, 0) + line["cost"]
    found: dict[tuple[int, str], Fraction] = {}
    for document in known:
        if document.kind is DocumentKind.PRICE_CORRECTION:
            for line in delivered_lines(document):
                of = (document.content.get("delivery"), line["material"])  # type: ignore[assignment]
                if "new_cost" in line and asked.get(of):
                    found[of] = Fraction(line["new_cost"], asked[of])
    return found
