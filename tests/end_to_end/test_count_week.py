"""A week's count through the real command line: sheet out, filled in, in, counted again, settled, undone, learnt from."""

import csv
import re
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook

from tests.end_to_end.shop import FIRST, Indoors, Rows, days, small_shop

NOW = "2026-11-21T18:30:00"
TRUE_CEMENT = Decimal("21.6")  # ml a pair really takes; the card says two coats of 9
TRUE_HEEL = Decimal("2.5")
PERIOD = 4  # weeks between counts of the cement


def sheet_of(desk: Indoors, folder: Path, *words: str) -> Path:
    said = desk.says("count-sheet", str(folder), *words)
    return Path(said.partition(":")[0])


def fill(path: Path, **found: str | float) -> None:
    """Fill in amounts, or answers where they are texts, by material; the time is the evening's."""
    book = load_workbook(path)
    page = book["Counts"]
    column = {str(cell.value): n for n, cell in enumerate(page[1], 1)}
    for row in range(2, page.max_row + 1):
        code = str(page.cell(row, column["Material"]).value).replace("-", "_")
        if code in found:
            heading = "Answers" if isinstance(found[code], str) else "Amount"
            page.cell(row, column[heading], found[code])
            page.cell(row, column["Counted at"], datetime(2026, 11, 21, 18, 20))
            page.cell(row, column["Who"], "bench 1")
    book.save(path)


@pytest.fixture
def evening(desk: Indoors) -> Indoors:
    return Indoors(desk.place, now=NOW)


