"""The README's commands do what it says they do, one after the other, in a fresh folder."""

import re
import shlex
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from stockroom.cli.main import COMMANDS, cli
from tests.end_to_end.shop import MORNING, Indoors, small_shop

README = (Path(__file__).parents[2] / "README.md").read_text("utf-8")


def typed_in(text: str) -> list[list[str]]:
    """Give the stockroom commands of a piece of the README, without their comments."""
    lines = re.findall(r"(?:^    (?:\.venv/bin/)?|`)(stockroom [^`\n]+)", text, re.MULTILINE)
    return [shlex.split(line, comments=True)[1:] for line in lines]


STARTING = typed_in(README.partition("## Your own shop")[2].partition("Then, day by day")[0])
DAILY = typed_in(README.partition("Then, day by day")[2].partition("A few letters")[0])


def test_the_readme_shows_how_to_start_and_a_day() -> None:
    assert [words[0] for words in STARTING] == ["new-book", "templates", "load", "load"]
    assert len(DAILY) >= 12


def test_starting_ones_own_shop(kind: str, request: pytest.FixtureRequest, tmp_path: Path) -> None:
    request.getfixturevalue("monkeypatch").chdir(tmp_path)
    on_server = kind == "postgresql"
    place = request.getfixturevalue("server").create("own_shop") if on_server else None
    for words in STARTING:
        done = CliRunner().invoke(cli, words, env={"STOCKROOM_NOW": MORNING, "STOCKROOM_BOOK": place})
        assert done.exit_code == 0, (words, done.output)
        if words[0] == "templates":
            small_shop(tmp_path / "my-files")
    assert Indoors(place or tmp_path / "stockroom.sqlite").shelf("BEND")["on_hand"] == "50"
    assert (tmp_path / "stockroom.sqlite").exists() is not on_server


def test_a_day_at_the_shop(desk: Indoors, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    ink = ("code=EDGE-BLK", "name=Edge ink, black", "family=finish", "unit=ml", "group=EDGE", "colour=black")
    desk.says("add", "material", *ink)  # as the invented shop has it, on which the README is tried
    desk.says("add", "recipe", "FULL", "edge ink", "material=EDGE", "amount=2", "unit=ml")
    for words in DAILY:
        ran = desk(*words)
        assert ran.code == 0, (words, ran.err)
    assert desk.facts("check")["faults"] == []
    assert any((tmp_path / "reports").iterdir())


def shown_in_help() -> list[list[str]]:
    """Give the commands that the help of all commands shows as examples."""
    texts = []
    for name in COMMANDS:
        found = cli.get_command(click.Context(cli), name)
        texts.append(" ".join(((found and found.help) or "").split()))
    examples = [each for text in texts for each in re.findall(r"stockroom ([a-z-]+ [^.,]+?)(?=[.,]|$| or stock)", text)]
    return [shlex.split(each) for each in examples]


def test_what_help_shows_can_be_typed(desk: Indoors, tmp_path: Path) -> None:
    desk.says("take-in", "heel", "--number", "1042")  # the ticket that help finishes
    more = "OFF-BEND,Bend offcuts,soling sheet,dm2\nTREE-42,Shoe trees,other,pair\n"
    (tmp_path / "materials.csv").write_text(f"code,name,family,unit\n{more}")
    desk.says("load", str(tmp_path / "materials.csv"))  # what help stores the offcut as, and what it lends
    desk.says("receive", "--from", "HIDE", "TREE-42=2 pair:20.00")
    examples = shown_in_help()
    shown = [
        "take-in",
        "take-in",
        "change-ticket",
        "use",
        "begin",
        "pause",
        "finish",
        "finish",
        "can-take-in",
        "sell",
        "postage",
        "add",
        "serviced",
        "offcut",
        "offcuts",
        "trim-offcut",
        "lend",
        "count-offcuts",
        "add",
        "add",
        "reorder",
        "stock-or-delays",
        "outline",
        "tax-rates",
        "add",
        "change",
        "replace",
        "remove",
    ]
    assert [words[0] for words in examples] == shown
    for words in examples:
        ran = desk(*words)
        assert ran.code == 0, (words, ran.err)


def test_every_exit_code_is_explained(desk: Indoors, tmp_path: Path) -> None:
    codes = {int(code) for code in re.findall(r"^\| (\d) \| ", README, re.MULTILINE)}
    met = {
        desk(*words).code
        for words in (
            ("shelf",),
            ("sell", "ZIP-25", "x"),
            ("sell", "y"),
            ("sell", "black"),
            ("finish", "2001"),
            ("load", "y.csv"),
        )
    }
    met.add(Indoors(tmp_path / "none.sqlite")("shelf").code)
    assert met == codes - {8} == {0, 2, 3, 4, 5, 6, 7}
