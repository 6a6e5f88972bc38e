"""The owner's week at the pages: work, sale, delivery, a count with the connection lost in the middle, an order, the
accountant's workbook; on a tablet, and the daily part of it on a phone."""

import time
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.keys import Keys

from tests.conftest import KINDS
from tests.end_to_end.shop import Indoors
from tests.end_to_end.web.bench import PHONE, TABLET, Hands
from tests.end_to_end.web.conftest import Served

PAGES = (
    "/", "/tickets", "/jobs", "/jobs/card?job=FULL&to=take-in", "/counter", "/shelf", "/shelf/material?code=CEMENT",
    "/run-outs", "/orders", "/orders/desk", "/orders/desk/supplier?supplier=HIDE", "/orders/without", "/count",
    "/count/place?place=A3", "/count/bin?code=CEMENT&aid=tin-weight", "/usage", "/margins?period=2026-11",
    "/workbook", "/documents", "/sign-in", "/labels?place=A3", "/hazards", "/load", "/settings", "/saved", "/more",
    "/back-test",
    "/bench", "/periods", "/safekeeping", "/tax-and-accounts", "/count/report", "/offcuts",
    "/lent", "/run-outs/jobs", "/margins/alerts", "/margins/cut-or-buy", "/lists", "/lists/recipes/of?job=FULL",
    "/lists/materials/table", "/lists/recipes/table", "/year-ahead", "/stock-or-delays",
)  # fmt: skip
HEAVIEST = 30_000  # bytes, with all that belongs to a page


@pytest.fixture
def tablet(chromium: Any, served: Served, axe: str, saved: Path) -> Hands:
    hands = Hands(chromium, served.base, axe, TABLET)
    hands.saved = saved
    return hands


@pytest.fixture
def phone(chromium: Any, served: Served, axe: str) -> Hands:
    return Hands(chromium, served.base, axe, PHONE)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_the_owners_week_on_a_tablet(tablet: Hands, served: Served) -> None:
    desk = Indoors(served.place)
    work_is_done(tablet, desk)
    something_is_sold_and_a_delivery_comes(tablet, desk)
    the_week_is_counted(tablet, desk)
    an_order_is_placed(tablet, desk)
    the_workbook_is_taken_home(tablet)
    tablet.kept_quiet()
    desk.figure()


def work_is_done(tablet: Hands, desk: Indoors) -> None:
    """Six jobs: one as usual, three with a size and a choice, two taken in before; one taken back on the spot."""
    pins, rubber = desk.shelf("TOP-PIN"), desk.shelf("SOLE-RUB")
    tablet.open("/")
    tablet.tap_words("Ladies heel tops", ".tile")
    tablet.tap_words("Finish", "button.main")
    tablet.says("Ticket 2400 is finished")
    for n in range(3):
        tablet.open("/")
        tablet.taps = 0
        tablet.tap_words("Full soles", ".tile")
        tablet.tap("input[name=size][value='EU 42']")
        tablet.tap("input[name='choice:sole'][value=rubber]")
        tablet.tap_words("Finish", "button.main")
        assert tablet.taps <= 4  # one deeper: not the usual sole
        tablet.says(f"Ticket {2401 + n} is finished")
    for _ in range(2):
        tablet.open("/jobs/card?job=HEEL-L&to=take-in")
        tablet.tap_words("Take in", "button.main")
        tablet.says("is taken in")
        tablet.tap_words("To the ticket")
        tablet.tap_words("Finish", "button.main")
        tablet.says("is finished")
    tablet.tap_words("Undo")
    tablet.says("Undone: finish 2405")
    tablet.tap("[aria-label='Finish 2405']")
    tablet.says("Ticket 2405 is finished")
    assert amount(pins) - amount(desk.shelf("TOP-PIN")) == 3
    assert amount(rubber) - amount(desk.shelf("SOLE-RUB")) == 3