def by_material(facts: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {each["material"]: each for each in facts["differences"]}


def test_from_the_sheet_to_the_settled_count_and_back(evening: Indoors, tmp_path: Path) -> None:
    before = evening.figure()
    path = sheet_of(evening, tmp_path, "--location", "A")
    assert evening.figure() == before, "making a sheet books nothing"
    book = load_workbook(path)
    assert "Book" not in {cell.value for cell in book["Counts"][1]}, "blind by default"

    path = sheet_of(evening, tmp_path)
    key = path.stem.removeprefix("count-sheet-")
    assert key == "C-2026-11-21-2"
    fill(path, CEMENT=230, TOP_BLOCK=5, POLISH_BLK=8, ZIP_25=0, BEND=50)
    taken = by_material(evening.facts("count", str(path)))
    assert {code: each["verdict"] for code, each in taken.items()} == {
        "CEMENT": "recount first",  # 20 ml of 250: class C may be 5 % out
        "TOP-BLOCK": "recount first",
        "POLISH-BLK": "agrees",
        "ZIP-25": "recount first",
        "BEND": "agrees",
    }
    assert "SOLE-RUB" not in taken, "blank is not counted"
    assert taken["TOP-BLOCK"]["difference"] == {"amount": "-3", "unit": "pair"}
    assert taken["TOP-BLOCK"]["value_minor_units"] == -330
    assert evening.facts("count", str(path))["bins"] == 5, "the same sheet twice changes nothing"

    # Counted again: the heel tops are confirmed, the zips were overlooked.
    evening.facts("count", "TOP-BLOCK=5", "--sheet", key, "--at", "2026-11-21T18:25")
    evening.facts("count", "ZIP-25=5", "--sheet", key, "--at", "2026-11-21T18:26")
    judged = by_material(evening.facts("differences", key))
    assert judged["TOP-BLOCK"]["verdict"] == "confirmed by recount"
    assert judged["ZIP-25"]["verdict"] == "agrees", "as in the book: no third count is asked for"

    words = evening.says("differences", key, "--xlsx", str(tmp_path / "differences.xlsx"))
    assert "Count again first: CEMENT." in words
    assert load_workbook(tmp_path / "differences.xlsx")["Differences"].max_row == 6

    done = evening.facts("post-count", key, "--reason", "top-block=gift", "--once", "evening")
    assert (done["posted"], done["held_back"]) == (["TOP-BLOCK", "ZIP-25", "BEND", "POLISH-BLK"], ["CEMENT"])
    assert done["moves"] == 1
    assert evening.shelf("TOP-BLOCK")["on_hand"] == "5"
    assert evening.facts("post-count", key, "--reason", "top-block=gift", "--once", "evening")["new"] is False
    assert evening.facts("differences") == {key: 1}
    assert evening.facts("post-count", key, "--accept", "cement", "--reason", "CEMENT=spoilt")["posted"] == ["CEMENT"]
    assert evening.shelf("CEMENT")["on_hand"] == "230"

    # Undone as one document, settled again as another.
    evening.says("undo", str(done["document"]))
    assert evening.shelf("TOP-BLOCK")["on_hand"] == "8"
    assert evening.shelf("CEMENT")["on_hand"] == "230"
    again = evening.facts("post-count", key)
    assert again["held_back"] == [], "the recount still speaks"
    assert evening.shelf("TOP-BLOCK")["on_hand"] == "5"

    report = evening.facts("count-report", str(tmp_path / "report"))
    assert [each["period"] for each in report["accuracy"]] == ["2026-11-21"]
    reasons = {each["reason"]: each["gross_minor_units"] for each in report["reasons"]}
    assert reasons["gift"] == 330
    assert {each.name for each in (tmp_path / "report").iterdir()} == {
        "count-report.xlsx", "count-report.json", "count-accuracy.png",
    }  # fmt: skip


def test_two_people_counting_the_same_bin_is_found_and_resolved(evening: Indoors) -> None:
    evening.facts("count", "SOLE-RUB=11", "--sheet", "anna", "--who", "bench 1", "--at", "2026-11-21T18:10")
    evening.facts("count", "SOLE-RUB=10", "--sheet", "ben", "--who", "bench 2", "--at", "2026-11-21T18:15")
    late = by_material(evening.facts("differences", "ben"))["SOLE-RUB"]
    assert late["verdict"] == "recount first"
    assert late["why"] == "counted 2 times, with different results: count it once more"
    early = by_material(evening.facts("differences", "anna"))["SOLE-RUB"]
    assert early["why"] == "counted again later on another sheet: that count holds"
    evening.facts("count", "SOLE-RUB=11", "--sheet", "ben", "--at", "2026-11-21T18:20")
    assert by_material(evening.facts("differences", "ben"))["SOLE-RUB"]["verdict"] == "confirmed by recount"
    evening.facts("post-count", "ben")
    assert evening.shelf("SOLE-RUB")["on_hand"] == "11"
    assert evening.facts("differences") == {}, "the other person's line is done with"


def test_a_tin_on_the_scale(evening: Indoors, tmp_path: Path) -> None:
    folder = tmp_path / "cards"
    folder.mkdir()
    (folder / "materials.csv").write_text(
        "code,name,family,unit,place,bridge,extra,usual cost\n"
        "CEMENT,Contact cement,cement,ml,B1,1 ml = 0.86 g,tare=410 g,0.02\n"
    )
    evening.facts("load", str(folder))
    typed = evening.facts("count", "CEMENT", "--aid", "tin-weight", "gross=625", "--sheet", "scale")
    assert by_material(typed)["CEMENT"]["found"] == {"amount": "250", "unit": "ml"}
    assert by_material(typed)["CEMENT"]["verdict"] == "agrees"
    path = sheet_of(evening, tmp_path, "--location", "B1")
    fill(path, CEMENT="582")
    found = by_material(evening.facts("count", str(path)))["CEMENT"]
    assert (found["found"], found["aid"]) == ({"amount": "200", "unit": "ml"}, "tin-weight")


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (("TOP-PIN=-1",), 2, "TOP-PIN: a count can't be below zero."),
        (("TOP-NIP=1",), 3, "No material fits 'TOP-NIP'."),
        (("TOP-PIN=3 m",), 2, "TOP-PIN is kept in pair (count), not in length: 3 m."),
        (("TOP-PIN=3", "TOP-PIN=4"), 2, "TOP-PIN is on the sheet twice."),
        (("TOP-PIN=90000",), 5, "TOP-PIN: 180000 piece is 6000 times the usual 30 piece. Is the unit right?"),
        (("CEMENT=3", "TOP-PIN"), 2, "'TOP-PIN' is not a counted item."),
        (("CEMENT", "--aid", "tin-wight"), 3, "No counting method is called 'tin-wight'."),
        (("CEMENT", "--aid", "tin-weight", "grams=3"), 2, "'Part-used tin by weight' doesn't ask for 'grams'."),
        (("/nowhere/counts.csv",), 7, "1 problem found; nothing was loaded."),
        ((), 2, "Nothing was counted."),
    ],
)
def test_what_can_not_have_been_counted_is_refused_whole(
    evening: Indoors, words: tuple[str, ...], code: int, says: str
) -> None:
    ran = evening("count", "BEND=1", *words) if words and "aid" not in str(words) and "/" not in words[0] else None
    ran = ran or evening("count", *words)
    assert ran.code == code, ran.err
    assert f"Error: {says}" in ran.err
    assert evening.facts("differences") == {}


