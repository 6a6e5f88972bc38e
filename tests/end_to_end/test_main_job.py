"""The whole job, once around, through the real command line: files, bench, shelf, outlook, order, delivery, undo."""

import json
import os
import re
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from stockroom.show.tables.schema import LISTS
from tests.end_to_end.shop import DATA, EVENING, LEFT, Bench, Indoors, small_shop, typed

SCHEMAS = Path(__file__).parents[2] / "stockroom" / "show" / "tables" / "schemas"


def exact(row: dict[str, Any], column: str = "on_hand") -> Decimal:
    return Decimal(row[column])


def test_once_around(bench: Bench) -> None:
    look = Indoors(bench.place)  # the same book; commands that enter or reckon go through processes of their own
    start = look.figure()
    assert {code: exact(look.shelf(code)) for code in LEFT} == {c: Decimal(n) for c, n in LEFT.items()}

    # Taken in: set aside by the recipe, still on hand. EU 43 against EU 42 is 43/42 as long; a sole's area its square.
    promised = ("--size", "EU 43", "--promised", "2026-12-02", "--number", "9001")
    assert bench.says("take-in", "full", *promised) == (
        "Ticket 9001: Full soles, EU 43, sole bend, promised Wed 2 Dec 2026, €85.00\n"
        "Contact cement: no flame or spark near it, air the room or use extraction. Local rules and the safety data "
        "sheet go first.\n"
    )
    bend, thread = Fraction(27, 4) * Fraction(43, 42) ** 2, Fraction(42, 10) * Fraction(43, 42)
    row = bench.shelf("BEND")
    assert exact(row) == 50
    assert exact(row, "set_aside") == rounded(bend)
    assert exact(row, "free") == 50 - rounded(bend)

    # Finished: the same amounts leave; two coats of 9 ml of cement.
    said = bench.says("finish", "9001")
    assert said.splitlines()[0] == "Ticket 9001 finished: FULL (document 413)."
    assert "  CEMENT: 18 ml for sole cement, 232 ml left" in said.splitlines()
    left = {"BEND": 50 - rounded(bend), "THREAD-BLK": 60 - rounded(thread), "CEMENT": Decimal(232)}
    assert {code: exact(look.shelf(code)) for code in left} == left
    assert exact(look.shelf("BEND"), "set_aside") == 0
    assert bench("finish", "9001").code == 5

    # Straight from the counter, another top, and more cement than the recipe says.
    at_once = bench.facts("finish", "heel", "--with", "top=block", "--used", "heel cement=4 ml")
    assert at_once["left"] == {"TOP-BLOCK": amount("7", "pair"), "CEMENT": amount("228", "ml")}
    assert at_once["price"] == "11.50"

    # Looking ahead: the bend goes first, and is on the list to order.
    soonest = bench.facts("run-outs")["rows"][0]
    assert soonest["material"] == "BEND"
    assert "2026-11-28" <= soonest["runs_out"] <= "2026-12-05"
    lists = {each["supplier"]: each for each in bench.facts("reorder")["suppliers"]}
    packs = {line["material"]: line["packs"] for line in lists["HIDE"]["lines"]}
    assert packs["BEND"] >= 1

    # Ordered, part received, received: what was ordered is what came.
    ordered = bench.facts("order", "hide", f"BEND={packs['BEND']}", "TOP-PIN=2")
    assert (ordered["order"], ordered["carriage"]) == ("O-0001", "9.00")
    assert exact(look.shelf("BEND"), "on_order") == 110 * packs["BEND"]
    part = bench.says("receive", "O-0001", "TOP-PIN=1")
    differs = "If the invoice differs: stockroom undo 416, then receive it again with --carriage."
    assert part.splitlines() == [
        "Order O-0001 is part received. Document 416.",
        "  20 pairs TOP-PIN for €18.00, €27.00 with all costs, before tax",
        f"Carriage of €9.00 is entered as agreed on the order. {differs}",
    ]
    assert exact(look.shelf("TOP-PIN")) == 35
    assert exact(look.shelf("TOP-PIN"), "on_order") == 20
    coming = {line["material"]: line["outstanding"] for line in look.facts("orders")[0]["lines"]}
    assert coming["TOP-PIN"] == {"amount": "20", "unit": "pair"}, "in the unit of the shelf"
    before_rest = look.figure()
    rest = bench.says("receive", "O-0001").splitlines()
    assert (rest[0], rest[-1]) == ("Order O-0001 is closed. Document 417.", "  20 pairs TOP-PIN for €18.00")
    assert exact(look.shelf("TOP-PIN")) == 55
    assert exact(look.shelf("BEND")) == left["BEND"] + 110 * packs["BEND"]
    assert look.says("orders") == "Nothing is on order.\n"

    # Taken back: the goods are gone again, and to come again; the book says both.
    assert bench.says("undo") == "Document 417 (delivery O-0001) is undone by document 418.\n"
    assert exact(look.shelf("BEND")) == left["BEND"]
    assert exact(look.shelf("BEND"), "on_order") == 110 * packs["BEND"]
    assert len({start, before_rest, bench.figure()}) == 3