def something_is_sold_and_a_delivery_comes(tablet: Hands, desk: Indoors) -> None:
    placed = desk.facts("order", "QUIL", "LACE-90-BLK=2")["order"]
    tablet.open("/counter")
    tablet.type("#q", "polish")
    tablet.tap_words("Black polish", "label.what")
    tablet.tap_words("Sell", "button.main")
    tablet.says("Sold: Black polish · €7.50")
    tablet.open("/orders")
    tablet.says(placed)
    tablet.tap_words("All received")
    tablet.says("closed")
    assert amount(desk.shelf("LACE-90-BLK")) == 40
    assert amount(desk.shelf("POLISH-BLK")) == 7


def the_week_is_counted(tablet: Hands, desk: Indoors) -> None:
    """Two bins with the connection, two without; nothing is lost, nothing is doubled, and the owner settles."""
    tablet.open("/count/place?place=A3")
    tablet.lost(lost=True)
    count(tablet, "TOP-PIN", pairs="7", odd="1")
    tablet.says("No connection: saved on this device.")
    count(tablet, "TOP-BLOCK", pairs="8")
    tablet.says("2 entries are saved on this device")
    assert len(tablet.kept()) == 2
    tablet.lost(lost=False)
    tablet.driver.execute_script("window.dispatchEvent(new Event('online'))")
    tablet.sent()
    assert desk.facts("differences") == {"2026-11-24 A3": 2}
    tablet.open("/count/place?place=A2")
    count(tablet, "THREAD-BLK", amount="47")
    tablet.says("THREAD-BLK is counted.")
    for sheet in ("2026-11-24 A3", "2026-11-24 A2"):
        tablet.open(f"/count/sheet?sheet={sheet}")
        tablet.is_sound()
        for box in tablet.finds("input[name=accept]"):
            box.click()
        tablet.tap_words("Post the count")
        tablet.says("the count is posted")
    assert amount(desk.shelf("TOP-PIN")) == 7.5
    assert amount(desk.shelf("THREAD-BLK")) == 47


def an_order_is_placed(tablet: Hands, desk: Indoors) -> None:
    tablet.open("/orders/desk")
    tablet.settled()
    tablet.says("Hide and Heel (invented)")
    total = "[data-sums=HIDE] [data-part=total]"
    before = tablet.find(total).text
    tablet.tap("tr:has(input[value^='HIDE ']) .step:last-child")
    deadline = time.monotonic() + 20
    while tablet.find(total).text == before and time.monotonic() < deadline:
        tablet.pause(0.1)
    after = tablet.find(total).text
    assert after != before
    tablet.tap("button[name=only][value=HIDE]")
    tablet.says("is placed")
    assert after.replace("€", "") in tablet.find("#text").get_attribute("value")
    tablet.tap_words("Copy the text")
    tablet.says("Copied")
    assert [each["supplier"] for each in desk.facts("orders")] == ["HIDE"]


def the_workbook_is_taken_home(tablet: Hands) -> None:
    tablet.open("/workbook?period=2026-11")
    tablet.settled()
    tablet.tap_words("Download the workbook of Nov 2026")
    path = tablet.saved / "accounts-2026-11.xlsx"
    deadline = time.monotonic() + 30
    while not path.exists() and time.monotonic() < deadline:
        tablet.pause(0.2)
    assert len(openpyxl.load_workbook(path).sheetnames) > 5


def test_the_shelf_with_a_phone_in_hand(phone: Hands, served: Served) -> None:
    """Finish and count while the shop's server is away altogether: pages seen before open, and nothing is lost."""
    desk = Indoors(served.place)
    number = desk.facts("take-in", "HEEL-L")["ticket"]
    for address in ("/", "/tickets", "/count", "/count/place?place=A3"):
        phone.open(address)
    phone.driver.execute_async_script("const done = arguments[0]; navigator.serviceWorker.ready.then(() => done())")
    for address in ("/tickets", "/count/place?place=A3"):
        phone.open(address)  # through the worker, which keeps them
    served.stop()
    phone.open("/tickets")
    phone.tap(f"[aria-label='Finish {number}']")
    phone.says("No connection: saved on this device.")
    phone.open("/count/place?place=A3")
    count(phone, "TOP-BLOCK", pairs="6")
    phone.says("2 entries are saved on this device")
    phone.driver.get_log("browser")  # a server that is away is what this is about
    served.start()
    phone.open("/tickets")
    phone.sent()
    assert desk.facts("tickets") == []
    assert desk.facts("differences") == {"2026-11-24 A3": 1}
    phone.open("/tickets")
    assert f"Finish {number}" not in phone.driver.page_source
    phone.kept_quiet()
    desk.figure()