def test_an_absurd_amount_is_taken_when_the_owner_says_so(evening: Indoors) -> None:
    assert by_material(evening.facts("count", "TOP-PIN=90000", "--yes"))["TOP-PIN"]["verdict"] == "recount first"


def test_a_sheet_from_another_shop_and_an_older_one_are_refused(evening: Indoors, tmp_path: Path) -> None:
    other = Indoors(tmp_path / "other.sqlite", now=NOW)
    other.says("new-book", "--set", "name=The other shop")
    other.says("load", str(small_shop(tmp_path / "files", history=False) / "materials.csv"))
    path = sheet_of(other, tmp_path)
    ran = evening("count", str(path))
    assert ran.code == 5
    assert "was made for 'The other shop'; this is the book of 'The small shop'." in ran.err

    path = sheet_of(evening, tmp_path / "a")
    fill(path, TOP_PIN=14)
    evening.facts("count", "TOP-PIN=15", "--sheet", "later", "--at", "2026-11-21T18:29")
    evening.facts("post-count", "later")
    ran = evening("count", str(path))
    assert ran.code == 5
    assert "TOP-PIN was counted on 2026-11-21 18:29 and posted since; this sheet is older." in ran.err
    assert evening.facts("differences") == {}

    evening.facts("count", str(path), "--yes")
    evening.facts("post-count", "C-2026-11-21-1", "--confirmed")
    assert evening.facts("count", str(path), "--yes")["differences"][0]["settled"] is True
    fill(path, TOP_PIN=13)
    ran = evening("count", str(path), "--yes")
    assert "TOP-PIN is on count sheet C-2026-11-21-1 already, with 14 pairs (posted)." in ran.err


def test_faults_of_a_filled_sheet_are_listed_and_nothing_is_entered(evening: Indoors, tmp_path: Path) -> None:
    path = sheet_of(evening, tmp_path)
    fill(path, TOP_PIN=-2, BEND=50, CEMENT="grams=3")
    ran = evening("count", str(path))
    assert ran.code == 7
    assert re.search(r"row \d+, column 'amount'", ran.err)
    assert evening.facts("differences") == {}


def change(path: Path, heading: str, value: str | None, *, sheet: str = "Counts", row: int = 2) -> None:
    book = load_workbook(path)
    page = book[sheet]
    column = next(n for n, cell in enumerate(page[1], 1) if cell.value == heading)
    page.cell(row, column).value = value
    book.save(path)


def test_a_sheet_goes_into_the_book_it_was_made_from_and_its_rows_stay_on_it(evening: Indoors, tmp_path: Path) -> None:
    path = sheet_of(evening, tmp_path, "--location", "B1")
    fill(path, CEMENT=250)
    change(path, "Sheet", "C-2026-01-01-1")
    ran = evening("count", str(path))
    assert (ran.code, "Rows of count sheet 'C-2026-01-01-1' stand on sheet C-2026-11-21-1." in ran.err) == (5, True)
    book = load_workbook(path)
    book["Mark"]["B2"] = "C-2025-11-21-9"
    book.save(path)
    ran = evening("count", str(path))
    assert (ran.code, "Count sheet C-2025-11-21-9 was not made from this book." in ran.err) == (5, True)
    del book["Mark"]  # a sheet made by hand is taken as it stands
    book.save(path)
    assert evening.facts("count", str(path))["sheet"] == "C-2026-01-01-1"


