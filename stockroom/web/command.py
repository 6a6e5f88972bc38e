"""The commands that open the pages; what they need is loaded once they run."""

import os
import sys
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from stockroom.flows.book.opening import Book

ROLES = ("bench", "owner", "accountant")


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Where to listen; 0.0.0.0: the whole network.")
@click.option("--port", type=click.IntRange(0, 65535), default=8420, show_default=True, help="Port; 0: a free one.")
@click.option("--name", "names", multiple=True, help="Another name the pages are reached by.")
@click.option("--passcode", "role", type=click.Choice(ROLES), help="Set this role's passcode, and stop.")
@click.option("--secure", is_flag=True, help="The pages are reached through a TLS proxy only.")
@click.option(
    "--proxy", default="127.0.0.1", show_default=True, help="The proxy's address: who asked is read from it (--secure)."
)
@click.option("--log", type=click.Path(dir_okay=False, path_type=Path), help="File for what is refused [screen].")
@click.option("--no-browser", is_flag=True, help="Don't open the browser.")
@click.option("--json", "as_json", is_flag=True, help="Answer in JSON, for programs; opens no browser.")
@click.pass_obj
def serve(
    place: str,
    /,
    *,
    role: str | None,
    log: Path | None,
    no_browser: bool,
    as_json: bool,
    **where: Any,  # noqa: ANN401 -- as click passes it
) -> None:
    """Open the shop's pages on this machine, or to its network.

    Where there is no book yet, the first page begins one: the shop, then a starter shop, your files or nothing.
    """
    from stockroom.errors import RefusedError  # noqa: PLC0415 -- a light start
    from stockroom.flows.book.opening import begun  # noqa: PLC0415 -- as above
    from stockroom.web import access, server  # noqa: PLC0415 -- as above

    told = partial(_tell, as_json=as_json, show=not (no_browser or as_json) and _has_screen())
    at = server.Where(**where)
    try:
        if role is None and not begun(place):
            server.begin(place, at, log=log, told=told)
            return
        book = _opened(place)
        try:
            if role is None:
                server.run(book, at, log=log, told=told)
                return
            typed = click.prompt("Passcode", hide_input=True, confirmation_prompt=True, err=True)
            access.set_passcode(book, role, typed)
            click.echo(f"The passcode of {role} is set.", err=as_json)
        finally:
            book.close()
    except RefusedError:
        if role or at.outside or not at.port or not server.is_open(at):
            raise
        told(f"http://{at.host}:{at.port}/")  # started twice: what is open is shown


def _opened(place: str) -> "Book":
    """Open the book; who sits there may bring an older one up: after a double click nobody types a command."""
    from stockroom.errors import OlderBookError  # noqa: PLC0415 -- a light start
    from stockroom.flows.book.opening import open_book  # noqa: PLC0415 -- as above

    try:
        return open_book(place)
    except OlderBookError as older:
        if not _is_asked():
            raise
        from stockroom.flows.book.upgrade import upgrade_book  # noqa: PLC0415 -- seldom
        from stockroom.stock.typed import by_clock  # noqa: PLC0415 -- as above

        click.echo(str(older.what))
        click.confirm("Bring it up to this version now? It is copied first, and the copy is kept.", abort=True)
        click.echo(f"As it was, the book is kept at {upgrade_book(place, by_clock(datetime.now))}.")
        return open_book(place)


def _is_asked() -> bool:
    return sys.stdin.isatty() and sys.stdout.isatty()


def _tell(address: str, *, as_json: bool, show: bool) -> None:
    import json  # noqa: PLC0415 -- for programs only

    click.echo(
        json.dumps({"address": address}) if as_json else f"The shop's pages are open at {address}  (Ctrl-C ends)"
    )
    if show:
        import webbrowser  # noqa: PLC0415 -- where there is a screen only

        webbrowser.open(address)


def _has_screen() -> bool:
    """Say whether somebody sits at a screen: no program, no test, no machine without a desktop."""
    if not sys.stdout.isatty() or os.environ.get("CI"):
        return False
    return sys.platform in ("win32", "darwin") or any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))


@click.command()
@click.argument("folder", type=click.Path(file_okay=False, path_type=Path), default=Path())
@click.option(
    "--for",
    "system",
    type=click.Choice(["linux", "mac", "windows"]),
    help="For which system [this machine's].",
)
@click.option("--at-login", is_flag=True, help="Open the pages at log-in too, without the browser.")
@click.option("--network", is_flag=True, help="Open the pages to the whole network, behind the passcodes.")
@click.option("--json", "as_json", is_flag=True, help="Answer in JSON, for programs.")
@click.pass_obj
def shortcut(place: str, /, *, folder: Path, system: str | None, at_login: bool, network: bool, as_json: bool) -> None:
    """Write a shortcut that opens the shop's pages at a double click.

    FOLDER is where it goes, such as ~/Desktop. A program or machine that moves needs a new one.
    """
    import json  # noqa: PLC0415 -- a light start

    from stockroom.web.shortcuts import write_shortcuts  # noqa: PLC0415 -- as above

    written = write_shortcuts(place, folder, system, at_login=at_login, network=network)
    paths = [str(path) for path in written]
    click.echo(json.dumps({"files": paths}, ensure_ascii=False, indent=2) if as_json else "\n".join(paths))
