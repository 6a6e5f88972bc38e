"""Machines: what is to be done to them now and then, and whether it is due."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from fractions import Fraction

MINUTES = 60  # of an hour


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """What is to be done to a machine every so many hours that it ran, or days, whichever is over first."""

    code: str
    machine: str  # as recipes name it
    name: str  # what is done
    every_hours: int | None = None
    every_days: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ServiceState:
    """Where a service stands."""

    service: Service
    since: datetime  # when it was done last, or counted from
    done_before: bool
    minutes: Fraction  # the machine ran since
    now: datetime
    runs: bool  # whether any recipe says how long the machine runs

    @property
    def days(self) -> int:
        """Whole days since."""
        return (self.now.date() - self.since.date()).days

    @property
    def used(self) -> Fraction:
        """Say how much of the interval is used up, in parts of it; 1 and more is due."""
        hours, days = self.service.every_hours, self.service.every_days
        return max(
            self.minutes / (MINUTES * hours) if hours else Fraction(0),
            Fraction(self.days, days) if days else Fraction(0),
        )

    @property
    def due(self) -> bool:
        """Say whether it is due."""
        return self.used >= 1

    @property
    def due_on(self) -> datetime | None:
        """Give the day by which its days are over; None where it goes by hours alone."""
        return self.since + timedelta(days=self.service.every_days) if self.service.every_days else None