def test_answers_on_a_sheet_are_read_by_name_or_refused(evening: Indoors, tmp_path: Path) -> None:
    path = sheet_of(evening, tmp_path, "--location", "B1")
    change(path, "Counting method", "sealed-open")
    fill(path, CEMENT="2; 3")
    ran = evening("count", str(path))
    assert ran.code == 7
    assert "'2' answers nothing by name (found: '2; 3'). Write it like sealed=…; full=…." in ran.err
    change(path, "Answers", "sealed=2; tenths=5; full=100 ml")
    change(path, "Counted at", None)
    ran = evening("count", str(path))
    assert (ran.code, "When the item was counted isn't stated" in ran.err) == (7, True)
    entered = by_material(evening.facts("count", str(path), "--at", "2026-11-21T18:20"))["CEMENT"]
    assert (entered["found"], entered["counted_at"]) == ({"amount": "250", "unit": "ml"}, "2026-11-21T18:20")
    assert evening.says("count", "--sheet", "C-2026-11-21-1", "--drop", "CEMENT")
    change(path, "Counted at", "2026-11-21 18:21")
    assert by_material(evening.facts("count", str(path)))["CEMENT"]["found"] == {"amount": "250", "unit": "ml"}


def test_several_files_are_entered_and_settled_each_for_itself(evening: Indoors, tmp_path: Path) -> None:
    head = "counted at,material,amount,sheet\n"
    (tmp_path / "counts-a.csv").write_text(f"{head}2026-11-21 18:04,TOP-PIN,14,a\n")
    (tmp_path / "counts-b.csv").write_text(f"{head}2026-11-21 18:05,BEND,49,b\n")
    files = [str(tmp_path / "counts-a.csv"), str(tmp_path / "counts-b.csv")]
    first, second = evening.facts(
        "count", *files, "--post", "--accept", "top-pin", "--accept", "bend", "--once", "both"
    )
    assert (first["sheet"], second["sheet"], first["settled"], second["settled"]) == ("a", "b", True, True)
    assert [evening.shelf(code)["on_hand"] for code in ("TOP-PIN", "BEND")] == ["14", "49"]
    assert evening.says("differences") == "No count waits to be posted.\n"
    ran = evening("count", files[0], "BEND=3")
    assert (ran.code, "Files and typed lines don't go together." in ran.err) == (2, True)


def test_rows_that_do_not_say_when_take_the_moment_typed(evening: Indoors, tmp_path: Path) -> None:
    path = tmp_path / "counts.csv"
    path.write_text("counted at,material,amount,sheet\n,TOP-PIN,15,a\n2026-11-21 18:05,BEND,50,a\n")
    assert "When the item was counted isn't stated" in evening("count", str(path)).err
    entered = by_material(evening.facts("count", str(path), "--at", "2026-11-21T18:20"))
    assert {code: each["counted_at"] for code, each in entered.items()} == {
        "TOP-PIN": "2026-11-21T18:20",
        "BEND": "2026-11-21T18:05",
    }


def test_after_a_count_only_what_settling_takes_is_offered(evening: Indoors) -> None:
    said = evening.says("count", "TOP-PIN=1", "--sheet", "off", "--yes")
    assert "First count again: TOP-PIN (stockroom count --sheet 'off' MATERIAL=AMOUNT)" in said
    assert evening.says("differences") == "off: 1 item to post\n"
    said = evening.says("count", "BEND=50", "--sheet", "off")
    assert "To post the count: stockroom post-count 'off' (not posted until counted again: TOP-PIN)" in said
    evening.says("post-count", "off", "--confirmed")
    assert "Nothing of it is left to post." in evening.says("count", "BEND=50", "--sheet", "off")


