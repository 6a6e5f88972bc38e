"""The price list of the post: what a parcel costs, and what it is packed in."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from stockroom.stock.quantities import Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class Postage:
    """A kind of parcel."""

    code: str
    name: str
    cost: int  # minor units, what the post costs the shop
    packaging: Mapping[str, Quantity] = field(default_factory=dict)  # by material
