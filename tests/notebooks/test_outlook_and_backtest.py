"""The notebook runs from its first cell to its last on a book, by the public face alone."""

import os
import re
import sys
from pathlib import Path

import pytest

from tests.end_to_end.shop import DATA, EVENING, Indoors

nbclient = pytest.importorskip("nbclient")
nbformat = pytest.importorskip("nbformat")
pytest.importorskip("ipykernel")
NOTEBOOK = Path(__file__).parents[2] / "notebooks" / "outlook_and_backtest.ipynb"

pytestmark = [
    pytest.mark.slow,
    # What the notebook's own machinery warns of on its way is no concern of the shop's.
    pytest.mark.filterwarnings("default"),
]


def test_the_notebook_shows_outlook_and_backtest(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    desk = Indoors(tmp_path / "book.sqlite", now=EVENING)
    desk.says("new-book")
    desk.says("load", str(DATA))
    told = {"STOCKROOM_BOOK": str(desk.place), "STOCKROOM_BACKTEST_WEEKS": "4", "STOCKROOM_NOW": EVENING}
    for name, value in told.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setenv("PATH", f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}")
    book = nbformat.read(NOTEBOOK, as_version=4)
    nbclient.NotebookClient(book, timeout=120, kernel_name="python3").execute()
    assert _pictures(book) == 3
    assert "Stock running out, as seen on Sat 21 Nov 2026" in _words(book)
    assert "4 weeks back-tested" in _words(book)


def test_the_notebook_is_kept_without_results() -> None:
    kept = nbformat.read(NOTEBOOK, as_version=4)
    assert not any(cell.get("outputs") or cell.get("execution_count") for cell in kept.cells)


def test_the_notebook_knows_no_inner_module() -> None:
    code = "\n".join(cell.source for cell in nbformat.read(NOTEBOOK, as_version=4).cells if cell.cell_type == "code")
    assert "import stockroom\n" in code
    assert not re.search(r"stockroom\.(?!open\b|sqlite\b)|from stockroom", code)


def _pictures(book: object) -> int:
    return sum("image/png" in out.get("data", {}) for cell in book.cells for out in cell.get("outputs", ()))  # type: ignore[attr-defined]


def _words(book: object) -> str:
    outs = [out for cell in book.cells for out in cell.get("outputs", ())]  # type: ignore[attr-defined]
    return "\n".join(out.get("text", "") or out.get("data", {}).get("text/markdown", "") for out in outs)
