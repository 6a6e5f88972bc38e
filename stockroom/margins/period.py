"""A stretch of accounting days."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """From a first to a last accounting day, both included."""

    first: date
    last: date
    closed: bool = False

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError(f"a period from {self.first} can't end on {self.last}")

    def __contains__(self, day: date) -> bool:
        return self.first <= day <= self.last

    def __str__(self) -> str:
        return f"{self.first} to {self.last}"


def month_of(day: date) -> str:
    """Name a day's month, such as '2026-11'."""
    return f"{day.year:04d}-{day.month:02d}"
