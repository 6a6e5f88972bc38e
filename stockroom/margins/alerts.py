"""Jobs that a supplier's rise brings under the owner's minimum margin, and the price that would restore it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from math import ceil

from stockroom.margins.income import PeriodWork
from stockroom.stock.landing import LandingTerms
from stockroom.stock.money import MILLI
from stockroom.stock.recipes import Job
from stockroom.stock.suppliers import Offer, current
from stockroom.stock.tax import TaxRules


@dataclass(frozen=True, slots=True, kw_only=True)
class Alert:
    """A job below the minimum margin. Money in minor units; shares of net income."""

    job: str
    price: int  # as charged today
    share_before: Fraction  # left after materials, before the rise
    share_after: Fraction
    rises: tuple[tuple[str, int], ...]  # material and what it adds to a job (thousandths), dearest first
    restoring: int  # the price, as charged, that gives the floor again


@dataclass(frozen=True, slots=True, kw_only=True)
class Priced:
    """A job as it is sold: price as charged, tax in it, and mean amounts used a ticket (nano)."""

    price: int
    tax_rate: Decimal
    used: Mapping[str, Fraction]


def alerts(
    jobs: Mapping[str, Priced],
    before: Mapping[str, Fraction],
    after: Mapping[str, Fraction],
    *,
    floor: Decimal,
    step: int = 50,
    ending: int = 0,
) -> list[Alert]:
    """Find the jobs that were on or over the floor and are under it at the new costs.

    Parameters
    ----------
    jobs : mapping of str to Priced
        By code.
    before, after : mapping of str to Fraction
        Cost of a billionth of the base unit of each material, in thousandths of the minor unit; a material that is
        missing costs nothing.
    floor : Decimal
        Per cent of net income that should be left after materials.
    step, ending : int
        How the shop prices, in minor units: 50 and 0 for ….00 and ….50; 100 and 95 for ….95.

    Returns
    -------
    list of Alert
        The worst first.
    """
    found = []
    for code, job in jobs.items():
        net = Fraction(job.price * MILLI) / (1 + Fraction(job.tax_rate) / 100)
        was, now = (1 - _cost(job, costs) / net if net else Fraction(0) for costs in (before, after))
        if now < Fraction(floor) / 100 <= was:
            found.append(_alert(code, job, (was, now), (before, after), shop_price(
                restoring_price(_cost(job, after), job.tax_rate, floor=floor), step=step, ending=ending)))  # fmt: skip
    return sorted(found, key=lambda alert: (alert.share_after, alert.job))


def restoring_price(materials: Fraction, tax_rate: Decimal, *, floor: Decimal) -> Fraction:
    """Work out the price as charged, in minor units, that leaves the floor after materials.

    Notes
    -----
    net = materials / (1 - floor); price = net x (1 + tax rate).
    """
    left = 1 - Fraction(floor) / 100
    if left <= 0:
        raise ValueError("a floor of 100 per cent or more leaves nothing for materials")
    return materials / MILLI / left * (1 + Fraction(tax_rate) / 100)


def shop_price(exact: Fraction, *, step: int = 50, ending: int = 0) -> int:
    """Round a price up to the next one the shop would write on its list.

    Examples
    --------
    >>> from fractions import Fraction
    >>> shop_price(Fraction(2312)), shop_price(Fraction(2312), step=100, ending=95)
    (2350, 2395)
    """
    return ceil((exact - ending) / step) * step + ending


def _cost(job: Priced, costs: Mapping[str, Fraction]) -> Fraction:
    return sum((amount * costs.get(material, Fraction(0)) for material, amount in job.used.items()), Fraction(0))


def _alert(
    code: str,
    job: Priced,
    shares: tuple[Fraction, Fraction],
    costs: tuple[Mapping[str, Fraction], Mapping[str, Fraction]],
    restoring: int,
) -> Alert:
    rises = {
        m: amount * (costs[1].get(m, Fraction(0)) - costs[0].get(m, Fraction(0))) for m, amount in job.used.items()
    }
    dear = sorted(((m, round(rise)) for m, rise in rises.items() if rise > 0), key=lambda pair: -pair[1])
    return Alert(
        job=code,
        price=job.price,
        share_before=shares[0],
        share_after=shares[1],
        rises=tuple(dear),
        restoring=restoring,
    )


def priced_jobs(work: PeriodWork, jobs: Mapping[str, Job], rules: TaxRules, day: date) -> dict[str, Priced]:
    """Give each job on the price list the mean amounts its finished tickets used; jobs never done are left out."""
    amounts: dict[str, dict[str, int]] = {}
    counts: dict[str, int] = {}
    for line in work.lines:
        if not line.redo:
            mine = amounts.setdefault(line.job, {})
            counts[line.job] = counts.get(line.job, 0) + line.count
            for material, (nano, _) in line.uses.items():
                mine[material] = mine.get(material, 0) + nano
    return {
        code: Priced(price=job.price, tax_rate=_in_price(rules, code, day), used=_means(amounts[code], counts[code]))
        for code, job in jobs.items()
        if job.active and job.price and counts.get(code, 0) > 0
    }


def offered_costs(offers: Iterable[Offer], day: date, terms: LandingTerms | None = None) -> dict[str, Fraction]:
    """Give the cheapest cost of each material among the offers in force on a day.

    Returns
    -------
    dict of str to Fraction
        Thousandths of the minor unit for a billionth of the base unit, at the offer's minimum packs; without tax, but
        for what the shop can't take back.
    """
    found: dict[str, Fraction] = {}
    for offer in current(offers, day):
        packs = offer.fewest_packs
        each = Fraction(offer.cost(packs) * MILLI, packs * offer.pack.nano) * (terms.borne(offer, day) if terms else 1)
        found[offer.material] = min(each, found.get(offer.material, each))
    return found


def _means(amounts: Mapping[str, int], count: int) -> dict[str, Fraction]:
    return {material: Fraction(nano, count) for material, nano in amounts.items()}


def _in_price(rules: TaxRules, code: str, day: date) -> Decimal:
    """Give the tax rate that is in the price as charged."""
    inside = rules.registered and rules.prices_include_tax
    return rules.rate(code, day) if inside else Decimal(0)
