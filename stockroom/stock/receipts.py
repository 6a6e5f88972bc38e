"""A customer's receipt: what was bought, what was paid, and the tax in it."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from stockroom.stock.quantities import Unit
from stockroom.stock.shop import Shop
from stockroom.stock.tax import Taxed


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiptLine:
    """One line of a customer's receipt."""

    what: str
    nano: int | None  # sold; below zero was brought back; None for work
    unit: Unit | None
    tax: Taxed | None  # what was paid, split; None where it is not known

    @property
    def taxed(self) -> Taxed:
        """What was paid, split into net and tax; nothing where it is not known."""
        return self.tax or Taxed(net=0, tax=0, gross=0, per_cent=Decimal(0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """What a customer gets: what was bought, what was paid, and the tax in it."""

    number: int
    shop: Shop
    happened: datetime
    about: str  # the ticket; empty for a sale
    lines: tuple[ReceiptLine, ...]
    discount: int = 0  # minor units, in the lines' prices already

    @property
    def total(self) -> int:
        """What was paid in all, with tax."""
        return sum(line.taxed.gross for line in self.lines)

    @property
    def taxes(self) -> list[tuple[Decimal, int, int]]:
        """Rate, net and tax, one of each rate."""
        sums: dict[Decimal, tuple[int, int]] = {}
        for line in self.lines:
            net, tax = sums.get(line.taxed.per_cent, (0, 0))
            sums[line.taxed.per_cent] = (net + line.taxed.net, tax + line.taxed.tax)
        return [(rate, *both) for rate, both in sorted(sums.items())]
