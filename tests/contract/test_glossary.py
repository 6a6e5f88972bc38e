"""One word for one thing, wherever a person reads it: pages, help, messages, files, spreadsheets, workbook."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import click

import stockroom
from stockroom.cli.main import COMMANDS, cli
from stockroom.intake.columns import KINDS
from stockroom.stock.shop import Shop, shown_settings
from tests.contract.glossary import CONCEPTS, DEVELOPERS, named_otherwise, written
from tests.unit.web.catalogue import catalogue, texts

HOUSE = Path(stockroom.__file__).parent
# What is written for people though no page shows it: answers of commands, lists, sheets and pictures.
WRITING = (
    "cli",
    "show",
    "demo/command.py",
    "margins/accounts.py",
    "margins/journal.py",
    "web/command.py",
    "flows/book/check.py",
)
FORMER = {"re-done work"}  # what accounts were called before, for the books that keep their numbers by it
_NAME = re.compile(r"-{0,2}[a-z_-]+")  # of a command, an option, a key or a column


def help_texts() -> Iterator[str]:
    for name in COMMANDS:
        found = cli.get_command(click.Context(cli), name)
        assert found is not None
        yield found.help or ""
        yield from (option.help or "" for option in found.params if isinstance(option, click.Option))


def file_texts() -> Iterator[str]:
    for kind in KINDS.values():
        yield from (kind.title.replace("-", " "), kind.what, kind.identity)
        for column in kind.columns:
            yield from (column.title, column.meaning)


def written_texts() -> Iterator[str]:
    """Give the texts written out in the code that writes for people, but for docstrings and one-word names."""
    for path in (file for part in WRITING for file in _files(HOUSE / part)):
        tree = ast.parse(path.read_text("utf-8"))
        docs = {ast.get_docstring(n, clean=False) for n in ast.walk(tree) if isinstance(n, _DOCUMENTED)}
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and node.value not in docs | FORMER:
                yield from () if _NAME.fullmatch(node.value) else (node.value,)


_DOCUMENTED = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef


def _files(part: Path) -> list[Path]:
    return [part] if part.is_file() else sorted(part.rglob("*.py"))


def otherwise(found: Iterator[str]) -> dict[str, list[str]]:
    return {text: names for text in found if (names := named_otherwise(text))}


def test_the_pages_call_each_thing_by_its_name() -> None:
    shown = {form for one, many in texts().items() for form in (one, many) if form}
    assert otherwise(iter(shown)) == {}


def test_help_calls_each_thing_by_its_name() -> None:
    assert otherwise(help_texts()) == {}
    assert otherwise(iter(about for _, about in COMMANDS.values())) == {}


def test_files_and_settings_call_each_thing_by_its_name() -> None:
    assert otherwise(file_texts()) == {}
    assert otherwise(name.replace("_", " ") for name in shown_settings(Shop())) == {}


def test_answers_lists_and_sheets_call_each_thing_by_its_name() -> None:
    assert "Stock record accuracy, " in set(written_texts())
    assert otherwise(written_texts()) == {}


def test_a_concept_is_declared_once_and_its_command_and_column_are_there() -> None:
    named = [each.english for each in CONCEPTS]
    assert len(named) == len(set(named))
    assert {each.command for each in CONCEPTS if each.command and each.command[0] != "-"} <= set(COMMANDS)
    columns = {column.title for kind in KINDS.values() for column in kind.columns}
    assert {each.column for each in CONCEPTS if each.column} <= columns
    assert [each.english for each in CONCEPTS if each.english in named_otherwise(each.english)] == []


def test_a_name_that_was_given_up_is_found() -> None:
    assert named_otherwise("Take this paper back.") == ["Document", "Undo"]
    assert named_otherwise("3 bins to settle") == ["Item (counted)", "Post the count"]


def test_german_calls_a_concept_what_the_glossary_says() -> None:
    said = {message.id: message.string for message in catalogue("de") if isinstance(message.id, str)}
    assert {each.english: said[each.english] for each in CONCEPTS if each.english in said} == {
        each.english: each.german for each in CONCEPTS if each.english in said
    }


def test_the_table_for_developers_is_the_glossary() -> None:
    assert DEVELOPERS.read_text("utf-8") == written()
