"""Three years of the invented shop: reproducible, consistent, and interesting on its last day."""

from collections import Counter, defaultdict
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from stockroom.demo.catalogue import MATERIALS, RECIPES, SHELF, Row
from stockroom.demo.files import csv_text
from stockroom.demo.seasons import FIRST_DAY, LAST_DAY, OPEN
from stockroom.demo.shop import World
from stockroom.intake.columns import KINDS
from stockroom.stock.quantities import unit
from stockroom.stock.recipes import JobFacts, in_force, needs
from stockroom.stock.shoe_sizes import shoe_size

DATA = Path(__file__).parents[3] / "data"
Files = dict[str, list[Row]]


def _nano(row: Row) -> int:
    return unit(row["unit"]).of(Decimal(row["amount"])).nano


def _work(row: Row) -> JobFacts:
    chosen = dict(part.split("=") for part in row["choices"].split("; ") if part)
    return JobFacts(
        shoes=int(Decimal(row["pairs"] or 1) * 2),
        size=shoe_size(row["size"]) if row["size"] else None,
        chosen=chosen,
    )


def _drawn(row: Row) -> dict[str, int]:
    day = datetime.fromisoformat(row["finished"]).date()
    card = in_force([recipe for recipe in RECIPES if recipe.job == row["job"]], day)
    assert card is not None
    used: dict[str, int] = defaultdict(int)
    for need in needs(card, _work(row), SHELF):
        used[need.material] += need.nano
    return used


def test_the_files_in_the_data_folder_are_these_byte_for_byte(files: Files) -> None:
    for stem, rows in files.items():
        assert (DATA / f"{KINDS[stem].title}.csv").read_bytes() == csv_text(stem, rows).encode(), stem
    assert sum(path.stat().st_size for path in DATA.glob("*.csv")) < 3_000_000


def test_the_files_alone_add_up_to_the_shops_own_book(files: Files, world: World) -> None:
    moves: dict[str, list[tuple[str, int]]] = defaultdict(list)
    for row in files["opening"]:
        moves[row["material"]].append((row["day"], _nano(row)))
    for row in files["deliveries"]:
        if row.get("received"):
            moves[row["material"]].append((row["received"], _nano(row)))
    for row in (*files["sales"], *files["waste"]):
        moves[row["material"]].append((row["when"], -_nano(row)))
    for row in files["past-jobs"]:
        for code, nano in _drawn(row).items() if row["finished"] else ():
            moves[code].append((row["finished"], -nano))
    for material in MATERIALS:
        counted = [row for row in files["counts"] if row["material"] == material.code]
        last = counted[-1] if counted else None
        since = last["counted at"] if last else ""
        balance = (_nano(last) if last else 0) + sum(n for when, n in moves[material.code] if when > since)
        assert balance == world.shelves.book[material.code], material.code


def test_no_true_bin_ever_falls_below_nothing(world: World) -> None:
    assert min(world.shelves.true.values()) >= 0


def test_one_bin_is_below_zero_in_the_book_because_a_document_lies_about(world: World) -> None:
    below = [code for code, nano in world.shelves.book.items() if nano < 0]
    assert below == ["THREAD-BLK"]
    assert world.shelves.true["THREAD-BLK"] > 0
    assert any(line.material == "THREAD-BLK" for order in world.diary.open_orders for line in order.lines)


def test_weeks_bring_about_as_many_tickets_as_a_small_shop_can_do(files: Files) -> None:
    weeks = Counter(datetime.fromisoformat(row["taken in"]).strftime("%G-%V") for row in files["past-jobs"])
    full = sorted(weeks.values())[15:-15]  # leave closures and rushes out
    assert 35 < full[0] < full[-1] < 90
    assert 45 < sum(full) / len(full) < 70


def test_seasons_show_in_the_tickets(files: Files) -> None:
    months = Counter((row["job"], row["taken in"][5:7]) for row in files["past-jobs"])
    assert months["BOOT", "10"] + months["BOOT", "11"] > 2 * (months["BOOT", "06"] + months["BOOT", "07"])
    assert months["SLING", "06"] > 3 * months["SLING", "12"]
    gifts = Counter(row["when"][5:7] for row in files["sales"] if row["material"] == "GIFT-KIT")
    assert gifts["12"] > gifts["06"]


