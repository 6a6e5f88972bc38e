"""Whatever the connection does, an entry made on a device is entered exactly once or is still seen there."""

import random
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest

import stockroom
from tests.end_to_end.shop import Indoors
from tests.end_to_end.web.bench import PHONE, Hands
from tests.end_to_end.web.conftest import Served
from tests.end_to_end.web.wire import DEAF, DOWN, SILENT, STATES, UP, Wire

READY = "const done = arguments[0]; navigator.serviceWorker.ready.then(() => done())"


class Device(Hands):
    """A phone on a wire of its own, with what was entered on it."""

    def __init__(self, driver: Any, wire: Wire, axe: str) -> None:
        super().__init__(driver, f"http://127.0.0.1:{wire.port}", axe, PHONE)
        self.wire = wire
        self.open("/")
        driver.execute_async_script(READY)
        for address in ("/counter", "/tickets", "/jobs/card?job=HEEL-L&to=finish", "/jobs/card?job=HEEL-L&to=take-in"):
            self.open(address)  # through the worker, which keeps them

    def comes_back(self) -> None:
        """Find the connection again, and wait until all that can be sent was."""
        self.wire.turn(UP)
        self.open("/saved")
        self.wait(lambda _: not [each for each in self.kept() if not each["fault"]], "not all was sent")

    def sends(self, action: str) -> None:
        """Fill a form in as usual and send it."""
        self.wait(lambda d: d.execute_script(_SEND, action, FILLED), f"{action} is not there")
        self.wait(lambda d: d.execute_script(_DONE, f"form[action='{action}']"), f"{action} says nothing")

    def enters(self, form: str, price: str) -> None:
        """Enter a form with a price that tells the entry from all others."""
        self.wait(lambda d: d.execute_script(_ENTER, form, price), f"{form} is not")
        self.taps += 1
        self.wait(lambda d: d.execute_script(_DONE, form), f"{form} says nothing")


# Fill every empty field that has a usual answer in, tick what can be ticked, and press the form's button.
_SEND = """
const form = document.querySelector("form[action='" + arguments[0] + "']");
if (!form || document.readyState !== 'complete') { return false; }
window.marked = true;
for (const each of form.elements) {
  if (each.type === 'checkbox') { each.checked = true; }
  if (each.type !== 'hidden' && each.name in arguments[1] && !each.value) { each.value = arguments[1][each.name]; }
}
form.requestSubmit(form.querySelector('button:not([type=button])'));
return true;
"""
FILLED = {"material": "LACE-90-BLK", "amount": "1", "days": "3", "reason": "torn"}
# Fill the price in and press the form's button, as a hand would; the page that comes bears no mark.
_ENTER = """
const form = document.querySelector(arguments[0]);
if (!form || document.readyState !== 'complete') { return false; }
window.marked = true;
form.elements.price.value = arguments[1];
const laces = form.elements['sell:LACE-90-BLK'];
if (laces && !laces.value) { laces.value = '1'; }
form.requestSubmit();
return true;
"""
_DONE = """
if (document.readyState !== 'complete') { return false; }
const form = document.querySelector(arguments[0]);
return !window.marked || !form || Boolean(form.parentElement.querySelector('[data-beside]'));
"""
SELL = "form[action='/counter/sell-together']"
FORMS = {
    "/counter": SELL,
    "/jobs/card?job=HEEL-L&to=finish": "form[action='/tickets/finish-job']",
    "/jobs/card?job=HEEL-L&to=take-in": "form[action='/tickets/take-in']",
}


@pytest.fixture
def wire(served: Served) -> Iterator[Wire]:
    with Wire(served.port) as made:
        yield made


@pytest.fixture
def other_wire(served: Served) -> Iterator[Wire]:
    with Wire(served.port) as made:
        yield made


@pytest.fixture
def device(chromium: Any, wire: Wire, axe: str) -> Device:
    return Device(chromium, wire, axe)


def laces(desk: Indoors) -> float:
    return float(desk.shelf("LACE-90-BLK")["on_hand"])


def prices(desk: Indoors) -> Counter[str]:
    """Give how often each price stands in the book, on sales and on tickets of any state."""
    with stockroom.open(desk.place) as book:
        sold = book.sales(money="decimal")["price"]
        return Counter(str(each) for each in [*book.tickets(money="decimal")["price"], *sold])


def test_the_same_job_finished_twice_without_a_connection_is_two(device: Device, served: Served) -> None:
    """The page kept for reading carries the key it came with: entries made on it must not be swallowed for it."""
    desk = Indoors(served.place)
    address, form = "/jobs/card?job=HEEL-L&to=finish", FORMS["/jobs/card?job=HEEL-L&to=finish"]
    device.open(address)
    device.enters(form, "10.00")
    device.wire.turn(DOWN)
    for _ in range(2):
        device.open(address)
        device.says("No connection.")
        device.says("This page is as it was on")
        device.enters(form, "10.00")
        device.says("No connection: saved on this device.")
    assert len(device.kept()) == 2
    device.comes_back()
    assert device.kept() == []
    assert prices(desk)["10.00"] == 3


