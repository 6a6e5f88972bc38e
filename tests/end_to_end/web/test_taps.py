"""The owner's week at the tablet, by taps: work, sales, a delivery, a count, orders, the workbook."""

from typing import Any

import pytest

from tests.end_to_end.shop import Indoors
from tests.end_to_end.web.bench import TABLET, Hands
from tests.end_to_end.web.conftest import Served

MOST, TYPED = 45, 10  # taps, and figures typed: a counted item is its figure


@pytest.fixture
def tablet(chromium: Any, served: Served, axe: str) -> Hands:
    return Hands(chromium, served.base, axe, TABLET)


@pytest.mark.slow
def test_the_owners_week_takes_few_taps(tablet: Hands, served: Served) -> None:
    desk = Indoors(served.place)
    desk.facts("order", "QUIL", "LACE-90-BLK=2")
    tablet.open("/")
    tablet.settled()
    tablet.taps = tablet.typed = 0
    the_work(tablet)
    four_sales(tablet)
    a_delivery_comes(tablet)
    counted = the_shelf_is_counted(tablet, desk)
    what_runs_out_is_ordered(tablet)
    tablet.tap_words("Workbook", "nav a")
    tablet.settled()
    tablet.tap_words("Download the workbook")
    print("taps", tablet.taps, "typed", tablet.typed)
    assert tablet.taps <= MOST
    assert tablet.typed == counted
    assert [each["supplier"] for each in desk.facts("orders")] != []
    tablet.kept_quiet()
    desk.figure()


def the_work(tablet: Hands) -> None:
    """Five jobs at once, five taken in, and those finished."""
    for n in range(5):
        tablet.tap_words("Ladies heel tops", ".tile")
        tablet.tap_words("Finish", "button.main")
        tablet.says(f"Ticket {2400 + n} is finished")
    for n in range(5):
        tablet.tap_words("Ladies heel tops", ".tile")
        tablet.tap_words("Take in", "form button")
        tablet.says(f"Ticket {2405 + n} is taken in")
    for n in range(5):
        tablet.tap(f"[aria-label='Finish {2405 + n}']")
        tablet.says(f"Ticket {2405 + n} is finished")


def four_sales(tablet: Hands) -> None:
    tablet.tap_words("Counter", "nav a")
    for name, price in (
        ("Black polish", "7.50"),
        ("Black laces", "4.50"),
        ("Boot zip", "9.00"),
        ("Black polish", "7.50"),
    ):
        tablet.tap_words(name, "label.what")
        tablet.says(f"1 × {name}")
        tablet.tap_words("Sell", "button.main")
        tablet.says("Sold: " + name)
        tablet.says(price)


def a_delivery_comes(tablet: Hands) -> None:
    tablet.tap_words("Orders", "nav a")
    tablet.tap_words("All received")
    tablet.says("closed")


def the_shelf_is_counted(tablet: Hands, desk: Indoors) -> int:
    """All that is worth counting, on one page: each figure typed, saved and compared at once, and posted."""
    tablet.tap("nav a[href='/count']")
    tablet.settled()
    tablet.tap_words("Count these")
    there = {row["material"]: row["on_hand"] for row in desk.facts("shelf")["rows"]}
    codes = [each.get_attribute("data-code") for each in tablet.finds("main section[data-code]")]
    for code in codes:
        tablet.type(f"section[data-code={code}] input[required]", there[code])
    tablet.tap_words("Save all that is filled in")
    tablet.says("Counted against the book")
    for box in tablet.finds("input[name=accept]"):
        box.click()
        tablet.taps += 1
    tablet.tap_words("Post the count")
    tablet.says("the count is posted")
    return len(codes)


def what_runs_out_is_ordered(tablet: Hands) -> None:
    tablet.tap_words("Stock running out", "nav a")
    tablet.settled()
    tablet.tap_words("To the suggested orders")
    tablet.settled()
    tablet.tap(".bar button.main")
    tablet.says("is placed")


def test_what_was_changed_at_the_desk_outlives_new_figures(tablet: Hands, served: Served) -> None:
    """The law of the desk: no figure that was changed is thrown away, whatever is entered meanwhile."""
    desk = Indoors(served.place)
    tablet.open("/orders/desk")
    tablet.settled()
    tablet.is_sound()
    desk.facts("finish", "HEEL-L")
    tablet.driver.refresh()
    field = "tr:has(input[value^='HIDE BEND ']) input[name=packs]"
    tablet.find("[data-wait]")
    for _ in range(6):
        tablet.tap("tr:has(input[value^='HIDE BEND ']) .step:last-child")
    wanted = tablet.find(field).get_attribute("value")
    tablet.tap_words("New figures are ready")
    tablet.says("As changed: goods")
    assert tablet.find(field).get_attribute("value") == wanted
    tablet.tap("tr:has(input[value^='HIDE BEND ']) th a")
    tablet.says("Risk of running short")
    for width in (768, 320):
        facts = {"width": width, "height": 800, "deviceScaleFactor": 1, "mobile": width == 320}
        tablet.driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", facts)
        tablet.width = width
        tablet.is_sound()
    tablet.tap(".bar button.main")
    tablet.says("is placed")
    ordered = [line for each in desk.facts("orders") for line in each["lines"] if line["material"] == "BEND"]
    assert [str(line["packs"]) for line in ordered] == [wanted]


# What a browser's reader of codes would say of the camera's picture: this machine's browser has none that reads.
_READS = """
window.BarcodeDetector = class {
  static getSupportedFormats() { return Promise.resolve(READABLE); }
  detect(film) { return Promise.resolve(film.videoWidth ? [{ rawValue: 'TOP-PIN' }] : []); }
};
"""
_LOOKS = "Object.defineProperty(window, 'matchMedia', { value: () => ({ matches: true, addEventListener() {} }) });"


@pytest.mark.parametrize("readable", ["['qr_code']", "[]"])
def test_the_camera_reads_a_label_or_says_what_to_do(tablet: Hands, readable: str) -> None:
    """The picture comes through the pages' own policy; where nothing reads it, or no camera is given, that is said."""
    told = {"source": _LOOKS + _READS.replace("READABLE", readable)}
    made = tablet.driver.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", told)
    tablet.open("/shelf")
    tablet.tap_words("Scan with the camera")
    tablet.says("The camera can't be used" if readable != "[]" else "type the code, or use a hand scanner")
    tablet.driver.execute_cdp_cmd("Page.removeScriptToEvaluateOnNewDocument", made)
