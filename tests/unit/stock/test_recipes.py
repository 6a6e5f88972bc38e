from dataclasses import replace
from datetime import date
from fractions import Fraction

import pytest

from stockroom.errors import UnitsError, UnknownError, UsageError
from stockroom.stock.materials import Material
from stockroom.stock.recipes import JobFacts, Per, Recipe, Sizing, in_force, needs, options_taken
from tests import build

CARDS = {recipe.job: recipe for recipe in build.recipes()}


def asked(recipe: Recipe, size: str = "EU 42", shoes: int = 2, **chosen: str) -> dict[str, tuple[str, int]]:
    work = JobFacts(shoes=shoes, size=build.size(size) if size else None, chosen=chosen)
    return {need.line: (need.material, need.nano) for need in needs(recipe, work, build.shelf())}


def test_a_pair_at_the_reference_size_asks_for_what_the_card_says() -> None:
    assert asked(CARDS["RESOLE"]) == {
        "leather sole": ("BEND", build.nano("10 dm2")),  # 8 dm2 and a quarter of waste
        "filler": ("FILLER", build.nano("30 g")),
        "cement": ("CEMENT", build.nano("48 ml")),  # 12 ml, two coats, two shoes
        "seam": ("THREAD", build.nano("1 m")),  # 3 m on one job in three
    }


def test_amounts_grow_with_length_or_area_as_the_card_says() -> None:
    larger = asked(CARDS["RESOLE"], "EU 46.2")  # a tenth longer
    assert larger["cement"] == ("CEMENT", build.nano("52.8 ml"))
    assert larger["leather sole"] == ("BEND", build.nano("12.1 dm2"))
    assert larger["filler"] == ("FILLER", build.nano("36.3 g"))
    assert larger["seam"] == ("THREAD", build.nano("1 m"))


def test_a_size_in_another_stated_system_scales_by_its_own_steps() -> None:
    assert asked(CARDS["RESOLE"], "UK 8")["cement"] == ("CEMENT", build.nano("48 ml"))


def test_a_single_shoe_asks_for_half_a_pair() -> None:
    single = asked(CARDS["RESOLE"], shoes=1)
    assert single["filler"] == ("FILLER", build.nano("15 g"))
    assert single["cement"] == ("CEMENT", build.nano("24 ml"))


def test_an_amount_per_job_does_not_grow_with_shoes() -> None:
    card = build.recipe("X", build.line("bag", "TIP", "1 piece", per=Per.JOB))
    assert asked(card, shoes=1) == asked(card, shoes=6) == {"bag": ("TIP", build.nano("1 piece"))}


def test_a_group_by_size_gives_the_variant_that_fits() -> None:
    assert asked(CARDS["RESOLE"], "EU 39", sole="rubber")["rubber sole"] == ("SOLE-S", build.nano("1 pair"))
    assert asked(CARDS["RESOLE"], "EU 40", sole="rubber")["rubber sole"] == ("SOLE-L", build.nano("1 pair"))


def test_a_size_between_the_variants_is_refused_not_rounded() -> None:
    with pytest.raises(UnknownError) as caught:
        asked(CARDS["RESOLE"], "EU 39.5", sole="rubber")
    assert caught.value.what == "No variant of SOLE fits EU 39.5."
    assert caught.value.fix == (
        "There is: SOLE-S (EU 35–39), SOLE-L (EU 40–46). A half size goes to the variant whose sizes include it: say "
        "so on that material, with 'size from' or 'size to' EU 39.5."
    )


def test_a_group_by_size_in_another_system_is_refused() -> None:
    with pytest.raises(UnknownError, match=r"^No variant of SOLE fits UK 9\.$"):
        asked(CARDS["RESOLE"], "UK 9", sole="rubber")


def test_a_group_by_size_needs_the_size() -> None:
    with pytest.raises(UsageError) as caught:
        asked(build.recipe("X", build.line("sole", "SOLE", "1 pair")), "")
    assert (caught.value.what, caught.value.fix) == (
        "SOLE comes in sizes; the ticket has none.",
        "Add it, such as --size 'EU 42'.",
    )


