"""An outside check calls our code: one that holds published figures against the test's own sums shows nothing."""

import sys
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

import pytest

import stockroom

_OURS = str(Path(stockroom.__file__).parent)


@pytest.fixture(autouse=True)
def calls_our_code() -> Iterator[None]:
    """Fail a test during which nothing of ours ran."""
    seen = False

    def note(frame: FrameType, event: str, _: object) -> None:
        nonlocal seen
        code = frame.f_code
        if event == "call" and code.co_name != "<module>" and code.co_filename.startswith(_OURS):
            seen = True
            sys.setprofile(None)

    sys.setprofile(note)
    yield
    sys.setprofile(None)
    assert seen, "this check never calls anything of ours"
