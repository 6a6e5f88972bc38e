"""A shop's first day, typed from nothing at the pages: taps, fields and keys counted, and the minutes they take.

python -m tests.benchmarks.first_day [table|pasted [FILE TO KEEP THE BOOK]]

How minutes are reckoned stands with the newcomer's hands.
"""

import sys
import tempfile
import time
from functools import partial
from pathlib import Path

from selenium import webdriver
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service

from stockroom.flows.book.check import check
from stockroom.flows.book.opening import open_book
from tests.end_to_end.web.newcomer import (
    Newcomer,
    gone_on,
    nothing,
    recipes_are_typed,
    shelf_is_counted,
    shop_is_begun,
    table_is_pasted,
    table_is_typed,
)

# An invented shop in Ireland. Columns as the table has them; a blank cell is left as the row above said it.
SUPPLIERS = """
name|days|carriage|free|least|order|email
Larkfield Leather|4|8.50|150|40|Mon Thu|orders@larkfield.example
Dunmore Findings|3|6.90|120||Mon Wed Fri|sales@dunmore.example
Cullen Shoe Care|7|12.00|||Tue|
"""
MATERIALS = """
name|family|unit|place|supplier|pack|price|used|sell|week
Oak bend, 5 mm|soling sheet|dm2|A1|Larkfield Leather|100|74.00|bench||
Rubber sheet, 6 mm||||Larkfield Leather|80|31.00|||
Rubber half soles, small|pre-cut soles|pair|A2|Larkfield Leather|10|24.00|||
Rubber half soles, medium|||||10|26.00|||
Rubber half soles, large|||||10|28.50|||
Stick-on soles, ladies||||Dunmore Findings|10|16.00|||
Stick-on soles, gents|||||10|18.00|||
Heel tops, ladies, small|top pieces||A3||50|21.00|||
Heel tops, ladies, large|||||50|24.00|||
Heel tops, gents|||||20|22.00|||
Heel tops, gents, leather||||Larkfield Leather|10|19.00|||
Heel blocks, 40 mm|heel blocks||||5|32.00|||
Contact cement|cement|ml|B1|Dunmore Findings|1000|14.50|||
Rubber cement|||||1000|16.00|||
Sole thread, black|thread|m|B2|Dunmore Findings|500|18.00|||
Sole thread, white|||||500|18.00|||
Machine thread, brown|||||1000|11.00|||
Rivets, 13 mm|fixings|piece|B3||1000|9.80|||
Heel pins|||||1000|7.20|||
Zip, 25 cm, black||||Dunmore Findings|10|15.00|||
Elastic, 75 mm|uppers|m|B4||10|12.50|||
Edge ink, black|finish|ml|B5|Cullen Shoe Care|250|8.90|||
Edge ink, brown|||||250|8.90|||
Scouring band, 40|abrasives|piece|B6|Dunmore Findings|10|19.00|||
Scouring band, 80|||||10|19.00|||
Shoe polish, black|care|piece|C1|Cullen Shoe Care|12|27.60|both|6.50|3
Shoe polish, brown|||||12|27.60||6.50|2
Waterproof spray|||||6|25.20|counter|11.00|1.5
Laces, 75 cm, black|laces|pair|||20|14.00|both|3.50|4
Paper bags|packaging|piece|C2|Dunmore Findings|250|17.00|bench||
"""
JOBS = """
name|family|price|week|minutes|sized
Ladies heel tops|heels|12.00|9|8|
Gents heel tops||16.00|5|12|
New heels, leather||24.00|1|25|
Rubber half soles|soling|36.00|4|30|
Leather half soles||48.00|1|45|
Stick-on soles, ladies||28.00|3|15|
Stick-on soles, gents||30.00|3|15|
Re-stitching a welt|sewing|18.00|2|20|
Sole stuck back||9.00|5|10|
Boot zip|uppers|26.00|1.5|35|
New elastic||32.00|0.5|40|
Clean and polish|care|8.00|3|10|
"""
BAG = ("Paper bags", "1")
RECIPES: dict[str, list[tuple[str, ...]]] = {  # material, amount, unit, choice, option
    "Ladies heel tops": [("Heel tops, ladies, small", "1"), ("Contact cement", "2"), ("Heel pins", "6"), BAG],
    "Gents heel tops": [("Heel tops, gents", "1"), ("Contact cement", "5"), ("Rivets, 13 mm", "10"), BAG],
    "New heels, leather": [("Heel blocks, 40 mm", "1"), ("Heel tops, gents, leather", "1"), ("Contact cement", "10"), BAG],
    "Rubber half soles": [("Rubber half soles, medium", "1"), ("Contact cement", "15"), ("Edge ink, black", "4"), BAG],
    "Leather half soles": [("Oak bend, 5 mm", "4"), ("Contact cement", "15"), ("Sole thread, white", "3"), ("Edge ink, brown", "5"), BAG],
    "Stick-on soles, ladies": [("Stick-on soles, ladies", "1"), ("Contact cement", "10"), BAG],
    "Stick-on soles, gents": [("Stick-on soles, gents", "1"), ("Rubber cement", "12"), BAG],
    "Re-stitching a welt": [("Sole thread, black", "4")],
    "Sole stuck back": [("Contact cement", "6"), BAG],
    "Boot zip": [("Zip, 25 cm, black", "1", "", "colour", "black"), ("", "", "", "colour", "customer's own"), ("Machine thread, brown", "3")],
    "New elastic": [("Elastic, 75 mm", "0.3"), ("Machine thread, brown", "2")],
    "Clean and polish": [("Shoe polish, black", "0.05"), BAG],
}  # fmt: skip


def walk(hands: Newcomer, way: str) -> None:
    """Go from nothing to the first order list, saying at each step how far one is."""
    enter = table_is_pasted if way == "pasted" else table_is_typed
    shop_is_begun(hands, "Mill Lane Shoe Repair")
    for text in (SUPPLIERS, MATERIALS, JOBS):
        before = hands.driver.current_url
        enter(hands, text)
        hands.wait(partial(gone_on, before), "not saved")
        print(f"{before.rsplit('/', 2)[-2]}: {hands.pace().said()}", flush=True)
    recipes_are_typed(hands, RECIPES)
    print(f"recipes: {hands.pace().said()}", flush=True)
    shelf_is_counted(hands)
    print(f"counted: {hands.pace().said()}", flush=True)
    print(len(hands.finds(".filled tbody tr")), "lines on the first order list")


def main(way: str = "table", keep: str = "") -> None:
    """Walk the first day, and check the book that came of it."""
    options = Options()
    options.binary_location = "/usr/bin/chromium"
    for flag in ("headless=new", "no-sandbox", "disable-gpu", "disable-dev-shm-usage"):
        options.add_argument(f"--{flag}")
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service("/usr/bin/chromedriver"))
    try:
        with tempfile.TemporaryDirectory() as folder:
            begun = time.monotonic()
            with nothing(Path(folder)) as base:
                walk(Newcomer(driver, base, "", (1024, 768)), way)
            book = open_book(str(Path(folder) / "shop.sqlite"))
            assert check(book).faults == ()
            book.close()
            if keep:
                Path(keep).write_bytes((Path(folder) / "shop.sqlite").read_bytes())
            print(f"walked in {time.monotonic() - begun:.0f} s")
    finally:
        driver.quit()


if __name__ == "__main__":
    main(*sys.argv[1:3])
