"""Four weeks of a shop run by a program: load the week's facts, ask as of a date, order, receive; all of it agrees."""

import csv
import json
from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

from tests.end_to_end.shop import LEFT, Indoors

MONDAY = date(2026, 11, 23)
WEEKS = 4
# A pair of full soles in EU 42, and a pair of heels on a pin, by their recipes.
FULL = {"BEND": Decimal("6.75"), "THREAD-BLK": Decimal("4.2"), "CEMENT": Decimal(18)}
HEEL = {"TOP-PIN": Decimal(1), "CEMENT": Decimal("2.5")}


@dataclass
class Program:
    """What a program has to remember between weeks: what it ordered, and by its own sums what the shelf holds."""

    desk: Indoors
    folder: Path
    held: dict[str, Decimal] = field(default_factory=dict)
    open_orders: dict[str, dict[str, Any]] = field(default_factory=dict)

    def load_week(self, monday: date) -> None:
        """Write last week's finished tickets as a file and load it: five of each job."""
        days = [monday - timedelta(days=6 - n) for n in range(5)]
        rows = [row for n, day in enumerate(days) for row in _jobs(monday, n, day)]
        path = self.folder / str(monday) / "past-jobs.csv"
        path.parent.mkdir()
        with path.open("w", encoding="utf-8", newline="") as opened:
            writer = csv.DictWriter(opened, list(rows[0]))
            writer.writeheader()
            writer.writerows(rows)
        self.desk.says("load", str(path), now=_at(monday))
        for amounts in (FULL, HEEL):
            for code, amount in amounts.items():
                self.held[code] -= 5 * amount

    def receive_all(self, monday: date) -> None:
        """Take in what was ordered a week ago, whole."""
        for number, order in self.open_orders.items():
            self.desk.facts("receive", number, "--once", f"arrival of {number}", now=_at(monday))
            for code, amount in order.items():
                self.held[code] = self.held.get(code, Decimal(0)) + amount
        self.open_orders = {}

    def order(self, monday: date) -> Decimal:
        """Order what is suggested as of the day, line by line; gives the goods' worth."""
        suggested = self.desk.facts("reorder", "--as-of", f"{monday}T09:00", now=_at(monday))
        for each in suggested["suppliers"]:
            lines = [f"{line['material']}={line['packs']}" for line in each["lines"]]
            key = ("--once", f"order of {monday} to {each['supplier']}")
            placed = self.desk.facts("order", each["supplier"], *lines, *key, now=_at(monday))
            again = self.desk.facts("order", each["supplier"], *lines, *key, now=_at(monday))
            assert again["order"] == placed["order"]  # the same mark twice changes nothing
            self.open_orders[placed["order"]] = _amounts(each["lines"])
        return sum((Decimal(each["goods"]) for each in suggested["suppliers"]), Decimal(0))


def _jobs(monday: date, n: int, day: date) -> list[dict[str, str]]:
    first = 100_000 + monday.toordinal() % 1000 * 100 + 2 * n
    at = {"taken in": f"{day} 09:30", "finished": f"{day} 16:00"}
    return [
        {"ticket": str(first), **at, "job": "FULL", "size": "EU 42", "choices": "sole=bend"},
        {"ticket": str(first + 1), **at, "job": "HEEL-L", "size": "", "choices": "top=pin"},
    ]


def _amounts(lines: list[dict[str, Any]]) -> dict[str, Decimal]:
    found: dict[str, Decimal] = defaultdict(Decimal)
    for line in lines:
        found[line["material"]] += Decimal(line["amount"])
    return dict(found)


def _at(monday: date) -> str:
    return f"{monday}T09:00:00"


def test_four_weeks_by_a_program(desk: Indoors, tmp_path: Path) -> None:
    program = Program(desk, tmp_path)
    program.held.update({code: Decimal(amount) for code, amount in LEFT.items()})
    spent = Decimal(0)
    for week in range(WEEKS):
        monday = MONDAY + timedelta(weeks=week)
        if week:
            program.load_week(monday)
        program.receive_all(monday)
        spent += program.order(monday)

        shelf = {row["material"]: row for row in desk.facts("shelf", now=_at(monday))["rows"]}
        for code in LEFT:
            coming = sum((order.get(code, Decimal(0)) for order in program.open_orders.values()), Decimal(0))
            assert Decimal(shelf[code]["on_hand"]) == program.held[code], (week, code)
            assert Decimal(shelf[code]["on_order"]) == coming, (week, code)
        assert {each["order"] for each in desk.facts("orders", now=_at(monday))} == set(program.open_orders)
    assert spent > 0
    assert all(program.held[code] > 0 for code in LEFT)  # five of each job a week, and nothing ran out
    desk.figure()


def test_asking_twice_answers_the_same_and_orders_nothing(desk: Indoors) -> None:
    asked = ("reorder", "--as-of", f"{MONDAY}T09:00", "--json")
    before = desk.figure()
    assert json.loads(desk.says(*asked)) == json.loads(desk.says(*asked))
    assert desk.figure() == before
    assert desk.facts("orders") == []
