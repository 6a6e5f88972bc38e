import csv
import io
from pathlib import Path

import pytest

from stockroom.intake.columns import KINDS, FileKind, Type, kind_of, plain_header
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.stock.materials import Material
from stockroom.stock.quantities import unit
from tests.nasty.small_shop import write


def _example(kind: FileKind) -> str:
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow([column.name for column in kind.columns])
    writer.writerow([column.example for column in kind.columns])
    return text.getvalue()


def test_the_examples_of_the_columns_make_a_shop_that_loads(tmp_path: Path) -> None:
    write(tmp_path, {stem: _example(kind) for stem, kind in KINDS.items()})
    other = Material(code="SOLE-RUB-43", name="Rubber soles", family="pre-cut soles", unit=unit("pair"))
    loaded = read_files([tmp_path], BookFacts(materials={other.code: other}), locale="en_IE", digits=2)
    assert loaded.rows == dict.fromkeys(KINDS, 1)
    assert loaded.notes == ()
    assert loaded.tickets[0].size is not None


@pytest.mark.parametrize("kind", KINDS.values(), ids=list(KINDS))
def test_a_kind_is_fully_described(kind: FileKind) -> None:
    names = [column.name for column in kind.columns]
    assert len(set(names)) == len(names)
    for column in kind.columns:
        assert column.name == plain_header(column.name)
        assert column.meaning.endswith(".")
        assert bool(column.choices) is (column.type is Type.CHOICE)
        assert bool(column.refers_to) is (column.type is Type.REFERENCE)
        assert column.required is False or column.example


@pytest.mark.parametrize("name", ["Past jobs", "past_jobs", "PAST-JOBS", " past-jobs "])
def test_a_kind_is_met_under_any_spelling_of_its_name(name: str) -> None:
    assert kind_of(name) is KINDS["past-jobs"]


def test_an_unknown_kind_is_none() -> None:
    assert kind_of("receipts") is None


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.stem)
def test_every_header_and_name_of_old_means_one_thing(kind: FileKind) -> None:
    """Files filled in before a column or a kind was renamed go on loading."""
    assert kind_of(kind.title) is kind_of(kind.stem) is kind
    titles, names = [column.title for column in kind.columns], [column.name for column in kind.columns]
    assert len(set(titles)) == len(titles)
    assert {kind.headers[title] for title in titles} == set(names) == {kind.headers[name] for name in names}
    assert [kind.headers[title] for title in titles] == names
