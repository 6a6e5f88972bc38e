from datetime import date, datetime
from pathlib import Path

import pytest

from stockroom.errors import BadFileError
from stockroom.intake.known import Known
from stockroom.intake.load import read_files
from stockroom.stock.shoe_sizes import shoe_size
from stockroom.stock.tickets import TicketState
from tests.nasty.small_shop import FILES, load, said, write

HEAD = "ticket,taken in,finished,promised,job,size,pairs,shoes,choices,price,redo of,by post,post cost,cancelled,note\n"


def test_a_ticket_is_read_whole(tmp_path: Path) -> None:
    row = "101,2026-02-03 10:05,2026-02-05 15:30,2026-02-06,SOLE,EU 42,2,,sole=none; colour=black,90.00,,yes,6.20,no,thin edge\n"
    (ticket,) = load(tmp_path, {"past-jobs": HEAD + row}).tickets
    assert (ticket.number, ticket.job, ticket.shoes, ticket.size) == ("101", "SOLE", 4, shoe_size("EU 42"))
    assert (ticket.taken_in, ticket.finished) == (datetime(2026, 2, 3, 10, 5), datetime(2026, 2, 5, 15, 30))
    assert (ticket.promised, ticket.price, ticket.post_cost) == (date(2026, 2, 6), 9000, 620)
    assert ticket.chosen == {"sole": "none", "colour": "black"}
    assert (ticket.state, ticket.by_post, ticket.note) == (TicketState.FINISHED, True, "thin edge")


def test_a_ticket_is_finished_booked_or_cancelled(tmp_path: Path) -> None:
    rows = (
        "1,2026-02-03,2026-02-03,,SHINE,,,,,,,,,,\n"
        "2,2026-02-03,,,SHINE,,0.5,,,,,,,,\n"
        "3,2026-02-03,,,SHINE,,,3,,,,,,yes,\n"
    )
    tickets = load(tmp_path, {"past-jobs": HEAD + rows}).tickets
    assert [t.state for t in tickets] == [TicketState.FINISHED, TicketState.BOOKED, TicketState.CANCELLED]
    assert [t.shoes for t in tickets] == [2, 1, 3]
    assert tickets[0].taken_in == datetime(2026, 2, 3, 9)
    assert tickets[0].finished == datetime(2026, 2, 3, 17)


def test_work_finished_on_the_evening_it_came_in_is_no_contradiction(tmp_path: Path) -> None:
    (ticket,) = load(tmp_path, {"past-jobs": HEAD + "1,2026-02-03 18:10,2026-02-03,,SHINE,,,,,,,,,,\n"}).tickets
    assert ticket.finished == datetime(2026, 2, 3, 18, 10)


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        ("1,2026-02-03,2026-02-01,,SHINE,,,,,,,,,,", "finished", "finished before it was taken in"),
        ("1,2026-02-03,2026-02-04,,SHINE,,,,,,,,,yes,", "finished", "both finished and cancelled"),
        ("1,2026-02-03,,,SHINE,,0.3,,,,,,,,", "pairs", "isn't a whole number of shoes"),
        ("1,2026-02-03,,,SHINE,,1,3,,,,,,,", "pairs", "contradict each other"),
        ("1,2026-02-03,,,SHINE,,400,,,,,,,,", "pairs", "too many for one ticket"),
        ("1,2026-02-03,,,HEEL,,,,,,,,,,", "size", "HEEL needs the shoe size"),
        ("1,2026-02-03,,,HEEL,EU 50,,,,,,,,,", "size", "No variant of TOP fits EU 50"),
        ("1,2026-02-03,,,SOLE,US M 9,,,,,,,,,", "size", "can't be compared with the recipe's reference size"),
        ("1,2026-02-03,,,SOLE,EU 42,,,sole=rubber,,,,,,", "choices", "'rubber' is not an option for sole in SOLE"),
        ("1,2026-02-03,,,SOLE,EU 42,,,soul=bend,,,,,,", "choices", "Did you mean 'sole'?"),
        ("1,2026-02-03,,,SHIN,,,,,,,,,,", "job", "Did you mean 'SHINE'?"),
        ("1,2026-02-03,,,SHINE,,,,,,77,,,,", "redo of", "No ticket has the number '77'"),
        ("1,2026-02-30,,,SHINE,,,,,,,,,,", "taken in", "no such day"),
        ("a ticket,2026-02-03,,,SHINE,,,,,,,,,,", "ticket", "not a code"),
    ],
)
def test_a_ticket_at_fault_is_named_by_its_column(row: str, column: str, words: str, tmp_path: Path) -> None:
    (line,) = said(tmp_path, {"past-jobs": HEAD + row})
    assert line.startswith(f"past-jobs.csv, row 2, column '{column}'")
    assert words in line


