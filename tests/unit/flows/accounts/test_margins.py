"""What jobs earned, alerts and cut or buy, read from the tiny shop's book."""

from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.accounts.cutting import CuttingWish, compare_cutting
from stockroom.flows.accounts.margins import margins_of, money_pictures, price_alerts, what_moved
from stockroom.flows.accounts.period import make_accounts
from stockroom.flows.bench import counter, offcuts, tickets
from stockroom.flows.book.opening import change_settings
from stockroom.flows.counts import settle
from stockroom.flows.learning import yields
from stockroom.margins.income import BY
from stockroom.margins.period import period_named
from stockroom.show.formats import Formats
from stockroom.show.tables.money import cut_facts, cut_words
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.quantities import Dimension, Quantity
from stockroom.stock.shop import Shop
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book
from tests import build
from tests.unit.flows.january import january

JAN, FEB = period_named("2026-01"), period_named("2026-02")


def resole(book: Book, day: str, sole: str, size: str = "EU 42") -> None:
    wanted = tickets.Wanted(job="RESOLE", size=build.size(size), chosen={"sole": sole})
    tickets.finish_at_once(book, wanted, build.stamp(day))


def shelf_of(book: Book) -> dict[str, int]:
    with book.reading() as session:
        return ledger.balances(session)


def offered(book: Book, *changes: tuple[str, int], day: date = date(2026, 3, 1)) -> None:
    """Let suppliers ask new prices from a day on."""
    new = dict(changes)
    with book.writing() as session:
        risen = [
            replace(o, price=new[o.material], breaks=(), valid_from=day) for o in build.offers() if o.material in new
        ]
        catalogue.save_offers(session, risen)


@pytest.mark.parametrize("by", list(BY))
def test_every_grouping_holds_the_same_money(open_shop: Book, by: str) -> None:
    january(open_shop)
    resole(open_shop, "2026-01-21", "leather")
    resole(open_shop, "2026-01-22", "rubber", "EU 38")
    found = margins_of(open_shop, JAN, by)
    assert found.whole is not None
    assert sum(group.margin for group in found.groups) == found.whole.margin
    assert {"ticket": 3, "job": 2, "size": 3, "choice": 3, "month": 1}[by] == len(found.groups)
    assert dict(found.apart) == {"waste": -4_950_000}


def test_dearest_materials_come_first_and_one_job_says_it_tells_little(open_shop: Book) -> None:
    change_settings(open_shop, {"margin_floor": "95"})
    january(open_shop)
    resole(open_shop, "2026-01-21", "leather")
    found = margins_of(open_shop, JAN)
    assert [group.name for group in found.groups] == ["RESOLE", "HEELS"]
    assert found.groups[0].lost > found.groups[1].lost > 0
    assert found.groups[0].least is None


def test_month_without_work_is_empty_not_wrong(open_shop: Book) -> None:
    found = margins_of(open_shop, FEB)
    assert (found.groups, found.whole, found.redone) == ((), None, ())
    assert money_pictures(open_shop, date(2026, 2, 28), Formats()) == {}


def test_parts_of_what_moved_add_up(open_shop: Book) -> None:
    january(open_shop)
    resole(open_shop, "2026-02-10", "rubber")
    moved = what_moved(open_shop, FEB, JAN)
    assert moved.before + sum(part.effect for part in moved.parts) == moved.after
    assert moved.before == margins_of(open_shop, JAN).groups[0].margin


def test_suppliers_rise_under_the_floor_names_the_price_that_restores_it(open_shop: Book) -> None:
    """A pair of tips rises from 75 (5400 a gross of 72 pairs) to 625: 992 net leaves 37 %, not 60.

    Restoring: (625 + 3.44 of cement) / 0.4 x 1.21 = 1901.03: 1950 by steps of 50, 1995 by prices that end in .95.
    """
    tickets.finish_at_once(open_shop, tickets.Wanted(job="HEELS"), build.stamp("2026-01-10"))
    offered(open_shop, ("TIP", 45000))
    assert price_alerts(open_shop, date(2026, 2, 28), date(2026, 1, 6)).alerts == ()
    (alert,) = price_alerts(open_shop, date(2026, 3, 1), date(2026, 1, 6)).alerts
    assert (alert.job, alert.price, alert.restoring) == ("HEELS", 1200, 1950)
    assert alert.rises == (("TIP", 550_000),)
    change_settings(open_shop, {"price_step": "1", "price_ending": "0.95"})
    (alert,) = price_alerts(open_shop, date(2026, 3, 1), date(2026, 1, 6)).alerts
    assert alert.restoring == 1995


