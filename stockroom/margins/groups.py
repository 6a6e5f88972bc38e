"""Job margins by job, size, choice or month, with how sure a few tickets can make one."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import sqrt

from stockroom.margins.income import JobLine
from stockroom.margins.period import month_of
from stockroom.stock.money import MILLI, half_up

BY: dict[str, Callable[[JobLine], str]] = {
    "ticket": lambda line: line.ticket,
    "job": lambda line: line.job,
    "size": lambda line: line.size or "no size",
    "choice": lambda line: f"{line.job}: {line.chosen or 'as usual'}",
    "month": lambda line: month_of(line.day),
}
_CONFIDENCE = 0.90
_MINUTES = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """Tickets added up. Money in thousandths of the minor unit."""

    name: str
    count: int
    income: int
    materials: int
    fee: int
    post: int
    bench: int
    minutes: int
    least: int | None  # the mean margin of a ticket lies between least and most, with nine chances in ten
    most: int | None
    lost: int  # what materials cost beyond their share at the owner's floor

    @property
    def margin(self) -> int:
        """Income less materials, card fee and post."""
        return self.income - self.materials - self.fee - self.post

    @property
    def after_bench(self) -> int:
        """Margin less bench time at the shop's rate."""
        return self.margin - self.bench

    @property
    def share(self) -> Fraction | None:
        """Margin as a part of income."""
        return Fraction(self.margin, self.income) if self.income else None

    @property
    def materials_share(self) -> Fraction | None:
        """Materials as a part of income."""
        return Fraction(self.materials, self.income) if self.income else None

    @property
    def per_hour(self) -> int | None:
        """Margin for an hour at the bench."""
        return half_up(Fraction(self.margin * _MINUTES, self.minutes)) if self.minutes > 0 else None


def grouped(lines: Iterable[JobLine], by: str, *, floor: Decimal) -> list[Group]:
    """Add tickets up, the most money first.

    Parameters
    ----------
    lines : iterable of JobLine
        Paid work; re-done work is shown apart and belongs elsewhere.
    by : str
        'ticket', 'job', 'size', 'choice' or 'month'.
    floor : Decimal
        Per cent of income that should be left after materials.

    Returns
    -------
    list of Group
        By margin in money, greatest first.

    Raises
    ------
    ValueError
        If there is no such grouping.

    Notes
    -----
    Interval of the mean: Student's t, two-sided 90 %, from the tickets' own spread; none for a single ticket. It
    tells chance in which tickets came; it knows nothing of prices to come.
    """
    if by not in BY:
        raise ValueError(f"no grouping by {by}")
    parts: dict[str, list[JobLine]] = {}
    for line in lines:
        parts.setdefault(BY[by](line), []).append(line)
    groups = [_group(name, part, floor) for name, part in parts.items()]
    return sorted(groups, key=lambda group: (-group.margin, group.name))


def by_money_lost(groups: Iterable[Group]) -> list[Group]:
    """Rank groups by the money their materials cost beyond the floor's share, then by materials' share."""
    return sorted(groups, key=lambda g: (-g.lost, -(g.materials_share or 0), g.name))


def _group(name: str, lines: Sequence[JobLine], floor: Decimal) -> Group:
    income = sum(line.net for line in lines) * MILLI
    materials = sum(line.materials for line in lines)
    allowed = half_up(income * (100 - Fraction(floor)) / 100)
    least, most = mean_interval([line.margin for line in lines if line.count > 0])
    return Group(
        name=name,
        count=sum(line.count for line in lines),
        income=income,
        materials=materials,
        fee=sum(line.fee for line in lines),
        post=sum(line.post for line in lines),
        bench=sum(line.bench for line in lines),
        minutes=sum(line.minutes for line in lines),
        least=least,
        most=most,
        lost=max(materials - allowed, 0),
    )


def mean_interval(values: Sequence[int]) -> tuple[int | None, int | None]:
    """Give the 90 % interval of a mean, or nothing from fewer than two values.

    Notes
    -----
    mean +/- t(0.95, n - 1) s / sqrt(n), s the sample standard deviation.
    """
    n = len(values)
    if n < 2:  # noqa: PLR2004 -- one ticket says nothing of the next
        return None, None
    from scipy.special import stdtrit  # noqa: PLC0415 -- slow import

    mean = sum(values) / n
    spread = sqrt(sum((value - mean) ** 2 for value in values) / (n - 1))
    reach = float(stdtrit(n - 1, (1 + _CONFIDENCE) / 2)) * spread / sqrt(n)
    return round(mean - reach), round(mean + reach)
