"""From an empty machine to the first order list by hand: taps and typed fields counted, each page open to everybody."""

import json
import os
import subprocess
import sys
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from selenium.webdriver.common.by import By

from stockroom.flows.book.check import check
from stockroom.flows.book.opening import open_book
from tests.end_to_end.web.bench import PHONE, Hands

UPRIGHT = (768, 1024)
NOW = "2026-11-24T10:00"
A_TAP, A_FIELD, A_BIN = 2, 4, 20  # seconds: a guess at a newcomer's pace; a bin is found and counted, not only typed
AIM = 45 * 60
WORDS = {
    "en": {"begun": "The starter shop is in your book.", "gone": "Gusset elastic", "opening": "entered as opening stock"},
    "de": {"begun": "Die Musterwerkstatt ist in Ihrem Buch.", "gone": "Gummizug", "opening": "als Anfangsbestand gebucht"},
}  # fmt: skip


@pytest.fixture
def nothing(tmp_path: Path) -> Iterator[str]:
    """`stockroom serve` where there is no book; gives its address."""
    around = {name: value for name, value in os.environ.items() if not name.startswith("STOCKROOM_")}
    env = around | {"STOCKROOM_BOOK": str(tmp_path / "shop.sqlite"), "STOCKROOM_NOW": NOW, "OMP_NUM_THREADS": "1"}
    command = [sys.executable, "-W", "error", "-m", "stockroom", "serve", "--port", "0", "--json"]
    with subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        yield str(json.loads(process.stdout.readline())["address"].rstrip("/"))
        process.terminate()


class Newcomer(Hands):
    """Hands that count what they type, too."""

    typed = 0

    def type(self, selector: str, text: str) -> None:
        super().type(selector, text)
        self.typed += 1

    def looks(self, tongue: str) -> None:
        """Check a page as it stands: sound, and in one language only."""
        self.is_sound()
        assert self.driver.execute_script("return document.documentElement.lang") == tongue


@pytest.mark.parametrize(
    ("size", "tongue"),
    [
        pytest.param(UPRIGHT, "en", id="tablet"),
        pytest.param(PHONE, "de", id="phone in German", marks=pytest.mark.slow),
    ],
)
def test_a_newcomer_has_the_first_order_list_within_the_hour(
    chromium: Any, nothing: str, axe: str, tmp_path: Path, size: tuple[int, int], tongue: str
) -> None:
    hands, said = Newcomer(chromium, nothing, axe, size), WORDS[tongue]
    hands.open("/")
    if hands.driver.execute_script("return document.documentElement.lang") != tongue:
        hands.tap(f"button[value={tongue}]")
        hands.find(f"html[lang={tongue}] #name")
    hands.looks(tongue)
    hands.type("#name", "Example")
    hands.find("#country").send_keys("Ireland" if tongue == "en" else "Deutschland")
    hands.typed += 1
    hands.tap("button.main")
    hands.says(said["begun"])
    hands.tap(".actions a.main")
    the_jobs(hands, tongue)
    hands.says(said["gone"])
    the_prices(hands, tongue)
    bins = the_shelf(hands, tongue)
    hands.tap("button.main")
    hands.says(said["opening"])
    hands.settled()
    hands.looks(tongue)
    assert len(hands.finds(".filled tbody tr")) > 10, "the first order list"
    took = A_TAP * hands.taps + A_FIELD * hands.typed + A_BIN * bins
    print(f"{hands.taps} taps, {hands.typed} fields, {bins} bins: about {took / 60:.0f} minutes")
    assert bins == 35
    assert hands.taps <= 25
    assert took <= AIM
    hands.kept_quiet()
    book = open_book(str(tmp_path / "shop.sqlite"))
    assert check(book).faults == ()
    book.close()


def the_jobs(hands: Newcomer, tongue: str) -> None:
    """Half of the jobs come otherwise than usual, and one isn't done here."""
    hands.find("[name='week:HALF']")
    hands.looks(tongue)
    for code, weekly in (("HEEL-W", "10"), ("HALF", "3"), ("GLUE", "6"), ("POLISH", "5"), ("ZIP", "1"), ("ELASTIC", "0")):  # fmt: skip
        hands.type(f"[name='week:{code}']", weekly)
    for code in ("HEEL-W", "HEEL-M", "HALF", "HALF-HEEL", "GLUE", "STITCH"):
        hands.type(f"[name='price:{code}']", "19")
    hands.tap("button.main")


def the_prices(hands: Newcomer, tongue: str) -> None:
    """Both suppliers get their names, a dozen packs their prices."""
    hands.looks(tongue)
    for code in ("SOLES", "FINDINGS"):
        hands.type(f"[name='name:{code}']", f"{code} Example")
        hands.type(f"[name='days:{code}']", "3")
    for code in ("HALF-S", "HALF-M", "HALF-L", "HALF-XL", "BEND", "CEMENT", "EDGE", "TACK", "THREAD", "SCOUR-40", "LACE-75", "BAG"):  # fmt: skip
        hands.type(f"[name='price:{code}']", "18")
    hands.tap("button.main")


def the_shelf(hands: Newcomer, tongue: str) -> int:
    """Every location is counted, saved at once, and the next one opens; gives how many bins that were."""
    hands.wait(lambda d: d.find_elements(By.CSS_SELECTOR, ".tile"), "locations are not")
    places, bins = len(hands.finds(".tile")), 0
    hands.tap(".tile")
    for turn in range(places):
        hands.wait(lambda d: d.find_elements(By.CSS_SELECTOR, "section.card"), "bins are not")
        if turn == 0:
            hands.looks(tongue)
        cards = hands.finds("section.card")
        for field in hands.finds("section.card input[required]"):
            field.send_keys("60" if field.get_attribute("name") == "answer:gross" else "1")
            hands.typed += 1
        here = hands.driver.current_url
        hands.tap("[data-all]")
        bins += len(cards)
        hands.wait(partial(_gone_on, here), "the next location is not opened")
    hands.wait(lambda d: d.find_elements(By.CSS_SELECTOR, "button.main"), "the opening stock can't be entered")
    return bins


def _gone_on(here: str, driver: Any) -> bool:
    return str(driver.current_url) != here