def test_a_slip_of_the_pen_is_posted_by_neither_way_of_settling(evening: Indoors) -> None:
    """15 pairs are there; 51 typed for 15 would have been bought back for months."""
    before = evening.shelf("TOP-PIN")["on_hand"]
    said = evening.says("count", "TOP-PIN=51", "BEND=50", "--sheet", "s", "--yes", "--settle")
    assert "Not posted: TOP-PIN, too far from the book." in said
    assert "or, if it is right: stockroom post-count 's' --accept TOP-PIN" in said
    assert evening.shelf("TOP-PIN")["on_hand"] == before
    assert evening("settle", "s").code == 5
    taken = evening.facts("count", "BEND=50", "--sheet", "s", "--settle")
    assert (taken["settled"], taken["held_back"]) == (False, ["TOP-PIN"])
    assert evening.shelf("TOP-PIN")["on_hand"] == before
    said = evening.says("count", "BEND=50", "--sheet", "s", "--settle", "--accept", "top-pin")
    assert said.endswith("The book agrees now.\n")
    assert evening.shelf("TOP-PIN")["on_hand"] == "51"
    assert "--accept goes with --post" in evening("count", "BEND=50", "--sheet", "t", "--accept", "BEND").err


def test_a_wrong_entry_is_dropped_and_typed_again(evening: Indoors) -> None:
    evening.says("count", "TOP-PIN=41", "--sheet", "s")
    ran = evening("count", "TOP-PIN=14", "--sheet", "s")
    assert "To replace it: stockroom count --sheet 's' --drop TOP-PIN, then enter it again." in ran.err
    assert evening.says("count", "--sheet", "s", "--drop", "top-pin") == "Left out of s: TOP-PIN.\n"
    assert evening.says("count", "TOP-PIN=15", "--sheet", "s").splitlines() == [
        "TOP-PIN: counted 15 pairs, book says 15 pairs, difference 0 pairs (agrees)",
        "To post the count: stockroom post-count 's'",
    ]
    assert evening("count", "--drop", "TOP-PIN").code == 2
    ran = evening("count", "BEND=1", "--at", "2026-11-21T18:29", "--sheet", "t")
    assert evening("post-count", "t", "--reason", "BEND=lost").code == 3


@pytest.fixture
def taught(empty: Indoors, tmp_path: Path) -> Indoors:
    """A small shop whose soles take a fifth more cement than their card says, counted every fourth Saturday."""
    files = small_shop(tmp_path / "files", history=False)
    jobs, counts = year()
    stock = (files / "opening.csv").read_text().replace("CEMENT,4350", "CEMENT,9000")
    (files / "opening.csv").write_text(stock)
    _write(files / "past-jobs.csv", jobs)
    _write(files / "counts.csv", counts)
    desk = Indoors(empty.place, now=NOW)
    desk.says("load", str(files))
    return desk


