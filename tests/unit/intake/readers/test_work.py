from fractions import Fraction
from pathlib import Path

import pytest

from stockroom.stock.quantities import unit
from stockroom.stock.recipes import Per, Sizing
from stockroom.stock.shoe_sizes import shoe_size
from tests.nasty.small_shop import FILES, load, said

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


@pytest.mark.parametrize(
    ("rows", "words"),
    [
        ("SHNE,2024-01-01,,a,,,GLUE,1,,,,,,\n", "Did you mean 'SHINE'?"),
        ("SHINE,2024-01-01,,a,,,GLU,1,,,,,,\n", "No material or group has the code 'GLU'"),
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
        ("SHINE,2024-01-01,,a,,,GLUE,1,,,,,,2\n", "1 at most"),
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