def test_a_group_by_colour_is_never_guessed() -> None:
    assert asked(CARDS["LACES"], colour="brown") == {"laces": ("LACE-BROWN", build.nano("1 pair"))}
    with pytest.raises(UsageError) as caught:
        asked(CARDS["LACES"])
    assert caught.value.what == "Several variants of LACE fit: LACE-BLACK (black), LACE-BROWN (brown)."
    assert caught.value.fix == "Say which, such as --with colour=black."
    with pytest.raises(UnknownError, match=r"^No variant of LACE fits EU 42 green\.$"):
        asked(CARDS["LACES"], colour="green")


def test_a_choice_left_open_takes_the_first_option() -> None:
    assert "glue" in asked(CARDS["HEELS"])
    assert "thread" in asked(CARDS["HEELS"], hold="sewn")
    assert options_taken(CARDS["HEELS"], {}) == {"hold": "glued"}


def test_an_option_the_card_lacks_is_refused_with_those_it_has() -> None:
    with pytest.raises(UsageError) as caught:
        asked(CARDS["RESOLE"], sole="crepe")
    assert (caught.value.what, caught.value.fix) == (
        "'crepe' is not an option for sole in RESOLE.",
        "Options: leather, rubber.",
    )


def test_a_card_for_an_unknown_material_is_refused() -> None:
    with pytest.raises(UnknownError, match=r"^No material or group has the code 'FELT'\.$"):
        asked(build.recipe("X", build.line("felt", "FELT", "1 piece")))


def test_a_sized_amount_needs_the_size() -> None:
    with pytest.raises(UsageError, match=r"^RESOLE needs the shoe size\.$"):
        asked(CARDS["RESOLE"], "")


def test_an_amount_in_another_dimension_goes_over_the_materials_bridge() -> None:
    card = build.recipe("X", build.line("cement", "CEMENT", "43 g"))
    assert asked(card) == {"cement": ("CEMENT", build.nano("50 ml"))}


def test_an_amount_no_bridge_leads_to_is_refused_by_name() -> None:
    with pytest.raises(UnitsError) as caught:
        asked(build.recipe("X", build.line("filler", "FILLER", "2 m")))
    assert caught.value.what == "FILLER is kept in kg (mass), not in length: 2 m."
    assert caught.value.fix == "Give the amount as mass, or state a conversion such as '1 kg = … m' on the material."


def test_an_amount_is_rounded_once_a_line() -> None:
    card = build.recipe("X", build.line("seam", "THREAD", "1 m", chance=Fraction(1, 3), waste=Fraction(50)))
    assert asked(card)["seam"][1] == 500_000_000  # a third of one and a half, not three roundings


def test_the_newest_version_valid_on_the_day_counts_and_of_one_day_the_last_entered() -> None:
    old, new = CARDS["HEELS"], replace(CARDS["HEELS"], valid_from=date(2026, 3, 1))
    twice = replace(new, source="mended")
    versions = [new, old, twice]
    assert in_force(versions, date(2026, 2, 28)) is old
    assert in_force(versions, date(2026, 3, 1)) is twice
    assert in_force(versions, date(2025, 12, 31)) is None


def test_sizing_is_named_as_in_the_files() -> None:
    assert [str(s) for s in Sizing] == ["fixed", "length", "area"]


def test_a_variant_fits_from_its_first_to_its_last_size() -> None:
    small: Material = build.material("S", size_from="EU 36", size_to="EU 38")
    only: Material = build.material("O", size_from="EU 40")
    assert [small.fits(build.size(f"EU {n}")) for n in (35, 36, 38, 39)] == [False, True, True, False]
    assert [only.fits(build.size(f"EU {n}")) for n in (39, 40, 41)] == [False, True, False]
    assert not build.material("N").fits(build.size("EU 40"))


def test_an_option_that_uses_nothing_asks_for_nothing() -> None:
    card = build.recipe(
        "HEEL", build.line("blocks", "TIP", "1 pair", choice="heel", option="new"),
        replace(build.line("old", "TIP", "0 pair", choice="heel", option="kept"), material=""),
    )  # fmt: skip
    assert asked(card, heel="kept") == {}
    assert asked(card) == {"blocks": ("TIP", build.nano("1 pair"))}


def test_a_group_takes_a_size_that_the_recipe_states_in_its_system() -> None:
    card = build.recipe("SOLES", build.line("sole", "SOLE", "1 pair"), reference="EU 42 = UK 8")
    assert asked(card, "UK 8") == {"sole": ("SOLE-L", build.nano("1 pair"))}
    with pytest.raises(UnknownError, match="No variant of SOLE fits UK 9"):  # never converted
        asked(card, "UK 9")
