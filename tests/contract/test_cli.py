"""What every command keeps to: help that says what it does, JSON for programs, and a light start."""

import subprocess
import sys
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from stockroom.cli.main import COMMANDS, cli
from tests.end_to_end.shop import Indoors, small_shop

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")
HEAVY = {
    "numpy",
    "pandas",
    "scipy",
    "statsmodels",
    "sklearn",
    "matplotlib",
    "openpyxl",
    "babel",
    "alembic",
    "sqlalchemy",
}
# Those that make a whole book or files rather than enter or list something.
NO_JSON = {
    "demo",
    "new-book",
    "upgrade-book",
    "restore",
    "import-book",
    "templates",
    "count-sheet",
    "order-form",
    "workbook",
}
EVERYDAY = (
    "load", "take-in", "finish", "sell", "undo", "shelf", "run-outs", "can-do", "reorder", "order", "receive", "count",
    "reports",
)  # fmt: skip


@pytest.fixture(scope="module")
def stocked(tmp_path_factory: pytest.TempPathFactory) -> Indoors:
    """The small shop's catalogue and opening stock, no history."""
    place = tmp_path_factory.mktemp("stocked")
    desk = Indoors(place / "book.sqlite")
    desk.says("new-book")
    desk.says("load", str(small_shop(place / "files", history=False)))
    return desk


def command(name: str) -> click.Command:
    found = cli.get_command(click.Context(cli), name)
    assert isinstance(found, click.Command)
    return found


@pytest.mark.parametrize("name", COMMANDS)
def test_help_says_what_the_list_of_commands_says(name: str) -> None:
    assert (command(name).help or "").splitlines()[0] == COMMANDS[name][1]


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_is_explained(name: str) -> None:
    options = [each for each in command(name).params if isinstance(each, click.Option)]
    assert [each.name for each in options if not each.help] == []


@pytest.mark.parametrize("name", sorted(set(COMMANDS) - NO_JSON))
def test_what_enters_or_lists_answers_programs_too(name: str) -> None:
    assert any("--json" in each.opts for each in command(name).params)


@pytest.mark.parametrize("name", [name for name in COMMANDS if name not in NO_JSON])
def test_an_entry_carries_when_who_where_and_its_key(name: str) -> None:
    options = {opt for each in command(name).params for opt in each.opts}
    assert {"--at", "--who", "--site", "--note"} <= options or "--key" not in options


@pytest.mark.parametrize("name", COMMANDS)
def test_help_fits_a_terminal_and_needs_no_book(name: str) -> None:
    done = CliRunner().invoke(cli, [name, "--help"], env={"STOCKROOM_BOOK": "/nowhere/book.sqlite"}, terminal_width=80)
    assert done.exit_code == 0
    assert max(map(len, done.output.splitlines())) <= 80


@pytest.mark.parametrize("name", EVERYDAY)
def test_the_readme_shows_every_everyday_command(name: str) -> None:
    assert f"stockroom {name}" in README


def test_exit_codes_are_those_the_readme_lists() -> None:
    from stockroom import errors

    kinds = [
        each for each in vars(errors).values() if isinstance(each, type) and issubclass(each, errors.StockroomError)
    ]
    assert {each.exit_code for each in kinds} - {1} <= {n for n in range(10) if f"\n| {n} | " in README}


def test_help_loads_nothing_heavy() -> None:
    assert loaded_by(["--help"]) & HEAVY == set()


def test_entering_a_finished_job_loads_the_database_how_its_place_writes_and_nothing_else_heavy(
    stocked: Indoors,
) -> None:
    words = ["--book", str(stocked.book), "finish", "heel"]
    assert loaded_by(words) & HEAVY == {"sqlalchemy", "babel"}


def test_the_shelf_loads_no_number_library(stocked: Indoors) -> None:
    assert loaded_by(["--book", str(stocked.book), "shelf"]) & HEAVY == {"sqlalchemy", "babel"}


def loaded_by(words: list[str]) -> set[str]:
    """Run a command in a process of its own and give the libraries it loaded."""
    asked = (
        "import sys\nfrom stockroom.__main__ import main\n"
        "try: main()\nexcept SystemExit as end: assert not end.code, end.code\n"
        "print('LOADED', *{name.split('.')[0] for name in sys.modules})"
    )
    done = subprocess.run([sys.executable, "-c", asked, *words], capture_output=True, text=True, check=True)
    return set(done.stdout.splitlines()[-1].split())
