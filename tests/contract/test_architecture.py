"""The house keeps its own rules: short functions, small modules, honest names, a light start."""

import ast
import re
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from statistics import median

import pytest

import stockroom
from stockroom import errors
from stockroom.errors import StockroomError

ROOT = Path(stockroom.__file__).parent
TESTS = Path(__file__).parents[1]
MODULES = sorted(p for p in ROOT.rglob("*.py") if "migrations" not in p.parts)
BANNED = {"utils", "common", "core", "helpers", "manager", "data", "process"}
LONGEST_FUNCTION, LONGEST_MODULE, MOST_MEDIAN = 50, 500, 8
CLOCKS = {("datetime", "now"), ("datetime", "today"), ("datetime", "utcnow"), ("date", "today"), ("time", "time")}
HEAVY = (
    "pandas",
    "numpy",
    "scipy",
    "statsmodels",
    "matplotlib",
    "sqlalchemy",
    "openpyxl",
    "babel",
    "sklearn",
    "alembic",
)


def functions(path: Path) -> Iterator[tuple[str, int]]:
    """Give each function of a module with its lines of code; its docstring is no code."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            first = node.body[0]
            words = first.end_lineno or first.lineno
            said = words - first.lineno + 1 if ast.get_docstring(node, clean=False) is not None else 0
            yield f"{path.relative_to(ROOT)}:{node.name}", (node.end_lineno or node.lineno) - node.lineno + 1 - said


def test_no_function_is_longer_than_a_screen() -> None:
    long = {name: lines for path in MODULES for name, lines in functions(path) if lines > LONGEST_FUNCTION}
    assert long == {}


def test_functions_are_short_as_a_rule() -> None:
    assert median(lines for path in MODULES for _, lines in functions(path)) <= MOST_MEDIAN


def test_no_module_has_a_name_that_says_nothing() -> None:
    assert [str(p.relative_to(ROOT)) for p in MODULES if BANNED & set(p.relative_to(ROOT).with_suffix("").parts)] == []


def test_packages_open_empty_except_where_plug_ins_are_found() -> None:
    """An `__init__` holds a sentence; only a folder scanned for plug-ins may hold its door.

    The whole package's own says how many threads the numerical library gets: it must be said before that is imported.
    """
    doors = {"models", "aids", "orders", "workbook", "readers", "sheets", "layouts", ROOT.name}
    full = [
        str(path.relative_to(ROOT))
        for path in MODULES
        if path.name == "__init__.py"
        and path.parent.name not in doors
        and any(not isinstance(node, ast.Expr) for node in ast.parse(path.read_text(encoding="utf-8")).body)
    ]
    assert full == []


def test_only_doors_read_the_clock() -> None:
    """Time is an argument: nothing below the doors asks what day it is."""
    below = [p for p in MODULES if p.relative_to(ROOT).parts[0] not in {"cli", "web", "demo", "frames", "__main__.py"}]
    asking = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in below
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and isinstance(node.func.value, ast.Name)
        and (node.func.value.id, node.func.attr) in CLOCKS
    ]
    assert asking == []


def test_chance_is_an_argument_too() -> None:
    """Sums draw from a generator handed to them, never from a global one."""
    sums = {"demand", "counting", "buying", "margins"}
    made = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in MODULES
        if path.relative_to(ROOT).parts[0] in sums
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Import | ast.ImportFrom) and any(name.name == "random" for name in node.names)
    ]
    assert made == []


def test_what_holds_of_a_kind_of_move_is_said_once() -> None:
    """A new kind of write-off is a line in `stock/moves.py`: nobody else keeps a list of them."""
    naming = {
        str(path.relative_to(ROOT))
        for path in MODULES
        if path.relative_to(ROOT).parts[0] != "demo"
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if (isinstance(node, ast.Attribute) and node.attr == "OWN_USE")
        or (isinstance(node, ast.Constant) and node.value == "own use")
    }
    assert naming == {"stock/moves.py"}


ERRORS = {name for name, kind in vars(errors).items() if isinstance(kind, type) and issubclass(kind, StockroomError)}
CALLED = {"property", "cached_property", "contextmanager", "classmethod", "staticmethod", "cache", "override"}


def callable_ones(node: ast.AST) -> Iterator[ast.FunctionDef]:
    """Give public functions and methods; not those within others, nor what a door hands over to be run by name."""
    for inner in ast.iter_child_nodes(node):
        if not isinstance(inner, ast.ClassDef | ast.FunctionDef) or inner.name.startswith("_"):
            continue
        if isinstance(inner, ast.ClassDef):
            yield from callable_ones(inner)
        elif {ast.unparse(each).rpartition(".")[2] for each in inner.decorator_list} <= CALLED:
            yield inner


def raised(function: ast.FunctionDef) -> set[str]:
    """Name the errors for the shop owner that a function raises itself."""
    calls = [node.exc for node in ast.walk(function) if isinstance(node, ast.Raise) and isinstance(node.exc, ast.Call)]
    return {ast.unparse(call.func) for call in calls} & ERRORS


def test_public_functions_that_raise_say_so() -> None:
    """By the error's name under 'Raises', or by saying in a sentence what is refused."""
    silent = [
        f"{path.relative_to(ROOT)}:{function.name}: {error}"
        for path in MODULES
        for function in callable_ones(ast.parse(path.read_text(encoding="utf-8")))
        for error in raised(function)
        for said in [ast.get_docstring(function) or ""]
        if not {error, "StockroomError"} & set(re.findall(r"\w+", said.partition("Raises\n------\n")[2]))
        and "refuse" not in said.casefold()
    ]
    assert silent == []


def test_no_two_classes_share_a_name() -> None:
    """One name is one thing, private ones too: who searches for it finds it."""
    named = Counter(
        node.name
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.ClassDef)
    )
    assert {name: times for name, times in named.items() if times > 1} == {}


def test_a_gateway_to_the_book_is_imported_under_one_name() -> None:
    """Its own; `book` alone is `books`, since an open book is what everybody calls `book`."""
    names: dict[str, set[str]] = {}
    for path in (*MODULES, *sorted(TESTS.rglob("*.py"))):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and node.module == "stockroom.store":
                for name in node.names:
                    names.setdefault(name.name, set()).add(name.asname or name.name)
    assert names == {name: {"books" if name == "book" else name} for name in names}


def loaded(code: str) -> set[str]:
    asked = f"import sys\n{code}\nprint(*sorted({{name.partition('.')[0] for name in sys.modules}}))"
    done = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    return set(done.stdout.splitlines()[-1].split())


def started(*words: str) -> set[str]:
    return loaded(
        "from stockroom.cli.main import cli\n"
        "try:\n"
        f"    cli({list(words)!r}, prog_name='stockroom')\n"
        "except SystemExit as done:\n"
        "    assert not done.code, done.code"
    )


def test_the_command_line_starts_light() -> None:
    assert started("--help") & set(HEAVY) == set()


@pytest.mark.parametrize("command", ["finish", "shelf", "undo"])
def test_an_everyday_command_loads_the_database_and_nothing_heavier(command: str) -> None:
    assert started(command, "--help") & set(HEAVY) <= {"sqlalchemy"}


@pytest.mark.parametrize("room", ["stock", "errors"])
def test_nouns_load_nothing_heavy(room: str) -> None:
    names = [f"stockroom.{room}.{p.stem}" for p in sorted((ROOT / room).glob("*.py"))] or [f"stockroom.{room}"]
    assert loaded("\n".join(f"import {name}" for name in names if not name.endswith("__init__"))) & set(HEAVY) == set()
