from datetime import date, datetime
from fractions import Fraction
from pathlib import Path

import pytest

from stockroom.errors import BadFileError
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.stock.quantities import unit
from stockroom.stock.recipes import Per, Sizing
from stockroom.stock.shoe_sizes import grown, shoe_size
from stockroom.stock.tickets import TicketState
from tests.nasty.small_shop import FILES, load, problems, said, write

TICKETS_HEAD = (
    "ticket,taken in,finished,promised,job,size,pairs,shoes,choices,price,redo of,by post,post cost,cancelled,note\n"
)


def test_a_ticket_is_read_whole(tmp_path: Path) -> None:
    row = "101,2026-02-03 10:05,2026-02-05 15:30,2026-02-06,SOLE,EU 42,2,,sole=none; colour=black,90.00,,yes,6.20,no,thin edge\n"
    (ticket,) = load(tmp_path, {"past-jobs": TICKETS_HEAD + row}).tickets
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
    tickets = load(tmp_path, {"past-jobs": TICKETS_HEAD + rows}).tickets
    assert [t.state for t in tickets] == [TicketState.FINISHED, TicketState.BOOKED, TicketState.CANCELLED]
    assert [t.shoes for t in tickets] == [2, 1, 3]
    assert tickets[0].taken_in == datetime(2026, 2, 3, 9)
    assert tickets[0].finished == datetime(2026, 2, 3, 17)


def test_work_finished_on_the_evening_it_came_in_is_no_contradiction(tmp_path: Path) -> None:
    (ticket,) = load(tmp_path, {"past-jobs": TICKETS_HEAD + "1,2026-02-03 18:10,2026-02-03,,SHINE,,,,,,,,,,\n"}).tickets
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
    (line,) = said(tmp_path, {"past-jobs": TICKETS_HEAD + row})
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
    loaded = load(tmp_path / "one", {"past-jobs-2025": TICKETS_HEAD + row, "past-jobs-2026": TICKETS_HEAD + row})
    assert len(loaded.tickets) == 1
    assert loaded.notes == ("past-jobs-2026.csv: row 2 repeats past-jobs-2025.csv row 2 and was passed over.",)
    (line,) = said(
        tmp_path / "two",
        {"past-jobs": TICKETS_HEAD + row + row.replace("SHINE", "HEEL").replace("HEEL,", "HEEL,EU 40")},
    )
    assert "The ticket stands in row 2 already, with other content" in line


def test_a_redo_may_name_a_ticket_of_the_book_or_a_later_row(tmp_path: Path) -> None:
    rows = "2,2026-02-03,,,SHINE,,,,,,3,,,,\n3,2026-02-03,,,SHINE,,,,,,1,,,,\n"
    write(tmp_path, {**FILES, "past-jobs": TICKETS_HEAD + rows})
    assert len(read_files([tmp_path], BookFacts(tickets={"1"}), locale="en_IE", digits=2).tickets) == 2
    with pytest.raises(BadFileError):
        read_files([tmp_path], BookFacts(), locale="en_IE", digits=2)


def test_a_file_loaded_beside_its_copy_is_remarked_on_briefly(tmp_path: Path) -> None:
    text = "ticket,taken in,job\n" + "".join(f"{n},2026-02-03,SHINE\n" for n in range(300))
    loaded = load(tmp_path, {"past-jobs": text, "past-jobs-2": text})
    assert len(loaded.tickets) == 300
    assert len(loaded.notes) == 101
    assert loaded.notes[-1] == "… and 200 more remarks of this kind."


HEAD = "job,valid from,reference size,line,choice,option,material,amount,unit,per,sizing,waste %,coats,chance\n"


def test_rows_of_one_job_and_day_are_one_version(tmp_path: Path) -> None:
    heel, sole = load(tmp_path, {}).recipes
    assert heel.lines[0].material == "TOP"
    assert sole.reference == (shoe_size("EU 42"), shoe_size("UK 8"))
    assert sole.choices == {"sole": ("bend", "none")}
    first = sole.lines[0]
    assert (first.amount, first.per, first.sizing) == (unit("dm2").of(Fraction(16, 5)), Per.PAIR, Sizing.AREA)
    assert (first.waste, first.coats, first.chance) == (Fraction(15), 1, Fraction(1))


def test_coats_and_chance_are_read(tmp_path: Path) -> None:
    row = "SHINE,2024-01-01,,cream,,,GLUE,10,g,job,,,2,1/3\n"
    line = load(tmp_path, {"recipes": HEAD + row}).recipes[0].lines[0]
    assert (line.coats, line.chance, line.per) == (2, Fraction(1, 3), Per.JOB)
    assert line.amount == unit("g").of(10)  # carried over the material's bridge when it is used


