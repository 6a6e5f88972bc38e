"""Counts: what was found on the shelf, when, by whom, and how sure of it."""

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from stockroom.errors import check_text
from stockroom.phrases import phrase
from stockroom.stock.bounds import check_day, check_nano
from stockroom.stock.quantities import Quantity


class CountReason(StrEnum):
    """Why book and shelf differ."""

    SPOILT = "spoilt"
    MEASURING = "measuring"
    UNRECORDED = "work not recorded"
    RECIPE = "recipe wrong"
    SHORT = "short delivery"
    NOT_ENTERED = "delivery never entered"
    GIFT = "gift"
    LOSS = "loss"
    OTHER = "other"


@dataclass(frozen=True, slots=True, kw_only=True)
class CountLine:
    """One bin counted; compared with the book at its own time."""

    material: str
    amount: Quantity  # in the material's dimension
    counted: datetime
    error: Quantity | None = None  # one standard error of the measuring
    aid: str = ""
    who: str = ""
    reason: CountReason = CountReason.OTHER
    site: str = "main"
    note: str = ""

    def __post_init__(self) -> None:
        for text in (self.aid, self.who, self.site, self.note):
            check_text(text)
        check_nano(self.amount.nano, lambda: phrase("%(material)s: what was counted", material=self.material))
        check_day(self.counted, lambda: phrase("%(material)s: the count", material=self.material))


@dataclass(frozen=True, slots=True, kw_only=True)
class Count:
    """A sheet of counted bins; a blank line is simply not here."""

    key: str  # the sheet's own mark: entering it twice changes nothing
    lines: tuple[CountLine, ...]
    note: str = ""

    def __post_init__(self) -> None:
        for text in (self.key, self.note):
            check_text(text)