def test_nothing_happens_on_a_day_the_shop_is_shut(files: Files) -> None:
    columns = {"past-jobs": ("taken in", "finished"), "sales": ("when",), "waste": ("when",), "counts": ("counted at",)}
    columns["deliveries"] = ("received",)
    for stem, names in columns.items():
        for row in files[stem]:
            for name in names:
                if row.get(name):
                    day = datetime.fromisoformat(row[name]).date()
                    assert FIRST_DAY <= day <= LAST_DAY, (stem, row)
                    assert OPEN.is_open(day), (stem, row)


def test_tickets_are_finished_after_they_are_taken_in_and_numbered_in_that_order(files: Files) -> None:
    taken = [row["taken in"] for row in files["past-jobs"]]
    assert taken == sorted(taken)
    assert all(row["finished"] >= row["taken in"] for row in files["past-jobs"] if row["finished"])
    numbers = [int(row["ticket"]) for row in files["past-jobs"]]
    assert numbers == list(range(20001, 20001 + len(numbers)))


def test_tickets_have_their_rare_sorts_too(files: Files) -> None:
    rows = files["past-jobs"]
    numbers = {row["ticket"] for row in rows}
    redone = [row for row in rows if row["redo of"]]
    assert all(row["redo of"] in numbers and row["price"] == "0.00" for row in redone)
    assert 40 < len(redone) < 200
    assert 40 < sum(row["cancelled"] == "yes" for row in rows) < 200
    assert sum(row["by post"] == "yes" for row in rows) > 40
    assert sum(row["size"].startswith("UK") for row in rows) > 20
    assert sum(row["pairs"] == "0.5" for row in rows) > 300


def test_the_last_day_leaves_booked_work_and_open_orders_one_of_them_late(files: Files) -> None:
    booked = [r for r in files["past-jobs"] if not r["finished"] and not r["cancelled"]]
    promised = [date.fromisoformat(row["promised"]) for row in booked]
    assert 8 <= len(booked) <= 30
    assert max(promised) > LAST_DAY + timedelta(days=7)
    still = {
        row["order"]: date.fromisoformat(row["expected"]) for row in files["deliveries"] if not row.get("received")
    }
    assert any(day < LAST_DAY for day in still.values())
    assert any(day > LAST_DAY for day in still.values())


def test_deliveries_came_late_and_in_parts(files: Files) -> None:
    notes: dict[str, set[str]] = defaultdict(set)
    for row in files["deliveries"]:
        notes[row["order"]].add(row.get("reference", ""))
    assert sum(len(found) > 1 for found in notes.values()) >= 5
    days = defaultdict(set)
    for row in files["deliveries"]:
        if row.get("received"):
            took = (datetime.fromisoformat(row["received"]).date() - date.fromisoformat(row["ordered"])).days
            days[row["supplier"]].add(took)
    assert all(max(found) > 2 * min(found) for found in days.values())


def test_counts_teach_that_cement_is_used_faster_than_the_cards_say(files: Files, world: World) -> None:
    corrections = 0
    book: dict[str, int] = defaultdict(int)
    events = [
        (row["finished"], "draw", -_drawn(row).get("CEM-SOLV", 0)) for row in files["past-jobs"] if row["finished"]
    ]
    for stem, column in (("opening", "day"), ("deliveries", "received"), ("waste", "when"), ("counts", "counted at")):
        sign = -1 if stem == "waste" else 1
        events += [
            (row[column], stem, sign * _nano(row))
            for row in files[stem]
            if row["material"] == "CEM-SOLV" and row.get(column)
        ]
    for _, kind, nano in sorted(events):
        if kind == "counts":
            corrections += nano - book["it"]
            book["it"] = nano
        else:
            book["it"] += nano
    drawn = -sum(nano for _, kind, nano in events if kind == "draw")
    assert -0.40 < corrections / drawn < -0.05
    assert book["it"] == world.shelves.book["CEM-SOLV"]
