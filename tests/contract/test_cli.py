"""What every command keeps to: help that says what it does, JSON for programs, and a light start."""

import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from stockroom.cli.desk import Renamed
from stockroom.cli.main import COMMANDS, GROUPS, OLDER, cli
from stockroom.flows.book import check as checking
from stockroom.store.book import Book
from stockroom.store.integrity import Audit
from tests.end_to_end.shop import Indoors, small_shop

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text("utf-8")
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
    "load", "take-in", "finish", "sell", "undo", "shelf", "run-outs", "jobs-possible", "reorder", "order", "receive", "count",
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
    assert {"--at", "--who", "--site", "--note"} <= options or "--once" not in options


@pytest.mark.parametrize("name", COMMANDS)
def test_help_fits_a_terminal_and_needs_no_book(name: str) -> None:
    done = CliRunner().invoke(cli, [name, "--help"], env={"STOCKROOM_BOOK": "/nowhere/book.sqlite"}, terminal_width=80)
    assert done.exit_code == 0
    assert max(map(len, done.output.splitlines())) <= 80


def test_the_list_of_commands_is_by_the_shops_work_each_command_once() -> None:
    said = CliRunner().invoke(cli, ["--help"]).output
    assert [line[:-1] for line in said.splitlines() if line.endswith(":") and line[:-1] in GROUPS] == list(GROUPS)
    listed = re.findall(r"^  ([a-z][a-z-]+)  ", said, re.MULTILINE)
    assert sorted(listed) == sorted(name for commands in GROUPS.values() for name in commands)


@pytest.mark.parametrize(("older", "name"), OLDER.items())
def test_a_command_answers_to_its_older_name_and_says_nothing_of_it(older: str, name: str) -> None:
    done = CliRunner().invoke(cli, [older, "--help"])
    assert done.output == CliRunner().invoke(cli, [name, "--help"]).output
    assert older not in COMMANDS


@pytest.mark.parametrize("name", COMMANDS)
def test_an_option_answers_to_its_older_name_which_is_not_listed(name: str) -> None:
    shown = CliRunner().invoke(cli, [name, "--help"]).output
    for option in command(name).params:
        if isinstance(option, Renamed):
            assert not any(re.search(rf"{was}\b", shown) for was in option.was)
            parser = command(name).make_parser(click.Context(command(name)))
            words = [option.was[0]] if option.is_flag else [option.was[0], "x"]
            assert option.name in parser.parse_args(words)[0]


def test_a_message_names_only_commands_there_are() -> None:
    sources = [path.read_text("utf-8") for path in (ROOT / "stockroom").rglob("*.py")]
    named = {found for text in sources for found in re.findall(r"(?:: |see )stockroom ([a-z][a-z-]+)", text)}
    assert len(named) > 10
    assert named <= set(COMMANDS)


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


def test_check_counts_by_the_locale(stocked: Indoors, monkeypatch: pytest.MonkeyPatch) -> None:
    real = checking.check

    def large(book: Book, *, figures: tuple[str, ...]) -> Audit:
        return replace(real(book, figures=figures), documents=12_276, moves=43_207)

    monkeypatch.setattr(checking, "check", large)
    assert "12,276 documents, 43,207 moves; " in stocked.says("check")
