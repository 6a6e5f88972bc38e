"""A tablet at the bench: the pages over a real server in a process of its own, whose clock the shop's day sets.

The server: python -m tests.benchmarks.tablet BOOK CLOCK, where the file CLOCK says what time it is; it answers with its
port.
"""

import re
import subprocess
import sys
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from html import unescape
from http.cookiejar import CookieJar
from pathlib import Path

from waitress.server import create_server  # type: ignore[import-untyped]

from stockroom.flows.book.opening import open_book
from stockroom.web.app import make_app
from stockroom.web.background import Beside
from stockroom.web.server import LOOPBACK, make_site

_PATIENCE = 120.0  # seconds
_HIDDEN = re.compile(r'name="(csrf|key)" value="([^"]+)"')


@dataclass
class Tablet:
    """Somebody at the pages: opens one, fills in its form, reads where it leads."""

    base: str
    clock: Path
    server: int  # its process
    client: urllib.request.OpenerDirector = field(
        default_factory=lambda: urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
    )

    def reads(self, address: str, when: datetime) -> str:
        """Open a page; anything but a page is an error."""
        _say_the_time(self.clock, when)
        return self._ask(address)

    def does(self, page: str, address: str, when: datetime, **fields: str | list[str]) -> str:
        """Open a page, send one of its forms, and read the page it leads to."""
        hidden = self._form(page, when)
        return self._ask(address, urllib.parse.urlencode(hidden | fields, doseq=True).encode())

    def _form(self, page: str, when: datetime) -> dict[str, str]:
        """Wait for a page's form: some show what is still being worked out."""
        until = time.monotonic() + _PATIENCE
        while time.monotonic() < until:
            hidden = dict(_HIDDEN.findall(self.reads(page, when)))
            if "key" in hidden:
                return hidden
            time.sleep(0.1)
        raise RuntimeError(f"{page} has no form")

    def megabytes(self) -> float:
        """Give what the server keeps in memory."""
        return resident(self.server)

    def _ask(self, address: str, sent: bytes | None = None) -> str:
        try:
            with self.client.open(self.base + address, sent, timeout=_PATIENCE) as answer:
                return unescape(answer.read().decode())
        except urllib.error.HTTPError as wrong:
            raise RuntimeError(f"{address}: {wrong.code} {wrong.read().decode()}") from wrong


@contextmanager
def tablet(place: Path, begin: datetime) -> Iterator[Tablet]:
    """Open the pages over a book."""
    clock = place.with_name("clock.txt")
    _say_the_time(clock, begin)
    command = [sys.executable, "-m", "tests.benchmarks.tablet", str(place), str(clock)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        try:
            yield Tablet(base=f"http://127.0.0.1:{int(server.stdout.readline())}", clock=clock, server=server.pid)
        finally:
            server.terminate()


def resident(process: int | str = "self") -> float:
    """Give what a process keeps in memory, in MB."""
    found = re.search(r"VmRSS:\s+(\d+) kB", Path(f"/proc/{process}/status").read_text("utf-8"))
    assert found is not None
    return int(found[1]) / 1024


def _say_the_time(clock: Path, when: datetime) -> None:
    fresh = clock.with_suffix(".part")
    fresh.write_text(when.isoformat(), "utf-8")
    fresh.replace(clock)  # the server reads the one or the other, never half of it


def _serve(place: str, clock: Path) -> None:
    site = replace(
        make_site(open_book(place), LOOPBACK, Beside()), now=lambda: datetime.fromisoformat(clock.read_text("utf-8"))
    )
    server = create_server(make_app(site), host="127.0.0.1", port=0, threads=8, ident="")
    print(server.effective_port, flush=True)
    server.run()


if __name__ == "__main__":
    _serve(sys.argv[1], Path(sys.argv[2]))
