"""What several files of laws share."""

from collections.abc import Iterator

import pytest


@pytest.fixture(scope="module")
def few_counts() -> Iterator[None]:
    """Fewer pack counts and order days to choose from: the same laws, sooner."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("stockroom.buying.cost_table.COUNTS", 8)
        patch.setattr("stockroom.buying.long_run.GAPS", (1, 3))
        yield
