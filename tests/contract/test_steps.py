"""What is run, and on what: two steps that make up the whole, and a locked set of libraries that pyproject.toml allows."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
README = (ROOT / "README.md").read_text("utf-8")
CI = (ROOT / ".ci" / "run").read_text("utf-8")
LOCKED = (ROOT / "tests" / "locked.txt").read_text("utf-8").replace("\\\n", " ").splitlines()
ASKED = PROJECT["project"]["dependencies"] + PROJECT["project"]["optional-dependencies"]["test"]


def test_the_second_step_runs_exactly_what_the_first_leaves_out() -> None:
    options = PROJECT["tool"]["pytest"]["ini_options"]["addopts"]
    first = options[options.index("-m") + 1]
    (second,) = re.findall(r'-m pytest -n 2 --dist worksteal -m "([^"]+)"', CI)
    assert first == f"not ({second})"
    known = {marker.partition(":")[0] for marker in PROJECT["tool"]["pytest"]["ini_options"]["markers"]}
    assert set(second.split(" or ")) <= known


def test_the_readmes_command_installs_what_is_locked_and_chooses_no_tests() -> None:
    (command,) = re.findall(r"^    (.*-m pytest.*)$", README, re.MULTILINE)
    install, project, run = command.split(" && ")
    assert install.endswith("pip install --require-hashes -r tests/locked.txt")
    assert project.endswith("pip install --no-deps --no-build-isolation -e .")
    assert run.endswith("-m pytest -n 2")


@pytest.mark.parametrize("asked", ASKED)
def test_every_library_asked_for_is_locked_within_its_range(asked: str) -> None:
    wanted = Requirement(asked)
    (found,) = {
        pin[1]
        for line in LOCKED
        if (pin := re.match(r"([\w.-]+)==(\S+)", line)) and _plain(pin[1]) == _plain(wanted.name)
    }
    versions = [line.split()[0].partition("==")[2] for line in LOCKED if line.startswith(f"{found}==")]
    assert versions
    assert all(wanted.specifier.contains(version, prereleases=True) for version in versions)


def test_everything_locked_has_its_hashes() -> None:
    assert [line.split()[0] for line in LOCKED if line.strip() and "--hash=sha256:" not in line] == []


def _plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).casefold()