def test_an_option_is_checked_against_the_version_of_its_day(tmp_path: Path) -> None:
    recipes = FILES["recipes"] + "SOLE,2026-01-01,EU 42,rubber,sole,rubber,BEND,1,dm2,pair,area,\n"
    head = "ticket,taken in,job,size,choices\n"
    loaded = load(tmp_path, {"recipes": recipes, "past-jobs": head + "1,2026-02-01,SOLE,EU 42,sole=rubber\n"})
    assert len(loaded.tickets) == 1
    (line,) = said(tmp_path, {"recipes": recipes, "past-jobs": head + "1,2025-12-01,SOLE,EU 42,sole=rubber\n"})
    assert "'rubber' is not an option" in line


def test_work_older_than_every_recipe_is_held_against_the_first(tmp_path: Path) -> None:
    head = "ticket,taken in,job,size,choices\n"
    assert load(tmp_path, {"past-jobs": head + "1,2020-01-07,SOLE,EU 42,sole=none\n"}).tickets


def test_a_cancelled_ticket_need_not_fit_its_recipe(tmp_path: Path) -> None:
    loaded = load(tmp_path, {"past-jobs": "ticket,taken in,job,size,cancelled\n1,2026-02-03,HEEL,,yes\n"})
    assert loaded.tickets[0].state is TicketState.CANCELLED


def test_a_recipe_at_fault_does_not_put_its_tickets_in_the_wrong(tmp_path: Path) -> None:
    recipes = FILES["recipes"].replace("BEND,3.2", "BEND,three")
    lines = said(
        tmp_path,
        {"recipes": recipes, "past-jobs": "ticket,taken in,job,size,choices\n1,2026-02-03,SOLE,EU 42,sole=bend\n"},
    )
    assert [line[:11] for line in lines] == ["recipes.csv"]


def test_the_same_ticket_twice_is_passed_over_and_another_refused(tmp_path: Path) -> None:
    row = "7,2026-02-03,,,SHINE,,,,,,,,,,\n"
    (tmp_path / "one").mkdir()
    loaded = load(tmp_path / "one", {"past-jobs-2025": HEAD + row, "past-jobs-2026": HEAD + row})
    assert len(loaded.tickets) == 1
    assert loaded.notes == ("past-jobs-2026.csv: row 2 repeats past-jobs-2025.csv row 2 and was passed over.",)
    (line,) = said(
        tmp_path / "two", {"past-jobs": HEAD + row + row.replace("SHINE", "HEEL").replace("HEEL,", "HEEL,EU 40")}
    )
    assert "The ticket stands in row 2 already, with other content" in line


def test_a_redo_may_name_a_ticket_of_the_book_or_a_later_row(tmp_path: Path) -> None:
    rows = "2,2026-02-03,,,SHINE,,,,,,3,,,,\n3,2026-02-03,,,SHINE,,,,,,1,,,,\n"
    write(tmp_path, {**FILES, "past-jobs": HEAD + rows})
    assert len(read_files([tmp_path], Known(tickets={"1"}), locale="en_IE", digits=2).tickets) == 2
    with pytest.raises(BadFileError):
        read_files([tmp_path], Known(), locale="en_IE", digits=2)


def test_a_file_loaded_beside_its_copy_is_remarked_on_briefly(tmp_path: Path) -> None:
    text = "ticket,taken in,job\n" + "".join(f"{n},2026-02-03,SHINE\n" for n in range(300))
    loaded = load(tmp_path, {"past-jobs": text, "past-jobs-2": text})
    assert len(loaded.tickets) == 300
    assert len(loaded.notes) == 101
    assert loaded.notes[-1] == "… and 200 more remarks of this kind."
