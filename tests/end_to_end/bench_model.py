"""An independent account of a bench: lots of each material, first in first out, what each ticket and sale drew of them.

It knows nothing of the program: amounts are billionths, costs thousandths of the smallest coin, and a part of a lot is
rounded half up. What comes back goes onto the lots it was drawn from, the last drawn first.
"""

from collections import defaultdict
from dataclasses import dataclass, field
from decimal import ROUND_HALF_UP, Decimal

NANO = 10**9


@dataclass
class Lot:
    """Goods that came together."""

    nano: int
    value: int


@dataclass
class Drawn:
    """A part of a lot that somebody has."""

    lot: Lot
    nano: int
    value: int


@dataclass
class BenchModel:
    """What should be on the shelf, what each ticket has cost, and what was thrown away."""

    lots: dict[str, list[Lot]] = field(default_factory=lambda: defaultdict(list))
    drawn: dict[tuple[str, str], list[Drawn]] = field(default_factory=lambda: defaultdict(list))
    wasted: int = 0

    def comes(self, material: str, amount: str, coins: int, milli: int = 0) -> None:
        """Lay goods down at a cost in coins."""
        self.lots[material].append(Lot(nano_of(amount), coins * 1000 + milli))

    def draws(self, who: str, material: str, amount: str) -> None:
        """Give goods to a ticket or a sale."""
        self.drawn[who, material] += self._take(material, nano_of(amount))

    def wastes(self, material: str, amount: str) -> None:
        """Throw goods away."""
        self.wasted += sum(part.value for part in self._take(material, nano_of(amount)))

    def gives_back(self, who: str, material: str, amount: str) -> None:
        """Put goods back onto the lots they were drawn from."""
        wanted = nano_of(amount)
        for part in reversed(self.drawn[who, material]):
            nano = min(part.nano, wanted)
            value = part.value if nano == part.nano else rounded(part.value * nano, part.nano) if nano else 0
            part.lot.nano, part.lot.value = part.lot.nano + nano, part.lot.value + value
            part.nano, part.value, wanted = part.nano - nano, part.value - value, wanted - nano
        assert not wanted

    def cost(self, who: str) -> int:
        """Give what a ticket or a sale has cost, in thousandths of a coin."""
        return sum(part.value for (name, _), parts in self.drawn.items() if name == who for part in parts)

    def on_hand(self) -> dict[str, int]:
        """Give what is there."""
        return {material: sum(lot.nano for lot in lots) for material, lots in self.lots.items()}

    def layers(self) -> dict[str, list[tuple[int, int]]]:
        """Give the lots that are left, oldest first."""
        return {m: [(lot.nano, lot.value) for lot in lots if lot.nano] for m, lots in self.lots.items()}

    def _take(self, material: str, wanted: int) -> list[Drawn]:
        parts = []
        for lot in self.lots[material]:
            nano = min(lot.nano, wanted)
            if nano:
                value = lot.value if nano == lot.nano else rounded(lot.value * nano, lot.nano)
                parts.append(Drawn(lot, nano, value))
                lot.nano, lot.value, wanted = lot.nano - nano, lot.value - value, wanted - nano
        assert not wanted, f"not enough {material}"
        return parts


def nano_of(amount: str) -> int:
    """Read a plain figure into billionths."""
    return int(Decimal(amount) * NANO)


def rounded(part: int, whole: int) -> int:
    """Divide, halves up."""
    return int((Decimal(part) / Decimal(whole)).to_integral_value(rounding=ROUND_HALF_UP))
