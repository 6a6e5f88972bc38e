"""The command that opens the pages; what it needs is loaded once it runs."""

from functools import partial
from pathlib import Path
from typing import Any

import click

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
@click.option("--json", "as_json", is_flag=True, help="Answer in JSON, for programs.")
@click.pass_obj
def serve(place: str, /, *, role: str | None, log: Path | None, as_json: bool, **where: Any) -> None:  # noqa: ANN401 -- as click passes it
    """Open the shop's pages on this machine, or to its network."""
    from stockroom.flows.book.opening import open_book  # noqa: PLC0415 -- a light start
    from stockroom.web import access, server  # noqa: PLC0415 -- as above

    book = open_book(place)
    try:
        if role:
            typed = click.prompt("Passcode", hide_input=True, confirmation_prompt=True, err=True)
            access.set_passcode(book, role, typed)
            click.echo(f"The passcode of {role} is set.", err=as_json)
        else:
            told = partial(_tell, as_json=as_json)
            server.run(book, server.Where(**where), log=log, told=told)
    finally:
        book.close()


def _tell(address: str, *, as_json: bool) -> None:
    import json  # noqa: PLC0415 -- for programs only

    click.echo(
        json.dumps({"address": address}) if as_json else f"The shop's pages are open at {address}  (Ctrl-C ends)"
    )
