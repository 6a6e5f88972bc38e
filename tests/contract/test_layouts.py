"""Every layout that comes with the program reads its own sample list, on the demo's shop."""

from pathlib import Path

import pytest

from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.intake.loaded import Loaded
from stockroom.intake.sources import read_layout

DATA = Path(__file__).parents[2] / "data"
LAYOUTS = sorted((DATA / "layouts").glob("*.toml"))


@pytest.fixture(scope="module")
def demo() -> Loaded:
    catalogue = [DATA / f"{stem}.csv" for stem in ("materials", "suppliers", "offers")]
    return read_files(catalogue, BookFacts(), locale="en_IE", digits=2)


def test_there_is_a_layout_to_copy() -> None:
    assert LAYOUTS


@pytest.mark.parametrize("path", LAYOUTS, ids=lambda path: path.stem)
def test_a_layout_reads_its_sample(path: Path, demo: Loaded) -> None:
    known = BookFacts(
        materials={material.code: material for material in demo.materials},
        suppliers={supplier.code: supplier for supplier in demo.suppliers},
        offers=demo.offers,
    )
    loaded = read_files([f"{path}={path.with_suffix('.csv')}"], known, locale="en_IE", digits=2)
    assert loaded.offers
    assert {offer.supplier for offer in loaded.offers} == {read_layout(path).always["supplier"]}
