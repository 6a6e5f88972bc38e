"""What was invented and what is read back from its files are the same nouns."""

import pytest
from dateutil.easter import easter

from stockroom.demo.catalogue import MATERIALS, OFFERS, RECIPES, Row
from stockroom.demo.files import write_files
from stockroom.demo.recipes import JOBS
from stockroom.demo.seasons import SETTINGS, closures, events
from stockroom.demo.shop import World
from stockroom.demo.trade import SUPPLIERS
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_files
from stockroom.intake.loaded import Loaded


@pytest.fixture(scope="module")
def loaded(files: dict[str, list[Row]], tmp_path_factory: pytest.TempPathFactory) -> Loaded:
    folder = tmp_path_factory.mktemp("demo")
    write_files(files, folder)
    return read_files([folder], BookFacts(), locale=SETTINGS["locale"], digits=2)


def test_the_files_load_without_a_word_of_warning(loaded: Loaded, files: dict[str, list[Row]]) -> None:
    assert loaded.notes == ()
    assert loaded.rows == {stem: len(rows) for stem, rows in files.items()}


def test_the_catalogue_reads_back_as_it_was_invented(loaded: Loaded) -> None:
    assert loaded.settings == SETTINGS
    assert loaded.materials == MATERIALS
    assert [material.extra for material in loaded.materials] == [material.extra for material in MATERIALS]
    assert loaded.suppliers == SUPPLIERS
    assert loaded.jobs == JOBS
    assert set(loaded.closures) == set(closures())
    assert set(loaded.events) == set(events())


def test_offers_read_back_with_the_same_costs(loaded: Loaded) -> None:
    for read, made in zip(loaded.offers, OFFERS, strict=True):
        assert (read.supplier, read.material, read.pack, read.valid_from) == (
            made.supplier, made.material, made.pack, made.valid_from,
        )  # fmt: skip
        assert [read.cost(packs) for packs in range(1, 12)] == [made.cost(packs) for packs in range(1, 12)]


def test_recipe_cards_read_back_in_every_version(loaded: Loaded) -> None:
    assert set(loaded.recipes) == set(RECIPES)


def test_documents_read_back_as_they_were_written(loaded: Loaded, world: World) -> None:
    assert loaded.tickets == tuple(world.diary.tickets)
    assert {(d.supplier, d.reference): d.lines for d in loaded.deliveries} == {
        (d.supplier, d.reference): d.lines for d in world.diary.deliveries
    }
    assert sum(len(count.lines) for count in loaded.counts) == len(world.diary.counts)
    assert {order.number for order in loaded.orders} >= {order.number for order in world.diary.open_orders}


def test_easter_is_when_it_is() -> None:
    """Against dateutil's computation (Oudin 1940), which comes with pandas."""
    days = [event.day for event in events() if event.name == "Easter"]
    assert days == [easter(day.year) for day in days]