def test_an_entry_that_is_not_taken_waits_for_a_word(phone: Hands, served: Served) -> None:
    desk = Indoors(served.place)
    number = desk.facts("take-in", "HEEL-L")["ticket"]
    phone.open("/tickets")
    phone.lost(lost=True)
    phone.tap(f"[aria-label='Finish {number}']")
    phone.says("No connection: saved on this device.")
    desk.facts("cancel", number)
    phone.lost(lost=False)
    phone.driver.execute_script("window.dispatchEvent(new Event('online'))")
    phone.says("Saved entries that were refused: 1. Check them.")
    phone.open("/saved")
    phone.says(f"Ticket {number} is cancelled already.")
    phone.is_sound()
    phone.tap_words("Throw away")
    phone.says("Nothing is saved here.")
    phone.driver.get_log("browser")


UPRIGHT = (768, 1024)


@pytest.mark.parametrize("size", [UPRIGHT, PHONE], ids=["tablet", "phone"])
def test_today_says_all_that_is_urgent_without_scrolling(
    chromium: Any, served: Served, axe: str, size: tuple[int, int]
) -> None:
    """What waits, what to order, what is late, what to count, and the jobs to tap: above the menu at the foot."""
    hands = Hands(chromium, served.base, axe, size)
    hands.open("/")
    hands.settled()
    hands.is_sound()
    figures = hands.finds(".figures a")
    assert len(figures) == 5
    foot = hands.driver.execute_script("return document.querySelector('nav.rooms').getBoundingClientRect().top")
    for each in (*figures, *hands.finds(".at-once a")):
        assert each.rect["y"] + each.rect["height"] <= foot, each.text


def test_a_place_is_saved_at_once_and_looks_counted(phone: Hands, served: Served) -> None:
    desk = Indoors(served.place)
    phone.open("/count/place?place=A3")
    for n, (material, pairs) in enumerate((("TOP-BLOCK", "6"), ("TOP-PIN", "8"))):
        phone.says(f"{n} of 2 counted")
        phone.type(f"form:has(input[value={material}]) input[name='answer:pairs']", pairs)
        phone.tap_words("Save all that is filled in")
        phone.says("counted: 6 pairs" if n == 0 else "Counted against the book")
        phone.is_sound()
    assert desk.facts("differences") == {"2026-11-24 A3": 2}


@pytest.mark.slow
@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_every_page_is_open_to_everybody_light_and_quiet(
    chromium: Any, served: Served, axe: str, size: tuple[int, int]
) -> None:
    hands = Hands(chromium, served.base, axe, size)
    for address in PAGES:
        hands.open(address)
        hands.settled()
        hands.is_sound()
        assert hands.weight() <= HEAVIEST, f"{address} is too heavy"
    hands.kept_quiet()


def test_the_pages_work_in_the_dark_and_by_keyboard(tablet: Hands) -> None:
    dark = {"features": [{"name": "prefers-color-scheme", "value": "dark"}]}
    tablet.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", dark)
    for address in ("/", "/orders/desk", "/count"):
        tablet.open(address)
        tablet.settled()
        tablet.is_sound()
    tablet.driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    tablet.open("/jobs/card?job=HEEL-L&to=finish")
    for _ in range(40):
        ActionChains(tablet.driver).send_keys(Keys.TAB).perform()
        if tablet.driver.switch_to.active_element.text == "Finish":
            break
    ActionChains(tablet.driver).send_keys(Keys.ENTER).perform()
    tablet.says("is finished")


def count(hands: Hands, material: str, **answers: str) -> None:
    form = f"form:has(input[name=material][value={material}]) "
    for name, text in answers.items():
        if not hands.find(f"{form}input[name='answer:{name}']").is_displayed():
            hands.tap(form + "summary")
        hands.type(f"{form}input[name='answer:{name}']", text)
    hands.tap(form + "button")


def amount(row: dict[str, Any]) -> float:
    return float(row["on_hand"])