def test_a_power_of_growth_is_read_and_refused_where_nothing_grows(tmp_path: Path) -> None:
    """Soles that grow less in width: EU 36 against EU 42 is 6/7 as long, and takes (6/7) to the 1.8 of the area."""
    head = HEAD.replace("sizing,", "sizing,power of growth,")
    row = "SOLE,2024-01-01,EU 42,a,,,BEND,1,,,{},{},,,\n"
    (recipe,) = (r for r in load(tmp_path, {"recipes": head + row.format("area", "1.8")}).recipes if r.job == "SOLE")
    assert (recipe.lines[0].growth, recipe.lines[0].power) == (Fraction(9, 5), Fraction(9, 5))
    assert float(grown(Fraction(6, 7), recipe.lines[0].power)) == pytest.approx((6 / 7) ** 1.8)
    for sizing, power in (("fixed", "1.8"), ("area", "0"), ("area", "4")):
        (line,) = said(tmp_path, {"recipes": head + row.format(sizing, power)})
        assert "can't grow by the power of" in line


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("SHNE,2024-01-01,,a,,,GLUE,1,,,,,,\n", "Did you mean 'SHINE'?"),
        ("SHINE,2024-01-01,,a,,,GLU,1,,,,,,\n", "No material or group has the code or name 'GLU'"),
        ("SHINE,2024-01-01,,a,,,LACE,1,m,,,,,\n", "LACE is kept in pair (count), not in length: 1 m"),
        ("HEEL,2024-01-01,,a,,,TOP,1,g,,,,,\n", "TOP-S is kept in pair (count), not in mass: 1 g"),
        ("SHINE,2024-01-01,,a,sole,,GLUE,1,,,,,,\n", "A choice needs an option"),
        ("SHINE,2024-01-01,,a,,bend,GLUE,1,,,,,,\n", "an option a choice"),
        ("SOLE,2024-01-01,,a,,,BEND,1,,,area,,,\n", "no reference size is stated"),
        ("SHINE,2024-01-01,EU 42,a,,,BEND,1,,,area,,,\n", "SHINE doesn't ask for one"),
        ("SHINE,2024-01-01,,a,,,TOP,1,,,,,,\n", "SHINE doesn't ask for one"),
        ("SHINE,2024-01-01,EU 42 = EU 43,a,,,GLUE,1,,,,,,\n", "A size system is named twice"),
        (
            "SHINE,2024-01-01,,a,,,GLUE,1,,,,,,\nSHINE,2024-01-01,,a,,,GLUE,2,,,,,,\n",
            "The line stands in row 2 already",
        ),
        (
            "SHINE,2024-01-01,EU 42,a,,,GLUE,1,,,,,,\nSHINE,2024-01-01,EU 40,b,,,GLUE,2,,,,,,\n",
            "don't agree on 'reference size'",
        ),
        ("SHINE,2024-01-01,,a,,,GLUE,1,,per pair,,,,\n", "Words: pair, shoe, job"),
        ("SHINE,2024-01-01,,a,,,GLUE,1,,,,,0,\n", "must be above zero"),
        ("SHINE,2024-01-01,,a,,,GLUE,1,,,,,,2\n", "between 0 and 1"),
    ],
)
def test_a_recipe_at_fault_says_what_to_do(rows: str, words: str, tmp_path: Path) -> None:
    (line,) = said(tmp_path, {"recipes": HEAD + rows})
    assert line.startswith("recipes.csv, row")
    assert words in line


def test_codes_are_met_in_any_capitals(tmp_path: Path) -> None:
    loaded = load(tmp_path, {"recipes": HEAD + "shine,2024-01-01,,a,,,glue,1,,,,,,\n"})
    assert (loaded.recipes[0].job, loaded.recipes[0].lines[0].material) == ("SHINE", "GLUE")


def test_jobs_in_two_spellings_are_refused(tmp_path: Path) -> None:
    jobs = FILES["jobs"] + "heel,Heels,9,yes\n"
    (line,) = said(tmp_path, {"jobs": jobs})
    assert "The code stands in row 2 already" in line


def test_an_option_may_use_nothing_but_must_be_one(tmp_path: Path) -> None:
    head = "job,valid from,line,choice,option,material,amount,share of jobs\n"
    kept = f"{head}SHINE,2024-01-01,new,heel,new,GLUE,1,\nSHINE,2024-01-01,old,heel,kept,,,\nSHINE,2024-01-01,none,heel,none,GLUE,0,\n"
    (recipe,) = load(tmp_path, {"recipes": kept}).recipes
    assert [line.nothing for line in recipe.lines] == [False, True, True]
    for row, column in (
        ("SHINE,2024-01-01,a,,,,1,", "material"),
        ("SHINE,2024-01-01,a,,,GLUE,0,", "amount"),
        ("SHINE,2024-01-01,a,,,GLUE,1,0", "chance"),
    ):
        (found,) = problems(tmp_path, {"recipes": f"{head}{row}\n"})
        assert (found.column, "an option that uses nothing" in found.fix) == (column, True), row


def test_a_ticket_names_what_was_added_and_left_out(tmp_path: Path) -> None:
    head = "ticket,taken in,job,size,choices,added,left out\n"
    row = f"{head}7,2024-02-06,SOLE,EU 42,sole=bend,LACE=2 pair; GLUE=5 ml,cement\n"
    (ticket,) = load(tmp_path, {"past-jobs": row}).tickets
    assert [(need.line, need.material, need.nano) for need in ticket.added] == [
        ("extra LACE", "LACE", unit("pair").of(2).nano), ("extra GLUE", "GLUE", unit("ml").of(5).nano),
    ]  # fmt: skip
    assert ticket.left_out == ("cement",)
    for added, left, column in (
        ("NOPE=1", "", "added"), ("LACE=0 pair", "", "added"), ("LACE=1 g", "", "added"), ("", "welt", "left out"),
    ):  # fmt: skip
        (found,) = problems(tmp_path, {"past-jobs": f"{head}7,2024-02-06,SOLE,EU 42,sole=bend,{added},{left}\n"})
        assert found.column == column, added
