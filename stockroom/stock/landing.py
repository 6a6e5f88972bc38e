"""What carriage and duties are spread over a delivery's lines by."""

from collections.abc import Mapping, Sequence

from stockroom.stock.materials import Material
from stockroom.stock.orders import DeliveryLine
from stockroom.stock.quantities import Dimension


def line_weights(lines: Sequence[DeliveryLine], materials: Mapping[str, Material], *, by: str) -> list[int] | None:
    """Weigh a delivery's lines, in billionths of a gram; None where cost decides.

    By weight only where every line's weight is known, from its amount or over its material's bridge: a weight that
    is guessed for one line would shift the cost of all others.
    """
    if by != "weight":
        return None
    weighed = [_weight(line, materials[line.material]) for line in lines]
    known = [weight for weight in weighed if weight is not None]
    return known if len(known) == len(weighed) and any(known) else None


def _weight(line: DeliveryLine, material: Material) -> int | None:
    amount = material.to_base(line.amount)
    if amount.dimension is Dimension.MASS:
        return amount.nano
    carried = material.bridge.carry(amount, Dimension.MASS) if material.bridge else None
    return carried.nano if carried else None
