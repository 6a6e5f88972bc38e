"""Serving the pages: one process, loopback unless a passcode guards them."""

import gc
import logging
import socket
import time
from collections.abc import Callable
from contextlib import closing, suppress
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from typing import Any

from flask import Flask
from waitress.server import create_server  # type: ignore[import-untyped]

from stockroom.errors import RefusedError
from stockroom.flows.book.opening import Book, has_ended, kept_passcodes
from stockroom.phrases import phrase
from stockroom.stock.typed import by_clock
from stockroom.web import connections
from stockroom.web.access import Passcodes
from stockroom.web.app import make_app
from stockroom.web.background import Beside
from stockroom.web.first_run import FirstRun
from stockroom.web.guard import CSP
from stockroom.web.result_cache import Keeper
from stockroom.web.security_log import LOGGER, SecurityLog
from stockroom.web.site import Entrance, Site
from stockroom.web.swap import Pages
from stockroom.web.throttle import Throttle

LOOPBACK = frozenset({"127.0.0.1", "localhost", "::1"})
_EVERYWHERE = frozenset({"0.0.0.0", "::"})  # noqa: S104 -- recognised, and refused without a passcode
_THREADS = 8
_MOST_BYTES = 40 * 2**20


@dataclass(frozen=True, slots=True, kw_only=True)
class Where:
    """Where the pages are opened."""

    host: str
    port: int
    names: tuple[str, ...] = ()
    secure: bool = False
    proxy: str = "127.0.0.1"  # whose word is taken for where a request came from, where the pages are behind one

    @property
    def outside(self) -> bool:
        """Say whether other machines can reach it, by themselves or through a proxy."""
        return self.host not in LOOPBACK or self.secure

    @property
    def hosts(self) -> frozenset[str]:
        """Names the pages answer to; others are refused, so that no strange name can be pointed at them."""
        named = {name.casefold() for name in self.names}
        own = {self.host} if self.host not in _EVERYWHERE else _own_names()
        return frozenset(LOOPBACK | named | own)


def run(book: Book, where: Where, *, log: Path | None, told: Callable[[str], None]) -> None:
    """Serve until interrupted.

    Raises
    ------
    RefusedError
        If others on the network could reach it and there is no passcode.
    """
    made = make_site(book, where.hosts, Beside())
    if where.outside and "owner" not in made.passcodes.read():
        raise RefusedError(
            "The pages are opened to the network only behind a passcode.",
            fix="Set one: stockroom serve --passcode owner",
        )
    _serve(open_pages(made, secure=where.secure), where, log=log, told=told)


def begin(place: str, where: Where, *, log: Path | None, told: Callable[[str], None]) -> None:
    """Serve where there is no book yet: first the page that begins one, then the shop's own; until interrupted.

    Raises
    ------
    RefusedError
        If anybody but this machine could reach it.
    """
    if where.outside or where.names:
        raise RefusedError(
            "There is no book yet; it is begun on this machine only.",
            fix="Run stockroom serve, begin the shop and set the owner's passcode; then open the pages to others.",
        )
    clock = partial(by_clock, datetime.now)
    at = Entrance(now=clock, hosts=where.hosts, passcodes=Passcodes(read=dict), log=SecurityLog(now=clock))
    first = FirstRun(place, at, lambda book: open_pages(make_site(book, where.hosts, Beside())))
    try:
        _serve(first, where, log=log, told=told)
    finally:
        if first.book is not None:
            first.book.close()


def is_open(where: Where) -> bool:
    """Say whether pages of this program answer there already."""
    with suppress(OSError, HTTPException), closing(HTTPConnection(where.host, where.port, timeout=2)) as line:
        line.request("GET", "/static/awl.svg")
        return line.getresponse().getheader("Content-Security-Policy") == CSP
    return False


def _serve(pages: Callable[..., Any], where: Where, *, log: Path | None, told: Callable[[str], None]) -> None:
    _keep_log(log)
    with _listen(where) as listening:
        server = create_server(
            pages,
            sockets=[listening],
            threads=_THREADS,
            max_request_body_size=_MOST_BYTES,
            ident="",
            url_scheme="https" if where.secure else "http",
            connection_limit=connections.IN_ALL,
            clear_untrusted_proxy_headers=True,
            **_behind(where),
        )
        server.channel_class = connections.bounded(where.proxy if where.secure else "")
        gc.freeze()  # what is loaded by now stays: no later collection goes through it, and no page waits for that
        told(f"http{'s' if where.secure else ''}://{_shown(where, listening.getsockname()[1])}/")
        try:
            server.run()
        except KeyboardInterrupt:
            server.close()


def _behind(where: Where) -> dict[str, Any]:
    """Take the word of the proxy, and of nobody else, for the address that a request came from."""
    if not where.secure:
        return {}
    return {"trusted_proxy": where.proxy, "trusted_proxy_headers": {"x-forwarded-for"}, "trusted_proxy_count": 1}


def open_pages(over: Site, *, secure: bool = False) -> Pages:
    """Give the pages of a site, in whose place those of another book can come: of a backup that is put back."""

    def of(book: Book) -> Flask:
        return make_app(
            replace(made, book=book, keeper=Keeper(book, made.beside), passcodes=_passcodes(book)), secure=secure
        )

    made = replace(over, open_pages=of)
    return made.pages.show(make_app(made, secure=secure))


def _passcodes(book: Book) -> Passcodes:
    return Passcodes(read=lambda: kept_passcodes(book), ended=lambda number: has_ended(book, number))


def make_site(book: Book, hosts: frozenset[str], beside: Beside) -> Site:
    """Put a site together over an open book, with the worker beside its pages."""
    return Site(
        beside=beside,
        keeper=Keeper(book, beside),
        book=book,
        now=partial(by_clock, datetime.now),
        hosts=hosts,
        passcodes=_passcodes(book),
        log=SecurityLog(now=partial(by_clock, datetime.now)),
        throttle=Throttle(clock=time.monotonic),
    )


def _listen(where: Where) -> socket.socket:
    family = socket.AF_INET6 if ":" in where.host else socket.AF_INET
    try:
        return socket.create_server((where.host, where.port), family=family)
    except OSError as wrong:
        raise RefusedError(
            phrase(
                "The pages can't be opened at %(host)s port %(port)s: %(reason)s.",
                host=where.host,
                port=where.port,
                reason=wrong.strerror or wrong,
            ),
            fix="Check the address, or choose another --port: another program may listen there.",
        ) from wrong


def _shown(where: Where, port: int) -> str:
    host = where.names[0] if where.names else ("localhost" if where.host in _EVERYWHERE else where.host)
    return f"[{host}]:{port}" if ":" in host else f"{host}:{port}"


def _own_names() -> frozenset[str]:
    """Give this machine's own names and addresses."""
    name = socket.gethostname()
    try:
        addresses = {str(found[4][0]) for found in socket.getaddrinfo(name, None)}
    except OSError:
        addresses = set()
    return frozenset({name.casefold(), f"{name.casefold()}.local"} | addresses)


def _keep_log(log: Path | None) -> None:
    keeper = logging.getLogger(LOGGER)
    keeper.setLevel(logging.INFO)
    keeper.propagate = False
    keeper.addHandler(logging.FileHandler(log, encoding="utf-8") if log else logging.StreamHandler())
