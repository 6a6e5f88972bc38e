from datetime import date
from decimal import Decimal
from fractions import Fraction

import pytest

from stockroom.margins.alerts import Priced, alerts, offered_costs, priced_jobs, restoring_price, shop_price
from stockroom.margins.income import JobLine, PeriodWork
from stockroom.stock.quantities import NANO, quantity
from stockroom.stock.shop import Shop
from stockroom.stock.suppliers import Offer
from stockroom.stock.tax import tax_rules
from tests.unit.margins.book import JOBS

JOB = Priced(price=2420, tax_rate=Decimal(21), used={"X": Fraction(10), "Y": Fraction(1)})
BEFORE = {"X": Fraction(70_000), "Y": Fraction(50_000)}  # 7.50 of 20.00 net: 62.5 % left


def test_rise_under_the_floor_is_told_with_the_price_that_restores_it() -> None:
    (alert,) = alerts({"SOLE": JOB}, BEFORE, BEFORE | {"X": Fraction(85_000)}, floor=Decimal(60))
    assert (alert.share_before, alert.share_after) == (Fraction(5, 8), Fraction(11, 20))
    assert alert.rises == (("X", 150_000),)
    assert alert.restoring == 2750  # 9.00 / 0.4 x 1.21 = 27.225, up to the next half


def test_restoring_price_gives_the_floor_again() -> None:
    dear = BEFORE | {"X": Fraction(85_000)}
    (alert,) = alerts({"SOLE": JOB}, BEFORE, dear, floor=Decimal(60), step=1)
    again = Priced(price=alert.restoring, tax_rate=JOB.tax_rate, used=JOB.used)
    assert not alerts({"SOLE": again}, BEFORE, dear, floor=Decimal(60))


def test_job_that_was_under_already_or_stays_over_is_not_news() -> None:
    dear = BEFORE | {"X": Fraction(75_000)}
    assert not alerts({"SOLE": JOB}, BEFORE, dear, floor=Decimal(60))
    assert not alerts({"SOLE": JOB}, BEFORE, dear, floor=Decimal(70))


@pytest.mark.parametrize(("step", "ending", "price"), [(50, 0, 2350), (100, 0, 2400), (100, 95, 2395), (1, 0, 2312)])
def test_prices_are_rounded_up_as_shops_write_them(step: int, ending: int, price: int) -> None:
    assert shop_price(Fraction(23115, 10), step=step, ending=ending) == price


def test_price_that_fits_stays() -> None:
    assert shop_price(Fraction(2395), step=100, ending=95) == 2395


def test_floor_of_everything_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="leaves nothing"):
        restoring_price(Fraction(1), Decimal(21), floor=Decimal(100))


JUNE = date(2026, 6, 1)


def line(nano: int, *, redo: bool = False) -> JobLine:
    return JobLine(
        ticket="T", job="HEELS", day=JUNE, count=1, redo=redo, size="", chosen="", net=1157, tax=243,
        uses={"HEEL": (nano, 0)},
    )  # fmt: skip


WORK = PeriodWork(lines=(line(2 * NANO), line(4 * NANO), line(9 * NANO, redo=True)))


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
