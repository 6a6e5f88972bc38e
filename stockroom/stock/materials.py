"""Materials: what lies on the shelf and how it is measured, sold and handled."""

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from stockroom.errors import UnitsError
from stockroom.phrases import Named, phrase
from stockroom.stock.quantities import Bridge, Dimension, Quantity, Unit, plain
from stockroom.stock.shoe_sizes import ShoeSize


class Family(Named):
    """What kind of goods a material is."""

    SOLING_SHEET = "soling sheet"
    PRE_CUT_SOLES = "pre-cut soles"
    TOP_PIECES = "top pieces"
    HEEL_BLOCKS = "heel blocks"
    FILLER = "filler"
    CEMENT = "cement"
    THREAD = "thread"
    FIXINGS = "fixings"
    FINISH = "finish", "edge finish"  # 'finish' is also what is done with a ticket
    CARE = "care"
    LACES = "laces"
    ABRASIVES = "abrasives"
    PACKAGING = "packaging"
    UPPERS = "uppers"
    OFFCUTS = "offcuts"
    OTHER = "other"


FAMILIES = tuple(family.value for family in Family)


class Purpose(StrEnum):
    """Where a material goes."""

    BENCH = "bench"
    COUNTER = "counter"
    BOTH = "both"


@dataclass(frozen=True, slots=True, kw_only=True)
class Material:
    """One thing on the shelf; its code and dimension never change once it is used."""

    code: str
    name: str
    family: str
    unit: Unit  # the unit it is shown in; amounts are kept in its dimension's base unit
    purpose: Purpose = Purpose.BENCH
    group: str = ""  # code shared by its variants in size or colour
    size_from: ShoeSize | None = None
    size_to: ShoeSize | None = None
    colour: str = ""
    thickness: str = ""  # as stated: '4 mm', '9 iron', '5 oz'
    bridge: Bridge | None = None
    sell_price: int | None = None  # minor units per shown unit, as on the price tag
    tax_rate: str = ""  # per cent, such as '21'; empty for the shop's usual rate
    shelf_life_days: int | None = None
    hazards: tuple[str, ...] = ()  # GHS H-codes
    flammable: bool = False
    place: str = ""
    note: str = ""
    other_words: str = ""  # what else people call it, to find it by: 'glue' for a cement
    least_offcut: str = ""  # the smallest piece of it worth keeping: '15 x 10 cm'
    usual_cost: int | None = None  # minor units, for stock of unknown cost
    usual_cost_for: int = 1  # so many shown units together: a tack costs less than the smallest coin
    weekly: str = ""  # how many shown units are usually sold in a week, as the owner says; empty: not said
    active: bool = True
    alike: str = ""  # a material whose sales it is expected to have, while it has few of its own
    replaces: str = ""  # the material it stands in for: that one's past is its own
    replaces_at: Bridge | None = None  # so much of it for so much of that one
    extra: dict[str, str] = field(default_factory=dict, compare=False)  # facts for counting aids: tare, density…

    @property
    def dimension(self) -> Dimension:
        """What it is measured in."""
        return self.unit.dimension

    @property
    def usual_rate(self) -> Fraction | None:
        """What a billionth of the base unit usually costs, in minor units."""
        if self.usual_cost is None:
            return None
        return Fraction(self.usual_cost, self.unit.nano * self.usual_cost_for)

    def to_base(self, amount: Quantity) -> Quantity:
        """Bring an amount into the material's own dimension, over its bridge where needed.

        A dozen, or a gross, of a material that is kept in pairs is so many pairs.

        Raises
        ------
        UnitsError
            If the amount is of another dimension and no bridge leads over.
        """
        if amount.dozens:  # the trade's dozen of what goes in pairs is twelve pairs; asked once, then plain
            amount = Quantity(nano=amount.nano * (2 if self.unit.name == "pair" else 1), dimension=amount.dimension)
        if amount.dimension is self.dimension:
            return amount
        carried = self.bridge.carry(amount, self.dimension) if self.bridge else None
        if carried is None:
            raise UnitsError(
                phrase(
                    "%(material)s is kept in %(unit)s (%(dimension)s), not in %(asked)s: %(amount)s.",
                    material=self.code,
                    unit=self.unit.name,
                    dimension=self.dimension,
                    asked=amount.dimension,
                    amount=amount,
                ),
                fix=phrase(
                    "Give the amount as %(dimension)s, or state a conversion such as '1 %(unit)s = … %(other)s' on "
                    "the material.",
                    dimension=self.dimension,
                    unit=self.unit.name,
                    other=amount.dimension.base.name,
                ),
            )
        return carried

    @property
    def price_elsewhere(self) -> tuple[Unit, Fraction] | None:
        """Its shelf price in the other unit it is measured in, such as a jar's by the millilitre; in minor units."""
        if self.sell_price is None or self.bridge is None:
            return None
        mine, other = self.bridge.left, self.bridge.right
        if mine.dimension is not self.dimension:
            mine, other = other, mine
        unit = other.dimension.base
        return unit, Fraction(self.sell_price * mine.nano * unit.nano, self.unit.nano * other.nano)

    def in_place_of(self, before: "Material", amount: Quantity) -> Quantity:
        """Say how much of it does for an amount of the material it replaces.

        Raises
        ------
        UnitsError
            If nothing says how much of one does for how much of the other.
        """
        if self.replaces_at is None:
            return self.to_base(before.to_base(amount))
        new, old = self.to_base(self.replaces_at.left), before.to_base(self.replaces_at.right)
        return Quantity(
            nano=round(Fraction(before.to_base(amount).nano) * new.nano / old.nano), dimension=new.dimension
        )

    def counted(self, nano: int) -> str:
        """Write an amount of it in plain figures, as it is counted or measured at the bench: '3 pairs', '40 ml'."""
        unit = self.unit if self.dimension is Dimension.COUNT else self.dimension.base
        much = plain(unit.count(nano))
        return f"{much} {unit.name if much in ('1', '-1') else unit.many}"

    def fits(self, size: ShoeSize) -> bool:
        """Say whether this variant serves a shoe size (same system only)."""
        low, high = self.size_from, self.size_to or self.size_from
        if low is None or high is None or low.system is not size.system:
            return False
        return low.number <= size.number <= high.number