def test_every_list_keeps_to_its_published_schema(desk: Indoors) -> None:
    jsonschema = pytest.importorskip("jsonschema")
    for name in LISTS:
        schema = json.loads((SCHEMAS / f"{name}.json").read_text("utf-8"))
        jsonschema.validate(desk.facts(name), schema, format_checker=jsonschema.FormatChecker())


def test_an_entry_repeated_with_its_key_changes_nothing(desk: Indoors) -> None:
    once = desk.facts("finish", "heel", "--once", "till-17")
    figure = desk.figure()
    again = desk.facts("finish", "heel", "--once", "till-17")
    assert (once["new"], again["new"]) == (True, False)
    assert {**once, "new": False} == again
    assert desk.figure() == figure


def test_a_dry_run_and_a_second_load_change_nothing(desk: Indoors, tmp_path: Path) -> None:
    files = small_shop(tmp_path / "files")
    figure = desk.figure()
    report = desk.facts("load", str(files))
    assert (report["documents"], report["already_there"]) == (0, 410)  # its tickets too
    (files / "sales.csv").write_text("when,material,amount,price,receipt\n2026-11-21 12:00,ZIP-25,1,9.00,R1\n")
    tried = desk.facts("load", "--check-only", str(files))
    assert (tried["documents"], tried["tried_only"]) == (1, True)
    assert desk.figure() == figure
    assert exact(desk.shelf("ZIP-25")) == 5
    assert desk.facts("load", str(files))["documents"] == 1
    assert exact(desk.shelf("ZIP-25")) == 4
    assert desk.facts("load", str(files))["documents"] == 0


def test_a_load_is_whole_or_not_at_all(desk: Indoors, tmp_path: Path) -> None:
    figure = desk.figure()
    path = tmp_path / "sales.csv"
    path.write_text("when,material,amount\n2026-11-21 12:00,ZIP-25,1\n2026-11-21 12:05,ZIP-99,1\nsoon,ZIP-25,-1\n")
    ran = desk("load", str(path))
    assert ran.code == 7
    assert re.findall(r"^sales.csv, row (\d+), column '(\w+)'", ran.err, re.MULTILINE) == [
        ("3", "material"),
        ("4", "when"),
        ("4", "amount"),
    ]
    assert "3 problems found; nothing was loaded." in ran.err
    assert desk.figure() == figure


@pytest.mark.slow
def test_the_invented_shop_loads_the_same_twice(empty: Indoors) -> None:
    bench = Indoors(empty.place, now=EVENING)
    assert bench.facts("load", str(DATA))["rows"]["past-jobs"] > 8000
    figure = bench.figure()
    assert bench.facts("load", str(DATA))["documents"] == 0
    assert bench.figure() == figure


@pytest.mark.slow
def test_the_demo_shows_the_whole_job_and_touches_nothing_else(tmp_path: Path) -> None:
    home, work = tmp_path / "home", tmp_path / "work"
    home.mkdir()
    work.mkdir()
    ran = typed("demo", env={"HOME": str(home), "MPLCONFIGDIR": "", "TMPDIR": str(home)}, folder=work)
    assert ran.code == 0, ran.err
    for sentence in (
        "On hand on Sat 21 Nov 2026",
        "Stock running out, as seen on",
        "Suggested orders, as seen on",
        "Reports:",
    ):
        assert sentence in ran.out
    assert [path.name for path in work.iterdir()] == ["stockroom-demo"]
    assert {path.name for path in (work / "stockroom-demo").iterdir()} == {"book.sqlite", "data", "reports"}
    assert own_traces(home) == []
    written = {path.name for path in (work / "stockroom-demo" / "reports").iterdir()}
    assert {"shelf.xlsx", "run-outs.xlsx", "reorder.xlsx", "shelf.json", "run-outs.png"} <= written
    for path in (work / "stockroom-demo" / "data").iterdir():
        assert path.read_bytes() == (DATA / path.name).read_bytes(), path.name
    assert typed("demo", folder=work).code == 5


def own_traces(home: Path) -> list[str]:
    """What is left in the home folder, apart from the drawing library's own list of fonts."""
    return [str(Path(at) / name) for at, _, names in os.walk(home) for name in names if "matplotlib" not in at]


def rounded(exactly: Fraction) -> Decimal:
    """Round as the book does: to a billionth of the base unit."""
    return Decimal(round(exactly * 10**9)) / 10**9


def amount(figure: str, unit: str) -> dict[str, str]:
    return {"amount": figure, "unit": unit}
