"""Sales over the counter: several things in one, less a discount, and what customers bring back."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Any, cast

from stockroom.errors import UsageError
from stockroom.phrases import phrase
from stockroom.stock.money import half_up, split
from stockroom.stock.moves import Document, DocumentKind, Move, MoveKind
from stockroom.stock.postings import Stamp


@dataclass(frozen=True, slots=True, kw_only=True)
class SalePart:
    """One line of a sale."""

    material: str
    nano: int  # sold; below zero was brought back
    price: int | None  # minor units taken for it, after its share of a discount; below zero was paid back
    wasted: bool = False  # brought back, and no good any more


@dataclass(frozen=True, slots=True, kw_only=True)
class SaleTerms:
    """What holds of a sale as a whole."""

    discount: int = 0  # minor units, in the prices of its lines already
    by_post: bool = False
    post_cost: int | None = None
    of: int | None = None  # document of the sale that is brought back


PLAIN = SaleTerms()


def sale(parts: Sequence[SalePart], stamp: Stamp, terms: SaleTerms = PLAIN) -> Document:
    """Sell several things in one document, or take back what was sold."""
    moves = []
    for part in parts:
        moves.append(_move(part, MoveKind.SALE, -part.nano, stamp))
        if part.wasted:
            moves.append(_move(part, MoveKind.WASTE, part.nano, stamp))
    prices = [part.price for part in parts if part.price is not None]
    return stamp.document(
        DocumentKind.SALE,
        ", ".join(part.material for part in parts),
        moves,
        price=sum(prices) if len(prices) == len(parts) else None,
        lines=[_line(part) for part in parts],
        discount=terms.discount or None,
        by_post=terms.by_post or None,
        post_cost=terms.post_cost,
        of=terms.of,
        reason=f"brought back, of sale {terms.of}" if terms.of and any(part.wasted for part in parts) else "",
    )


def parts_of(document: Document) -> tuple[SalePart, ...]:
    """Read the lines of a sale; a sale of one thing says its price for the whole."""
    lines = cast("Sequence[Mapping[str, Any]]", document.content.get("lines", ()))
    if lines:
        return tuple(SalePart(**{"price": None, **line}) for line in lines)
    sold = [move for move in document.moves if move.kind is MoveKind.SALE]
    price = cast("int | None", document.content.get("price"))
    return (SalePart(material=sold[0].material, nano=-sum(move.nano for move in sold), price=price),)


def discounted(parts: Sequence[SalePart], discount: int) -> list[SalePart]:
    """Spread a discount over lines by their price; the parts add up to the whole.

    Raises
    ------
    UsageError
        If it is below zero, more than the lines come to, or a line has no price.
    """
    prices = [part.price for part in parts]
    if not discount:
        return list(parts)
    if any(price is None for price in prices):
        raise UsageError("A discount needs a price on every line.", fix="Say what was paid in all instead.")
    total = sum(price or 0 for price in prices)
    if not 0 <= discount <= total:
        raise UsageError(
            phrase("The discount is not between nothing and what the lines come to."), fix="Check the discount."
        )
    shares = split(discount, [price or 0 for price in prices])
    return [replace(part, price=(part.price or 0) - share) for part, share in zip(parts, shares, strict=True)]


def paid_in_all(parts: Sequence[SalePart], paid: int) -> list[SalePart]:
    """Spread what was paid in all over lines by their prices; evenly where none has one."""
    weights = [part.price or 0 for part in parts]
    shares = split(paid, weights if any(weights) else [1] * len(parts))
    return [replace(part, price=share) for part, share in zip(parts, shares, strict=True)]


def part_of_price(price: int | None, nano: int, of: int) -> int | None:
    """Give what a part of an amount costs."""
    return None if price is None else half_up(Fraction(price * nano, of))


def _move(part: SalePart, kind: MoveKind, nano: int, stamp: Stamp) -> Move:
    return Move(material=part.material, nano=nano, kind=kind, happened=stamp.happened, site=stamp.site)


def _line(part: SalePart) -> dict[str, object]:
    facts: dict[str, object] = {"material": part.material, "nano": part.nano}
    facts |= {"price": part.price} if part.price is not None else {}
    return facts | ({"wasted": True} if part.wasted else {})
