import re
from fractions import Fraction

import pytest

from stockroom.demo.catalogue import MATERIALS, OFFERS, RECIPES, SHELF
from stockroom.demo.recipes import JOBS
from stockroom.demo.seasons import LAST_DAY, SETTINGS
from stockroom.demo.trade import PRICE_LISTS, SUPPLIERS
from stockroom.stock.materials import FAMILIES, Purpose
from stockroom.stock.quantities import thickness_mm
from stockroom.stock.recipes import JobFacts, Recipe, Sizing, needs
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.shop import Shop, with_setting
from stockroom.stock.suppliers import current


def test_the_shelf_covers_every_family_but_no_code_twice() -> None:
    assert len({m.code for m in MATERIALS}) == len(MATERIALS) >= 80
    assert {m.family for m in MATERIALS} == set(FAMILIES)
    assert not set(SHELF.groups) & set(SHELF.materials)


def test_variants_of_a_size_run_leave_no_gap_and_no_overlap() -> None:
    for group, variants in SHELF.groups.items():
        if variants[0].size_from is None:
            continue
        for size in range(36, 48):
            fitting = [v for v in variants if v.fits(shoe_size(f"EU {size}"))]
            assert len(fitting) == 1, (group, size)


def test_thicknesses_hazards_and_prices_are_sound() -> None:
    for material in MATERIALS:
        if material.thickness:
            assert 0 < thickness_mm(material.thickness) < 12
        assert all(re.fullmatch(r"H\d{3}", mark) for mark in material.hazards)
        assert material.flammable == any(mark in material.hazards for mark in ("H222", "H225"))
        assert (material.sell_price is not None) == (material.purpose is not Purpose.BENCH)
        assert material.usual_cost
        assert material.sell_price is None or material.sell_price > material.usual_cost


def test_everything_but_offcuts_can_be_bought_today() -> None:
    offered = {offer.material for offer in current(OFFERS, LAST_DAY)}
    assert {m.code for m in MATERIALS} - offered == {"OFF-BEND"}


def test_some_materials_have_rival_offers() -> None:
    rivals = [m for m in MATERIALS if len({o.supplier for o in OFFERS if o.material == m.code}) > 1]
    assert len(rivals) >= 10


def test_every_supplier_has_raised_prices_and_old_prices_are_kept() -> None:
    for supplier in SUPPLIERS:
        days = sorted({offer.valid_from for offer in OFFERS if offer.supplier == supplier.code})
        assert days == [day for day, _ in PRICE_LISTS[supplier.code]]
        assert len(days) >= 4
    bends = sorted((o for o in OFFERS if o.material == "BEND-OAK"), key=lambda o: o.valid_from)
    assert [o.price for o in bends] == sorted({o.price for o in bends})


def test_usual_costs_are_near_what_suppliers_ask_today() -> None:
    for offer in current(OFFERS, LAST_DAY):
        material = SHELF.materials[offer.material]
        asked = Fraction(offer.cost(1)) / Fraction(material.unit.count(offer.pack.nano))
        assert material.usual_cost is not None
        assert asked == pytest.approx(material.usual_cost, rel=0.35), offer.material


def test_suppliers_are_plainly_invented() -> None:
    for supplier in SUPPLIERS:
        assert supplier.name.endswith("(invented)")
        assert supplier.email.endswith(".example")  # RFC 2606 keeps this ending for examples


def test_every_job_has_a_card_and_some_cards_have_changed() -> None:
    assert {job.code for job in JOBS} == {recipe.job for recipe in RECIPES}
    assert len(JOBS) >= 22
    assert len(RECIPES) > len(JOBS)


@pytest.mark.parametrize("recipe", RECIPES, ids=lambda r: f"{r.job} {r.valid_from}")
def test_a_card_can_be_worked_out_for_every_option_colour_and_size(recipe: Recipe) -> None:
    sized = next(job.sized for job in JOBS if job.code == recipe.job)
    grows = any(line.sizing is not Sizing.FIXED for line in recipe.lines)
    assert sized or not grows
    options: list[dict[str, str]] = [{}]
    options += [{choice: option} for choice, named in recipe.choices.items() for option in named]
    for chosen in options:
        for size in ("EU 36", "EU 41", "EU 47") if sized else ("",):
            work = JobFacts(size=shoe_size(size) if size else None, chosen=chosen | {"colour": "black"})
            assert all(need.nano > 0 for need in needs(recipe, work, SHELF))


def test_the_shops_settings_are_settings() -> None:
    shop = Shop()
    for name, value in SETTINGS.items():
        shop = with_setting(shop, name, value)
    assert shop.name.endswith("(invented)")