def test_what_is_sold_without_a_connection_leaves_the_shelf(device: Device, served: Served) -> None:
    desk = Indoors(served.place)
    before = laces(desk)
    device.open("/counter")
    device.wire.turn(DOWN)
    device.open("/counter")
    device.enters(SELL, "")
    device.driver.execute_script("document.querySelector(arguments[0]).elements['sell:LACE-90-BLK'].value = '3'", SELL)
    device.enters(SELL, "")
    device.wait(lambda _: len(device.kept()) == 2)
    device.comes_back()
    assert before - laces(desk) == 4


def test_a_silent_wire_is_said_within_moments_and_the_page_goes_on(device: Device, served: Served) -> None:
    desk = Indoors(served.place)
    device.open("/counter")
    device.wire.turn(SILENT)
    device.enters(SELL, "3.33")
    device.says("No answer yet: saved on this device")
    device.enters(SELL, "4.44")
    device.wait(lambda _: len(device.kept()) == 2)
    device.comes_back()
    assert prices(desk)["3.33"] == prices(desk)["4.44"] == 1


def test_an_answer_that_is_lost_enters_nothing_twice(device: Device, served: Served) -> None:
    desk = Indoors(served.place)
    before = laces(desk)
    device.open("/counter")
    device.wire.turn(DEAF)
    device.enters(SELL, "5.55")
    device.comes_back()
    assert before - laces(desk) == 1


def test_what_was_refused_is_opened_corrected_and_sent(device: Device, served: Served) -> None:
    """An amount that can't be read, typed without a connection: it comes back to be mended, not only thrown away."""
    desk = Indoors(served.place)
    before = laces(desk)
    device.open("/counter")
    device.wire.turn(DOWN)
    device.driver.execute_script(
        "document.querySelector(arguments[0]).elements['sell:LACE-90-BLK'].value = 'two'", SELL
    )
    device.enters(SELL, "6.66")
    device.wire.turn(UP)
    device.open("/saved")
    device.says("Open and correct")
    device.is_sound()
    device.tap_words("Open and correct")
    device.says("'two'")
    device.driver.execute_script("document.querySelector(arguments[0]).elements['sell:LACE-90-BLK'].value = '2'", SELL)
    assert (
        device.driver.execute_script("return document.querySelector(arguments[0]).elements.price.value", SELL) == "6.66"
    )
    device.enters(SELL, "6.66")
    device.says("Sold")
    assert device.kept() == []
    assert before - laces(desk) == 2


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(2))
def test_any_interleaving_on_two_devices(
    chromium: Any, served: Served, axe: str, wire: Wire, other_wire: Wire, seed: int
) -> None:
    """Two devices, wires that fail in every way, work and sales: each entry is there exactly once or still to be seen."""
    chance, desk = random.Random(f"wires {seed}"), Indoors(served.place)
    devices = [Device(chromium, wire, axe), Device(chromium, other_wire, axe)]
    made: set[str] = set()
    desk.facts("count", "LACE-90-BLK=500 pairs", "--post", "--accept", "LACE-90-BLK")
    for turn in range(24):
        device = chance.choice(devices)
        if chance.random() < 0.45:
            device.wire.turn(chance.choice(STATES))
        if chance.random() < 0.15:
            served.stop()
            served.start()
        address = chance.choice(list(FORMS))
        price = f"{20 + turn}.{seed + 11}"
        device.open(address)
        device.enters(FORMS[address], price)
        made.add(price)
    kept = Counter[str]()
    for device in devices:
        device.comes_back()
        kept.update(each["body"].split("price=")[1].split("&")[0] for each in device.kept())
    entered = prices(desk)
    assert {price: entered[price] + kept[price] for price in made} == dict.fromkeys(made, 1)
    desk.figure()


def test_whatever_the_bench_enters_waits_on_the_device(device: Device, served: Served) -> None:
    """Time, use, loans, write-offs and deliveries, each entered on a page as it was, come in once, at their moment."""
    desk = Indoors(served.place)
    ticket = desk.facts("take-in", "heel")["ticket"]
    order = desk.facts("order", "HIDE", "TOP-PIN=1")["order"]
    pages = {
        f"/tickets/card?number={ticket}": ("/tickets/begin", "/tickets/use"),
        "/lent": ("/lent/lend",),
        "/shelf/material?code=LACE-90-BLK": ("/counter/write-off",),
        f"/orders/card?number={order}": ("/orders/receive",),
    }
    for address in pages:
        device.open(address)
    device.wire.turn(DOWN)
    for address, forms in pages.items():
        device.open(address)
        for form in forms:
            device.sends(form)
    assert len(device.kept()) == 5
    device.comes_back()
    assert device.kept() == []
    kinds = Counter(each["kind"] for each in desk.facts("documents", "--count", "5"))
    assert sorted(kinds) == ["begun", "delivery", "lent", "use", "waste"], "each once"
    desk.figure()
