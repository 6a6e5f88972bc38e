"""Where the pages are opened, and to whom."""

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from functools import partial
from http.client import HTTPConnection
from queue import Queue
from typing import Any

import pytest
import waitress  # type: ignore[import-untyped]
from click.testing import CliRunner

from stockroom.cli.main import cli
from stockroom.errors import RefusedError, UsageError
from stockroom.store.book import Book
from stockroom.web import access, connections, server
from stockroom.web.access import Passcodes, fits, hashed, set_passcode
from stockroom.web.server import LOOPBACK, Where, run
from stockroom.web.site import Site

EVERYWHERE = "0.0.0.0"  # noqa: S104 -- refused, or opened to nobody: nothing listens there


def never(_address: str) -> None:
    pytest.fail("the pages were opened")


@pytest.mark.parametrize("host", [EVERYWHERE, "192.0.2.7", "::"])
def test_the_network_gets_in_only_behind_a_passcode(open_shop: Book, host: str) -> None:
    with pytest.raises(RefusedError, match="only behind a passcode"):
        run(open_shop, Where(host=host, port=0), log=None, told=never)


def test_a_port_in_use_is_said_plainly(open_shop: Book) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        with pytest.raises(RefusedError, match="can't be opened"):
            run(open_shop, Where(host="127.0.0.1", port=taken.getsockname()[1]), log=None, told=never)


def test_the_pages_answer_to_their_own_names_only() -> None:
    assert Where(host="127.0.0.1", port=1).hosts == LOOPBACK
    assert "bench.example" in Where(host=EVERYWHERE, port=1, names=("Bench.example",)).hosts
    assert EVERYWHERE not in Where(host=EVERYWHERE, port=1).hosts


def test_a_passcode_is_kept_as_a_slow_hash_only() -> None:
    kept = hashed("a long passcode")
    assert kept.startswith("scrypt:32768:8:3$")
    assert "passcode" not in kept
    assert fits("a long passcode", kept)
    assert not fits("a long passcodf", kept)
    assert hashed("a long passcode") != kept  # salted


def test_a_passcode_kept_by_an_older_release_still_fits() -> None:
    """The figures: RFC 7914, section 12, third test vector."""
    digest = (
        "7023bdcb3afd7348461c06cd81fd38ebfda8fbba904f8e3ea9b543f6545da1f2"
        "d5432955613f0fcf62d49705242a9af9e61e85dc0d651e40dfcf017b45575887"
    )
    kept = f"scrypt$16384$8$1${b'SodiumChloride'.hex()}${digest}"
    assert fits("pleaseletmein", kept)
    assert not fits("pleaseletmeIn", kept)


@pytest.mark.parametrize("text", ["", "short", "x" * 201])
def test_a_passcode_too_short_or_too_long_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        hashed(text)


def test_two_roles_never_share_a_passcode(site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access, "_METHOD", "pbkdf2:sha256:1")
    set_passcode(site.book, "owner", "the same for both")
    with pytest.raises(UsageError, match="another role's"):
        set_passcode(site.book, "bench", "the same for both")
    assert Passcodes(read=site.passcodes.read).role_of("the same for both") == "owner"


def test_a_passcode_is_set_from_the_command_line(open_shop: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(access, "_METHOD", "pbkdf2:sha256:1")
    words = ["--book", open_shop.place, "serve", "--passcode", "owner"]
    done = CliRunner().invoke(cli, words, input="a long passcode\na long passcode\n")
    assert done.exit_code == 0, done.output
    assert "The passcode of owner is set." in done.output
    assert "a long passcode" not in done.output


def _app(environ: dict[str, str], start: Callable[..., object]) -> list[bytes]:
    """Answer with the address that a request came from."""
    start("200 OK", [("Content-Type", "text/plain")])
    return [environ["REMOTE_ADDR"].encode()]


@pytest.fixture
def open_pages(monkeypatch: pytest.MonkeyPatch, open_shop: Book) -> Iterator[Callable[[Where], int]]:
    """Open a page on a port of its own, as the shop's are opened; gives the port."""
    monkeypatch.setattr(server, "make_app", lambda *_site, **_how: _app)
    threads: list[threading.Thread] = []
    servers: list[Any] = []
    made = waitress.create_server

    def kept(*given: Any, **how: Any) -> Any:
        servers.append(made(*given, **how))
        return servers[-1]

    monkeypatch.setattr(server, "create_server", kept)

    def opened(where: Where) -> int:
        told: Queue[str] = Queue()
        threads.append(threading.Thread(target=run, args=(open_shop, where), kwargs={"log": None, "told": told.put}))
        threads[-1].start()
        return int(told.get(timeout=10).rstrip("/").rpartition(":")[2])

    yield opened
    for each in servers:  # closed by the thread that watches its lines: it may be waiting for them
        each.trigger.pull_trigger(partial(each.asyncore.close_all, each._map))
    for thread in threads:
        thread.join(10)
    for each in servers:
        each.task_dispatcher.shutdown()


def _asked(port: int, **headers: str) -> str:
    with closing(HTTPConnection("127.0.0.1", port, timeout=10)) as line:
        line.request("GET", "/", headers=headers)
        return line.getresponse().read().decode()


def test_a_proxy_opens_them_to_others_and_so_only_behind_a_passcode(open_shop: Book) -> None:
    with pytest.raises(RefusedError, match="only behind a passcode"):
        run(open_shop, Where(host="127.0.0.1", port=0, secure=True), log=None, told=never)


def test_who_asked_is_read_from_the_proxy_and_from_nobody_else(
    open_pages: Callable[[Where], int], open_shop: Book, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(access, "_METHOD", "pbkdf2:sha256:1")
    set_passcode(open_shop, "owner", "owner of the shop")
    forged = {"X-Forwarded-For": "198.51.100.7"}
    behind = Where(host="127.0.0.1", port=0, secure=True)
    assert _asked(open_pages(behind), **forged) == "198.51.100.7"
    for where in (Where(host="127.0.0.1", port=0), Where(host="127.0.0.1", port=0, secure=True, proxy="192.0.2.1")):
        assert _asked(open_pages(where), **forged) == "127.0.0.1"


def test_half_open_requests_of_one_device_keep_nobody_out(
    open_pages: Callable[[Where], int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "ARRIVES_WITHIN", 1.0)
    port = open_pages(Where(host="127.0.0.1", port=0))
    half = b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1000\r\n\r\nhalf"
    lines = []
    for _ in range(120):
        lines.append(socket.create_connection(("127.0.0.1", port), timeout=10))
        lines[-1].sendall(half)
    with closing(HTTPConnection("127.0.0.1", port, timeout=10, source_address=("127.0.0.2", 0))) as other:
        other.request("GET", "/")
        assert other.getresponse().read() == b"127.0.0.2", "another device is answered at once"
    for line in lines:
        with closing(line), suppress(OSError):
            assert line.recv(1) == b"", "the server ends it, whether one too many or too slow"
    assert _asked(port) == "127.0.0.1"