def test_cut_or_buy_is_worked_out_from_offers_recipe_and_sizes(open_shop: Book) -> None:
    """A bend of 190 dm2 costs 16.40 x 6.5 = 106.60; 8 dm2 a pair at 80 % is 10 dm2: 5.61 against 6.60 for rubber."""
    resole(open_shop, "2026-01-21", "rubber")
    found = compare_cutting(open_shop, "bend", date(2026, 1, 31), CuttingWish(share=Fraction(4, 5)))
    assert (found.sheet.cost, found.learnt.counted, found.share) == (10_660_000, None, Fraction(4, 5))
    (job,) = found.jobs
    assert (job.job, job.recipe_share) == ("RESOLE", Fraction(4, 5))
    (rival,) = job.rivals
    (choice,) = rival.choices
    assert (rival.material, str(choice.size)) == ("SOLE", "EU 42")
    assert (choice.cut, choice.bought) == (round(Fraction(10_660_000, 19)), 660_000)
    assert choice.break_even == Fraction(8 * 10_660_000, 190) / 660_000
    assert job.layout is not None
    assert job.layout.pairs > 0


def test_one_yield_starts_from_the_layout_and_follows_the_counts(open_shop: Book) -> None:
    """A pair draws 10 dm2 and a count finds 2 more gone: 8 of 12 became soles, on 12 / 190 of a bend."""
    resole(open_shop, "2026-01-21", "leather")
    start = compare_cutting(open_shop, "bend", date(2026, 1, 31))
    assert start.jobs[0].layout is not None
    assert start.learnt.share == start.learnt.layout == start.jobs[0].layout.share
    assert start.share == start.learnt.exact
    there = shelf_of(open_shop)["BEND"] - build.nano("2 dm2")
    counted = CountLine(
        material="BEND", amount=Quantity(nano=there, dimension=Dimension.AREA), counted=build.at("2026-01-24")
    )
    settle.take_count(open_shop, Count(key="c", lines=(counted,)), build.stamp("2026-01-24"))
    settle.settle_count(open_shop, "c", build.stamp("2026-01-24"), confirmed=True)
    found = compare_cutting(open_shop, "bend", date(2026, 1, 31))
    assert found.learnt.counted == pytest.approx(8 / 12)
    assert found.learnt.sheets == pytest.approx(12 / 190)
    assert start.learnt.share != found.learnt.share
    stated = compare_cutting(
        open_shop, "bend", date(2026, 1, 31), CuttingWish(share=Fraction(1, 2), plate=(100.0, 200.0), minutes=6)
    )
    assert stated.share == Fraction(1, 2)
    assert stated.sheet.cutting == 0  # the bench costs nothing until its rate is set
    assert stated.jobs[0].layout is not None
    assert stated.jobs[0].layout.pairs == 0
    change_settings(open_shop, {"bench_hour_rate": "30"})
    assert compare_cutting(open_shop, "bend", date(2026, 1, 31), CuttingWish(minutes=6)).sheet.cutting == 300_000


