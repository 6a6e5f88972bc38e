"""Whatever is done to a file, it is loaded or refused in plain words: never a traceback, never half of it."""

import os
import random
from collections import Counter
from pathlib import Path

import pytest

from stockroom.intake.columns import KINDS
from stockroom.intake.known import Known
from stockroom.intake.load import read_files
from tests.nasty.fuzz import honest, outcome, spoilt_text, spoilt_workbook
from tests.nasty.small_shop import FILES, load
from tests.nasty.workbooks import workbook

TRIES = 8 if os.environ.get("HYPOTHESIS_PROFILE") == "deep" else 1


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Known:
    loaded = load(tmp_path_factory.mktemp("shop"), {})
    return Known(
        materials={material.code: material for material in loaded.materials},
        suppliers={supplier.code: supplier for supplier in loaded.suppliers},
        jobs={job.code: job for job in loaded.jobs},
        recipes={recipe.job: [recipe] for recipe in loaded.recipes},
    )


@pytest.mark.parametrize("stem", KINDS)
def test_a_spoilt_text_file_is_loaded_or_refused(stem: str, known: Known, tmp_path: Path) -> None:
    chance, rows, ends = random.Random(stem), honest()[stem], Counter[str]()
    for _ in range(120 * TRIES):
        (tmp_path / f"{stem}.csv").write_bytes(spoilt_text(rows, chance))
        ends[outcome(tmp_path / f"{stem}.csv", known, locale=chance.choice(("en_IE", "de_DE", "en", "fr_CH")))] += 1
    assert ends["refused"] > 10


@pytest.mark.parametrize("stem", ["materials", "past-jobs", "counts"])
def test_a_spoilt_workbook_is_loaded_or_refused(stem: str, known: Known, tmp_path: Path) -> None:
    chance, ends = random.Random(stem), Counter[str]()
    path = workbook(tmp_path / f"{stem}.xlsx", honest()[stem], title=stem)
    raw = path.read_bytes()
    for _ in range(60 * TRIES):
        path.write_bytes(spoilt_workbook(raw, chance))
        ends[outcome(path, known)] += 1
    assert ends["refused"] > 5


def test_honest_files_are_loaded(tmp_path: Path) -> None:
    for stem in FILES:
        workbook(tmp_path / f"{stem}.xlsx", honest()[stem], title=stem)
    assert len(read_files([tmp_path], Known(), locale="en_IE", digits=2).materials) == 5
