"""Stock that may be worth less than it cost: past its date, idle, or priced under its cost. Suggestions only.

IAS 2.9 and FRS 102 13.4: inventories are carried at the lower of cost and net realisable value (selling price less
costs to complete and sell). The owner and the accountant decide; nothing here is posted.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from stockroom.margins.valuation import Valued
from stockroom.stock.layers import Cause, Entry
from stockroom.stock.materials import Purpose
from stockroom.stock.money import MILLI, half_up
from stockroom.stock.tax import TaxRules


class Why(StrEnum):
    """Why a write-down is suggested."""

    EXPIRED = "past its date"
    IDLE = "not used or sold"
    UNDER_COST = "sells for less than it cost"


@dataclass(frozen=True, slots=True, kw_only=True)
class Policy:
    """How idle stock is judged: the owner's and accountant's figures."""

    idle_days: int = 365
    idle_keeps: Decimal = Decimal(50)  # per cent of cost still expected from idle bench stock
    selling_cost: Decimal = Decimal(0)  # per cent of the net selling price


@dataclass(frozen=True, slots=True, kw_only=True)
class WriteDown:
    """A suggestion. Money in thousandths of the minor unit."""

    valued: Valued
    why: Why
    nano: int  # the amount concerned
    cost: int
    realisable: int
    since: date | None  # past its date since, or last used

    @property
    def suggested(self) -> int:
        """Cost above net realisable value."""
        return max(self.cost - self.realisable, 0)


def write_downs(
    valued: Sequence[Valued], entries: Iterable[Entry], day: date, rules: TaxRules, policy: Policy | None = None
) -> list[WriteDown]:
    """Suggest write-downs at the end of a day, the most money first; a material is named once, for its worst reason.

    Notes
    -----
    What is past its date is found as if the oldest were always used first: what is on hand beyond all arrivals that
    still keep. Materials held to be used in work that itself sells above its cost are not written down for a lower
    price of the material (IAS 2.32, number from memory): bench stock is only judged idle or expired.
    """
    chosen = policy or Policy()
    came = _arrivals(entries, day)
    made = []
    for each in valued:
        if each.nano > 0 and each.value > 0:
            arrivals = came.get(each.material.code, _Came())
            found = (
                _expired(each, arrivals),
                _idle(each, arrivals, day, chosen),
                _under_cost(each, day, rules, chosen),
            )
            made.append(max((w for w in found if w is not None), key=lambda w: w.suggested, default=None))
    kept = [w for w in made if w is not None and w.suggested]
    return sorted(kept, key=lambda w: (-w.suggested, w.valued.material.code))


@dataclass(slots=True)
class _Came:
    """A material's arrivals: the amount that still keeps, the latest date that has passed, the last arrival."""

    keeps: int = 0
    stale: date | None = None
    last: date | None = None


def _arrivals(entries: Iterable[Entry], day: date) -> dict[str, _Came]:
    found: dict[str, _Came] = {}
    for entry in entries:
        if entry.cause is Cause.MOVED and entry.nano > 0 and entry.booked_on <= day:
            came = found.setdefault(entry.move.material, _Came())
            expiry = entry.move.expiry
            if expiry is None or expiry >= day:
                came.keeps += entry.nano
            else:
                came.stale = max(came.stale or expiry, expiry)
            came.last = max(came.last or entry.booked_on, entry.booked_on)
    return found


def _expired(valued: Valued, came: _Came) -> WriteDown | None:
    nano = valued.nano - came.keeps
    if came.stale is None or nano <= 0:
        return None
    cost = half_up(Fraction(valued.value * nano, valued.nano))
    return WriteDown(valued=valued, why=Why.EXPIRED, nano=nano, cost=cost, realisable=0, since=came.stale)


def _idle(valued: Valued, came: _Came, day: date, policy: Policy) -> WriteDown | None:
    last = max(each for each in (valued.last_used, came.last, date.min) if each is not None)
    if last > day - timedelta(days=policy.idle_days):
        return None
    keeps = half_up(valued.value * Fraction(policy.idle_keeps) / 100)
    return WriteDown(
        valued=valued, why=Why.IDLE, nano=valued.nano, cost=valued.value, realisable=keeps, since=valued.last_used
    )


def _under_cost(valued: Valued, day: date, rules: TaxRules, policy: Policy) -> WriteDown | None:
    material = valued.material
    if material.sell_price is None or material.purpose is Purpose.BENCH:
        return None
    net = rules.sale(material.sell_price, material.code, day).net * MILLI
    each = net * (1 - Fraction(policy.selling_cost) / 100)
    worth = half_up(each * valued.nano / material.unit.nano)
    return WriteDown(
        valued=valued, why=Why.UNDER_COST, nano=valued.nano, cost=valued.value, realisable=worth, since=None
    )
