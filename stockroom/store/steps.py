"""The schema's steps, run in the transaction of whoever asks: all of them are kept, or none."""

from pathlib import Path

import sqlalchemy as sa

_HOME = Path(__file__).parent / "migrations"
STEPS = _HOME / "versions"
NEWEST = "head"


def run_steps(session: sa.Connection, *, steps: Path = STEPS, upto: str = NEWEST) -> None:
    """Run the steps a database lacks.

    Parameters
    ----------
    session : Connection
        A transaction under way.
    steps : Path
        The folder of steps.
    upto : str
        The schema to stop at.
    """
    from alembic import command  # noqa: PLC0415 -- slow import, needed once in a book's life
    from alembic.config import Config  # noqa: PLC0415 -- as above

    asked = Config()
    for name, value in (("script_location", _HOME), ("version_locations", steps), ("path_separator", "os")):
        asked.set_main_option(name, str(value).replace("%", "%%"))
    asked.attributes["connection"] = session
    command.upgrade(asked, upto)
