"""Where the pages are opened, and to whom."""

import socket

import pytest
from click.testing import CliRunner

from stockroom.cli.main import cli
from stockroom.errors import RefusedError, UsageError
from stockroom.store.book import Book
from stockroom.web import access
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