def test_offcuts_kept_raise_the_yield_and_the_ones_lost_lower_it(open_shop: Book) -> None:
    """1.5 of the 2 dm2 a job drew as waste are kept: by the next count 10.5 went; a piece written off went, too."""
    resole(open_shop, "2026-01-21", "leather")
    area = build.amount("1.5 dm2")
    offcuts.keep_offcut(open_shop, "BEND", "OFFCUT", (area, area), build.stamp("2026-01-22"))
    there = shelf_of(open_shop)["BEND"] - build.nano("2 dm2")
    counted = CountLine(
        material="BEND", amount=Quantity(nano=there, dimension=Dimension.AREA), counted=build.at("2026-01-24")
    )
    settle.take_count(open_shop, Count(key="c", lines=(counted,)), build.stamp("2026-01-24"))
    settle.settle_count(open_shop, "c", build.stamp("2026-01-24"), confirmed=True)
    kept = compare_cutting(open_shop, "bend", date(2026, 1, 31)).learnt
    assert kept.counted == pytest.approx(8 / 10.5)
    counter.write_off(open_shop, "OFFCUT", area, build.stamp("2026-01-23"))
    lost = compare_cutting(open_shop, "bend", date(2026, 1, 31)).learnt
    assert lost.counted == pytest.approx(8 / 12)
    assert lost.share < kept.share


def test_a_shops_own_outline_is_laid_out(open_shop: Book) -> None:
    usual = compare_cutting(open_shop, "bend", date(2026, 1, 31))
    yields.set_outline(open_shop, yields.outline_of_measures(285, 105, 0.95), at=build.at("2026-01-08"))
    boxy = compare_cutting(open_shop, "bend", date(2026, 1, 31))
    assert boxy.learnt.layout > usual.learnt.layout + 0.05, "what is nearly a rectangle leaves less between"
    yields.set_outline(open_shop, yields.outline_of_measures(285, 105, 0.5), at=build.at("2026-01-08"), job="RESOLE")
    assert compare_cutting(open_shop, "bend", date(2026, 1, 31)).learnt.layout < boxy.learnt.layout
    assert sorted(yields.outlines(open_shop)) == ["", "RESOLE"]
    for job in ("", "RESOLE"):
        yields.set_outline(open_shop, None, at=build.at("2026-01-08"), job=job)
    assert compare_cutting(open_shop, "bend", date(2026, 1, 31)).learnt == usual.learnt
    assert yields.outlines(open_shop) == {}


def test_cut_or_buy_says_its_figures_and_gives_them_to_programs(open_shop: Book) -> None:
    resole(open_shop, "2026-01-21", "rubber")
    found = compare_cutting(open_shop, "bend", date(2026, 1, 31), CuttingWish(share=Fraction(4, 5)))
    words = cut_words(found, Formats())
    assert "EU 42  €5.61   €6.60         +€0.99               68%" in words
    assert "It is what the layout gives" in words
    facts = cut_facts(found, Shop())
    assert facts["jobs"][0]["against"]["SOLE"][0]["cut"] == "5.61053"
    assert facts["yield"]["share"] == 0.8


@pytest.mark.parametrize(("material", "what"), [("FILLER", "No recipe cuts FILLER by the size of the shoe.")])
def test_what_is_not_cut_is_refused(open_shop: Book, material: str, what: str) -> None:
    with pytest.raises(RefusedError) as caught:
        compare_cutting(open_shop, material, date(2026, 1, 31))
    assert caught.value.what == what


def test_margins_are_those_of_the_workbook(open_shop: Book) -> None:
    documents = january(open_shop)
    tickets.redo_ticket(open_shop, documents.ticket, build.stamp("2026-01-22"))
    found, made = margins_of(open_shop, JAN), make_accounts(open_shop, JAN)
    assert found.groups == made.margins
    assert [group.materials for group in found.redone] == [6 * 110_000 + 21_600]


def test_an_outline_is_read_from_its_points() -> None:
    drawn = "across,along\n# a left sole\n0,0\n80 0\n80;250\n\n0, 250\n"
    facts = yields.outline_facts("", yields.outline_of_points(drawn))
    assert (facts["width"], facts["fill"]) == (round(280 * 80 / 250), 1)
    for wrong in ("", "1,2\n3,4", "0,0\n1,x", "nan,0\n1,1\n2,5", "0,0\n9e9,0\n5,5", "0,0\n1,1\n" * 2000):
        with pytest.raises(UsageError):
            yields.outline_of_points(wrong)
    with pytest.raises(UsageError):
        yields.outline_of_measures(280, 0, 0.7)
