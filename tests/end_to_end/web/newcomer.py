"""A newcomer's hands: what somebody who begins a shop taps, types and counts, and how long that takes.

Minutes by the keystroke-level model (Card, Moran, Newell 1980; the values from memory): a key .28 s for an average
typist, pointing 1.1, hand to the pointer .4, a thought before each field 1.35. On top of it, our own guesses: a figure
looked up on an invoice or price list 5 s, a bin found and counted 20 s.
"""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import partial
from json import loads
from pathlib import Path
from typing import Any

from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select

from tests.end_to_end.web.bench import Hands

KEY, POINT, HAND, THOUGHT, LOOKED_UP, BIN = 0.28, 1.1, 0.4, 1.35, 5.0, 20.0  # seconds
NOW = "2026-11-24T10:00"
LOOKED = {"price", "pack", "carriage", "free", "least", "days", "sell", "amount"}  # figures one has to look up
CARRIED = ("family", "unit", "place", "supplier", "used")  # that a row begins with as the one above has them


@dataclass
class Pace:
    """What was done, and how long it takes."""

    taps: int = 0
    fields: int = 0
    keys: int = 0
    looked_up: int = 0
    bins: int = 0

    @property
    def seconds(self) -> float:
        """How long a newcomer takes by the model."""
        tapping = self.taps * (THOUGHT + POINT + HAND)
        typing = self.fields * (THOUGHT + KEY) + self.keys * KEY  # a key more leads to the next field
        return tapping + typing + self.looked_up * LOOKED_UP + self.bins * BIN

    def said(self) -> str:
        """Say it in a line."""
        return (
            f"{self.taps} taps, {self.fields} fields, {self.keys} keys, {self.looked_up} looked up, "
            f"{self.bins} bins: about {self.seconds / 60:.0f} minutes"
        )


class Newcomer(Hands):
    """Hands that count keys, too."""

    def __init__(self, driver: Any, base: str, axe: str, size: tuple[int, int]) -> None:
        driver.get("about:blank")  # whatever an earlier page still asks for is not ours
        super().__init__(driver, base, axe, size)
        self.bins = self.keys = self.looked_up = 0

    def pace(self) -> Pace:
        """Say how much was done."""
        return Pace(taps=self.taps, fields=self.typed, keys=self.keys, looked_up=self.looked_up, bins=self.bins)

    def looks(self, tongue: str) -> None:
        """Check a page as it stands: sound, and in one language only."""
        self.is_sound()
        assert self.driver.execute_script("return document.documentElement.lang") == tongue

    def fill(self, name: str, text: str) -> None:
        """Type a cell, or choose in it; the way there is a key."""
        found = self.wait(lambda d: d.find_element(By.NAME, name), f"{name} is not")
        if found.tag_name == "select":
            choice = Select(found)
            values = {o.text.strip().casefold(): str(o.get_attribute("value")) for o in choice.options}
            choice.select_by_value(values.get(text.casefold(), text))
            self.keys += 2
        else:
            found.clear()
            found.send_keys(text)
            self.keys += min(len(text), 6) if "material" in name else len(text)  # a known name is chosen
        self.typed += 1
        self.looked_up += name.partition(":")[0] in LOOKED


def rows_of(text: str) -> list[dict[str, str]]:
    """Read a table of the shop."""
    first, *rest = text.strip().splitlines()
    return [dict(zip(first.split("|"), line.split("|"), strict=True)) for line in rest]


def shop_is_begun(hands: Newcomer, name: str) -> None:
    """Name the shop, and begin with nothing."""
    hands.open("/")
    hands.fill("name", name)
    hands.fill("country", "IE")
    hands.tap("label.way:has([value=empty])")
    hands.tap("button.main")
    hands.tap(".actions a.main")


def table_is_typed(hands: Newcomer, text: str) -> None:
    """Type a table row by row; what the row above said comes by itself."""
    for number, row in enumerate(rows_of(text)):
        for field, said in row.items():
            if said:
                hands.fill(f"{field}:*{number}", said)
    hands.tap("button.main")


def table_is_pasted(hands: Newcomer, text: str) -> None:
    """Paste a table with its headings, as a spreadsheet gives it; cells that were carried are filled in there."""
    rows, above = rows_of(text), dict[str, str]()
    lines = ["\t".join(rows[0])]
    for row in rows:
        carried = {
            name: row[name] or above.get(name, "")
            for name in ("family", "unit", "place", "supplier", "used")
            if name in row
        }
        above = row | carried
        lines.append("\t".join(above.values()))
    field = hands.find("[name='name:*0']")
    field.click()
    hands.driver.execute_script(_PASTE, field, "\n".join(lines))
    hands.taps += 2
    hands.tap("button.main")


_PASTE = """const given = new DataTransfer(); given.setData('text/plain', arguments[1]);
arguments[0].dispatchEvent(new ClipboardEvent('paste', {clipboardData: given, bubbles: true, cancelable: true}));"""


def recipes_are_typed(hands: Newcomer, recipes: dict[str, list[tuple[str, ...]]], told: str = "") -> None:
    """Type what each job takes, all on one page; `told` is what the page says meanwhile."""
    hands.find("[data-section]")
    codes = {
        each.find_element(By.TAG_NAME, "h2").text.strip(): each.get_attribute("data-section")
        for each in hands.finds("[data-section]")
    }
    for job, lines in recipes.items():
        for number, line in enumerate(lines):
            for field, said in zip(("material", "amount", "unit", "choice", "option"), line, strict=False):
                if said:
                    hands.fill(f"{field}:{codes[job]}*{number}", said)
    if told:
        hands.find("h1").click()
        hands.says(told)
    hands.tap("button.main")
    hands.wait(lambda d: "/start/count" in d.current_url, "not saved")


def shelf_is_counted(hands: Newcomer, looked: Callable[[], None] = lambda: None) -> None:
    """Count every location, and enter what was found as the opening stock; `looked` looks over a location's page."""
    hands.wait(lambda d: d.find_elements(By.CSS_SELECTOR, ".tile"), "locations are not")
    places = len(hands.finds(".tile"))
    hands.tap(".tile")
    for turn in range(places):
        hands.wait(lambda d: d.find_elements(By.CSS_SELECTOR, "section.card"), "bins are not")
        if turn == 0:
            looked()
        for field in hands.finds("section.card input[required]"):
            field.send_keys("60" if field.get_attribute("name") == "answer:gross" else "2")
            hands.typed, hands.keys = hands.typed + 1, hands.keys + 2
        hands.bins += len(hands.finds("section.card"))
        here = hands.driver.current_url
        hands.tap("[data-all]")
        hands.wait(partial(gone_on, here), "the next location is not opened")
    hands.wait(lambda d: d.find_elements(By.CSS_SELECTOR, "button.main"), "the opening stock can't be entered")
    hands.tap("button.main")
    hands.wait(lambda d: "/start/orders" in d.current_url, "not entered")
    hands.settled()


def gone_on(here: str, driver: Any) -> bool:
    """Say whether another page is open."""
    return str(driver.current_url) != here


@contextmanager
def nothing(folder: Path) -> Iterator[str]:
    """Serve where there is no book."""
    around = {name: value for name, value in os.environ.items() if not name.startswith("STOCKROOM_")}
    env = around | {"STOCKROOM_BOOK": str(folder / "shop.sqlite"), "STOCKROOM_NOW": NOW}
    command = [sys.executable, "-m", "stockroom", "serve", "--port", "0", "--json"]
    with subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None
        try:
            yield str(loads(process.stdout.readline())["address"].rstrip("/"))
        finally:
            process.terminate()
