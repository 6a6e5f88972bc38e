"""From an empty machine to the first order list by hand: taps and typed fields counted, each page open to everybody."""

from functools import partial
from pathlib import Path
from typing import Any

import pytest

from stockroom.flows.book.check import check
from stockroom.flows.book.opening import open_book
from tests.end_to_end.web.bench import PHONE
from tests.end_to_end.web.newcomer import (
    Newcomer,
    gone_on,
    nothing,
    recipes_are_typed,
    shelf_is_counted,
    shop_is_begun,
    table_is_typed,
)

UPRIGHT = (768, 1024)
AIM = 45 * 60
WORDS = {
    "en": {"begun": "The starter shop is in your book.", "gone": "Gusset elastic", "opening": "entered as opening stock"},
    "de": {"begun": "Die Musterwerkstatt ist in Ihrem Buch.", "gone": "Gummizug", "opening": "als Anfangsbestand gebucht"},
}  # fmt: skip


@pytest.mark.parametrize(
    ("size", "tongue"),
    [
        pytest.param(UPRIGHT, "en", id="tablet"),
        pytest.param(PHONE, "de", id="phone in German", marks=pytest.mark.slow),
    ],
)
def test_a_newcomer_has_the_first_order_list_within_the_hour(
    chromium: Any, axe: str, tmp_path: Path, size: tuple[int, int], tongue: str
) -> None:
    with nothing(tmp_path) as base:
        hands, said = Newcomer(chromium, base, axe, size), WORDS[tongue]
        hands.open("/")
        if hands.driver.execute_script("return document.documentElement.lang") != tongue:
            hands.tap(f"button[value={tongue}]")
            hands.find(f"html[lang={tongue}] #name")
        hands.looks(tongue)
        hands.fill("name", "Example")
        hands.fill("country", "IE" if tongue == "en" else "DE")
        hands.tap("button.main")
        hands.says(said["begun"])
        hands.looks(tongue)
        hands.tap(".actions a.main")
        the_starter_is_checked(hands, tongue)
        hands.says(said["gone"])
        step_is_saved(hands)
        shelf_is_counted(hands, partial(hands.looks, tongue))
        hands.says(said["opening"])
        hands.looks(tongue)
        assert len(hands.finds(".filled tbody tr")) > 10, "the first order list"
        print(hands.pace().said())
        assert hands.bins == 35
        assert hands.taps <= 25
        assert hands.pace().seconds <= AIM
        hands.kept_quiet()
    is_sound(tmp_path)


def the_starter_is_checked(hands: Newcomer, tongue: str) -> None:
    """Both suppliers get their names, a dozen packs their prices, half of the jobs their own figures."""
    for code in ("SOLES", "FINDINGS"):
        hands.fill(f"name:{code}", f"{code} Example")
        hands.fill(f"days:{code}", "3")
    hands.looks(tongue)
    step_is_saved(hands)
    hands.looks(tongue)
    for code in ("HALF-S", "HALF-M", "HALF-L", "HALF-XL", "BEND", "CEMENT", "EDGE", "TACK", "THREAD", "SCOUR-40", "LACE-75", "BAG"):  # fmt: skip
        hands.fill(f"price:{code}", "18")
    step_is_saved(hands)
    for code, weekly in (("HEEL-W", "10"), ("HALF", "3"), ("GLUE", "6"), ("POLISH", "5"), ("ZIP", "1"), ("ELASTIC", "0")):  # fmt: skip
        hands.fill(f"week:{code}", weekly)
    for code in ("HEEL-W", "HEEL-M", "HALF", "HALF-HEEL", "GLUE", "STITCH"):
        hands.fill(f"price:{code}", "19")
    hands.looks(tongue)
    step_is_saved(hands)
    hands.looks(tongue)


def step_is_saved(hands: Newcomer) -> None:
    here = hands.driver.current_url
    hands.tap("button.main")
    hands.wait(partial(gone_on, here), "not saved")


SUPPLIERS = """
name|days|carriage|order
Larkfield Example|4|8.50|Mon Thu
"""
MATERIALS = """
name|family|unit|place|supplier|pack|price|used|sell|week
Rubber half soles|pre-cut soles|pair|A1|Larkfield Example|5|26.00|||
Contact cement|cement|ml|||1000|14.50|||
Shoe polish|care|piece|C1||12|27.60|counter|6.50|3
"""
JOBS = """
name|family|price|week
Half soles|soling|36.00|4
"""
RECIPES: dict[str, list[tuple[str, ...]]] = {"Half soles": [("Rubber half soles", "1"), ("contact cement", "15")]}


def test_a_shop_is_typed_from_nothing_and_gets_its_first_order_list(chromium: Any, axe: str, tmp_path: Path) -> None:
    """What is wrong is said as a field is left, what the recipe costs while it is typed, what is missing at the start."""
    with nothing(tmp_path) as base:
        hands = Newcomer(chromium, base, axe, UPRIGHT)
        shop_is_begun(hands, "Mill Lane Example")
        table_is_typed(hands, SUPPLIERS)
        hands.wait(partial(gone_on, hands.base + "/lists/suppliers/table"))
        hands.fill("price:*0", "dear")
        hands.find("[name='pack:*0']").click()
        hands.says("This is not a number.")
        table_is_typed(hands, MATERIALS)
        hands.wait(partial(gone_on, hands.base + "/lists/materials/table"))
        table_is_typed(hands, JOBS)
        hands.find("[data-section]")
        hands.open("/start")
        hands.says("Of 1 job it isn't said what it uses.")
        hands.tap("main .actions a.main")
        recipes_are_typed(hands, RECIPES, told="Materials of the usual pair: €5.42")
        shelf_is_counted(hands)
        assert [each.text.splitlines()[0] for each in hands.finds(".filled tbody th")] != []
        print(hands.pace().said())
        assert hands.taps <= 20
        hands.kept_quiet()
    is_sound(tmp_path)


def is_sound(folder: Path) -> None:
    book = open_book(str(folder / "shop.sqlite"))
    assert check(book).faults == ()
    book.close()