def year() -> tuple[Rows, Rows]:
    jobs: Rows = []
    counts: Rows = []
    left = Decimal(9000)
    for n, day in enumerate(days()):
        mix = [("FULL", "EU 42", "sole=bend")] * ((n // 20) % 3) + [("HEEL-L", "", "")] * ((n // 20 * 7) % 5)
        for job, size, choice in mix:
            jobs.append({
                "ticket": str(3000 + len(jobs)), "taken in": f"{day} 09:30", "finished": f"{day} 16:00", "job": job,
                "size": size, "choices": choice,
            })  # fmt: skip
            left -= TRUE_CEMENT if job == "FULL" else TRUE_HEEL
        if day.weekday() == 5 and ((day - FIRST).days // 7 + 1) % PERIOD == 0:
            counts.append({"counted at": f"{day} 18:00", "material": "CEMENT", "amount": str(left), "error": "4",
                           "sheet": f"W{day:%V}"})  # fmt: skip
    return jobs, counts


def _write(path: Path, rows: Rows) -> None:
    with path.open("w", encoding="utf-8", newline="") as opened:
        writer = csv.DictWriter(opened, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def test_what_counts_teach_becomes_the_next_recipe(taught: Indoors) -> None:
    [proposal] = taught.facts("usage")["proposals"]
    assert (proposal["job"], proposal["line"], proposal["materials"]) == ("FULL", "sole cement", ["CEMENT"])
    assert proposal["recipe"] == 9  # as on the card: a coat
    assert proposal["low"] < 10.8 < proposal["high"]
    assert proposal["estimate"] == pytest.approx(10.8, rel=0.03)
    assert "recipe 9 ml a coat, counts say 10." in proposal["words"]
    # A pair takes 3.6 ml more of a cement that costs 1.9 cents a ml.
    assert proposal["extra_minor_units_per_job"] == pytest.approx(3.6 * 1.9, rel=0.15)

    said = taught.says("usage")
    assert "  --accept 'FULL:sole cement'" in said.splitlines()
    assert taught("usage", "--accept", "a:b", "--keep", "a:b").code == 2
    assert taught("usage", "--accept", "FULL").code == 2
    taught.says("usage", "--keep", "FULL:sole cement")
    assert taught.says("usage") == "The counts propose no change.\n"
    taught.says("usage", "--later", "FULL:sole cement")
    assert taught.facts("usage")["proposals"] == []
    assert taught.facts("usage", "--all")["proposals"][0]["answer"] == "later"

    taught.says("settings", "use_learnt=no")
    before = weekly_cement(taught)
    before_jobs = taught.facts("finish", "full", "--size", "EU 42")["left"]["CEMENT"]["amount"]
    accepted = taught.facts("usage", "--accept", "FULL:sole cement")
    coat = Decimal(accepted["after"].removesuffix(" ml"))
    assert coat == pytest.approx(Decimal("10.8"), rel=Decimal("0.03"))
    after_jobs = taught.facts("finish", "full", "--size", "EU 42")["left"]["CEMENT"]["amount"]
    assert Decimal(before_jobs) - Decimal(after_jobs) == 2 * coat
    assert weekly_cement(taught) / before > 1.1
    ran = taught("usage", "--accept", "FULL:sole cement")
    assert ran.code == 5
    assert "Counts agree with the recipe: 'sole cement' in FULL holds." in ran.err


def weekly_cement(desk: Indoors) -> float:
    rows = {row["material"]: row for row in desk.facts("run-outs", "--all")["rows"]}
    return float(rows["CEMENT"]["weekly_use"])


def test_what_to_count_next_says_why(evening: Indoors) -> None:
    found = evening.facts("count-next", "--items", "3")
    assert len(found) == 3
    assert all(each["why"] for each in found)
    assert sum(each["minutes"] for each in evening.facts("count-next", "--minutes", "4")) <= 4


def test_a_sheet_can_hold_just_what_is_worth_counting_and_be_read_out_or_printed(
    evening: Indoors, tmp_path: Path
) -> None:
    chosen = {each["material"] for each in evening.facts("count-next", "--items", "3")}
    said = evening.says("count-sheet", "--items", "3", "--open")
    assert {code for code in chosen if f" {code} " in said} == chosen
    assert "Book" in said
    path = sheet_of(evening, tmp_path, "--next", "4", "--format", "html")
    page = path.read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>")
    assert "Count sheet" in page
    ran = evening("count-sheet", "--format", "xlsx")
    assert (ran.code, "A sheet as xlsx needs a folder." in ran.err) == (2, True)
    ran = evening("count-sheet", "--location", "Z9")
    assert (ran.code, "Nothing is kept at 'Z9'." in ran.err) == (3, True)


def test_an_amount_and_answers_on_one_line_are_a_fault(evening: Indoors, tmp_path: Path) -> None:
    path = sheet_of(evening, tmp_path, "--location", "B1")
    fill(path, CEMENT=200)
    fill(path, CEMENT="gross=600")
    ran = evening("count", str(path))
    assert ran.code == 7
    assert "column 'answers': An amount and answers are both filled in" in ran.err
