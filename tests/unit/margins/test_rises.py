from datetime import date
from decimal import Decimal
from fractions import Fraction

from stockroom.margins.alerts import alerts
from stockroom.margins.income import JobLine, Work
from stockroom.margins.rises import offered_costs, priced_jobs
from stockroom.stock.quantities import NANO, quantity
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import Offer
from stockroom.stock.tax import tax_rules
from tests.unit.margins.book import JOBS

JUNE = date(2026, 6, 1)


def line(nano: int, *, redo: bool = False) -> JobLine:
    return JobLine(
        ticket="T", job="HEELS", day=JUNE, count=1, redo=redo, size="", chosen="", net=1157, tax=243,
        uses={"HEEL": (nano, 0)},
    )  # fmt: skip


WORK = Work(lines=(line(2 * NANO), line(4 * NANO), line(9 * NANO, redo=True)))


def offer(supplier: str, price: int, day: date, packs: int = 1) -> Offer:
    return Offer(
        supplier=supplier, material="HEEL", supplier_code="H", pack=quantity("10 pair"), price=price, valid_from=day,
        minimum_packs=packs,
    )  # fmt: skip


OFFERS = [offer("north", 2000, date(2025, 1, 1)), offer("north", 4500, JUNE), offer("south", 5000, date(2025, 1, 1))]


def test_jobs_take_the_mean_of_their_paid_tickets() -> None:
    jobs = priced_jobs(WORK, JOBS, tax_rules(Shop(), {}), JUNE)
    assert list(jobs) == ["HEELS"]
    assert jobs["HEELS"].used == {"HEEL": Fraction(3 * NANO)}
    assert jobs["HEELS"].tax_rate == 21
    assert priced_jobs(WORK, JOBS, tax_rules(Shop(prices_include_tax=False), {}), JUNE)["HEELS"].tax_rate == 0


def test_cheapest_offer_in_force_is_the_cost() -> None:
    assert offered_costs(OFFERS, date(2026, 5, 31)) == {"HEEL": Fraction(2_000_000, 20 * NANO)}
    assert offered_costs(OFFERS, JUNE) == {"HEEL": Fraction(4_500_000, 20 * NANO)}


def test_suppliers_rise_becomes_an_alert() -> None:
    jobs = priced_jobs(WORK, JOBS, tax_rules(Shop(), {}), JUNE)
    before, after = offered_costs(OFFERS, date(2026, 5, 31)), offered_costs(OFFERS, JUNE)
    (alert,) = alerts(jobs, before, after, floor=Decimal(60))
    assert alert.rises == (("HEEL", 375_000),)
    assert alert.restoring == 2050  # 6.75 / 0.4 x 1.21 = 20.42, up to the next half
