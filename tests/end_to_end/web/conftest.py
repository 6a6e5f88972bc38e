"""The pages in a real browser, over a real server, on a copy of the small shop's book."""

import json
import os
import shutil
import subprocess
import sys
import tarfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import Fill
from tests.end_to_end.conftest import Copier
from tests.end_to_end.shop import MORNING

CHROMIUM, DRIVER = "/usr/bin/chromium", "/usr/bin/chromedriver"
AXE = "axe-core@4.14.1"  # a development tool: fetched when the tests run, never part of the program


def _missing(what: str) -> None:
    if os.environ.get("CI", "").casefold() == "true":
        pytest.fail(what)
    pytest.skip(what)


@dataclass
class Served:
    """`stockroom serve` in a process of its own."""

    place: str
    port: int = 0
    process: subprocess.Popen[str] | None = None

    @property
    def base(self) -> str:
        """Where it is."""
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> "Served":
        """Open the pages; the second time at the same place."""
        around = {name: value for name, value in os.environ.items() if not name.startswith("STOCKROOM_")}
        command = [sys.executable, "-W", "error", "-m", "stockroom", "serve", "--port", str(self.port), "--json"]
        env = around | {"STOCKROOM_BOOK": self.place, "STOCKROOM_NOW": MORNING, "OMP_NUM_THREADS": "1"}
        self.process = subprocess.Popen(command, env=env, stdout=subprocess.PIPE, text=True)
        assert self.process.stdout is not None
        self.port = int(json.loads(self.process.stdout.readline())["address"].rstrip("/").rsplit(":", 1)[1])
        return self

    def stop(self) -> None:
        """Close them."""
        if self.process is not None:
            self.process.terminate()
            self.process.communicate(timeout=20)
            self.process = None


@pytest.fixture
def kind() -> str:
    """Keep the book in a file; a test that is about both kinds of database says so."""
    return "sqlite"


@pytest.fixture
def served(kind: str, copied: Copier, small: Fill) -> Iterator[Served]:
    """Serve a copy of the small shop's book."""
    made = Served(copied(kind, small)).start()
    yield made
    made.stop()


@pytest.fixture(scope="session")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Fetch the accessibility checker's script."""
    folder = tmp_path_factory.mktemp("axe")
    if shutil.which("npm") is None:
        _missing("npm is not installed: the pages' accessibility can't be checked")
    done = subprocess.run(["npm", "pack", "--silent", AXE], cwd=folder, capture_output=True, text=True, check=False)
    if done.returncode:
        _missing(f"{AXE} could not be fetched: {done.stderr}")
    with tarfile.open(next(folder.glob("*.tgz"))) as packed:
        script = packed.extractfile("package/axe.min.js")
        assert script is not None
        return script.read().decode()


@pytest.fixture(scope="session")
def saved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Give the folder that downloads go to."""
    return tmp_path_factory.mktemp("downloads")


@pytest.fixture(scope="session")
def chromium(tmp_path_factory: pytest.TempPathFactory, saved: Path) -> Iterator[Any]:
    """Start a browser that talks to nobody by itself."""
    from selenium import webdriver
    from selenium.webdriver.chrome.options import Options
    from selenium.webdriver.chrome.service import Service

    if not (Path(CHROMIUM).exists() and Path(DRIVER).exists()):
        _missing("Chromium is not installed: apt-get install chromium chromium-driver")
    profile = tmp_path_factory.mktemp("profile")
    options = Options()
    options.binary_location = CHROMIUM
    for flag in (
        "headless=new", "no-sandbox", "disable-gpu", "disable-quic", "no-first-run", "disable-background-networking",
        "disable-component-update", "disable-sync", "disable-default-apps", "disable-dev-shm-usage", "hide-scrollbars",
        f"user-data-dir={profile}",
    ):  # fmt: skip
        options.add_argument(f"--{flag}")
    options.add_experimental_option("prefs", {"download.default_directory": str(saved)})
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    driver = webdriver.Chrome(options=options, service=Service(DRIVER))
    yield driver
    driver.quit()
