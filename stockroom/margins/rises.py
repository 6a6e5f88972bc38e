"""From the book to price alerts: what jobs used of late, at the offers of before and of now."""

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from fractions import Fraction

from stockroom.margins.alerts import Priced
from stockroom.margins.income import Work
from stockroom.stock.money import MILLI
from stockroom.stock.recipes import Job
from stockroom.stock.suppliers import Offer, current
from stockroom.stock.tax import TaxRules


def priced_jobs(work: Work, jobs: Mapping[str, Job], rules: TaxRules, day: date) -> dict[str, Priced]:
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


def offered_costs(offers: Iterable[Offer], day: date) -> dict[str, Fraction]:
    """Give the cheapest cost of each material among the offers in force on a day.

    Returns
    -------
    dict of str to Fraction
        Thousandths of the minor unit for a billionth of the base unit, ex tax, at the offer's minimum packs.
    """
    found: dict[str, Fraction] = {}
    for offer in current(offers, day):
        packs = max(offer.minimum_packs, 1)
        each = Fraction(offer.cost(packs) * MILLI, packs * offer.pack.nano)
        found[offer.material] = min(each, found.get(offer.material, each))
    return found


def _means(amounts: Mapping[str, int], count: int) -> dict[str, Fraction]:
    return {material: Fraction(nano, count) for material, nano in amounts.items()}


def _in_price(rules: TaxRules, code: str, day: date) -> Decimal:
    """Give the tax rate that is in the price as charged."""
    inside = rules.registered and rules.prices_include_tax
    return rules.rate(code, day) if inside else Decimal(0)
