"""What a comparison of cutting and buying found: nouns only."""

from dataclasses import dataclass
from fractions import Fraction

from stockroom.margins.cutting import Choice, Sheet, Yield
from stockroom.margins.sole_layout import Layout
from stockroom.stock.materials import Material
from stockroom.stock.shoe_sizes import ShoeSize


@dataclass(frozen=True, slots=True, kw_only=True)
class Rival:
    """Pre-cut parts that could be bought for a job instead of being cut, size by size."""

    material: str  # a code or a group's
    choices: tuple[Choice, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cutting:
    """A job that is cut from the sheet."""

    job: str
    line: str
    recipe_share: Fraction  # yield the recipe reckons with
    rivals: tuple[Rival, ...]
    layout: Layout | None
    layout_size: ShoeSize | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CutOrBuy:
    """A sheet material, what it yields, and every job cut from it."""

    material: Material
    sheet: Sheet
    pack: str
    measured: Yield | None
    share: Fraction | None  # the yield asked for or measured; None: each job by its recipe's
    jobs: tuple[Cutting, ...]
