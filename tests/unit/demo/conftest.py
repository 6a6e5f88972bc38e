import pytest

from stockroom.demo.catalogue import Row
from stockroom.demo.shop import World, lived, written


@pytest.fixture(scope="session")
def world() -> World:
    return lived()


@pytest.fixture(scope="session")
def files(world: World) -> dict[str, list[Row]]:
    return written(world)
