"""Where the ledger ends, kept beside it: papers removed from its end leave a chain that fits, but ends too early."""

import sqlalchemy as sa

from stockroom.errors import BookError
from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.upsert import upsert

NOTE = "ledger_end"  # the note that says it: the last document's number and check figure


def kept_end(session: Session) -> tuple[int, str] | None:
    """Read where the ledger ended when it was last written; None in a book that never said."""
    asked = sa.select(tables.setting.c.value).where(tables.setting.c.name == NOTE)
    number, _, chain = (session.execute(asked).scalar() or "").partition(" ")
    return (int(number), chain) if number.isdecimal() else None


def keep_end(session: Session, number: int, chain: str) -> None:
    """Say where the ledger ends now."""
    upsert(session, tables.setting, [{"name": NOTE, "value": f"{number} {chain}"}])


def refuse_lost_end(session: Session, end: tuple[int, str]) -> None:
    """Refuse to write on where papers are gone from the end: it would hide that they ever were."""
    kept = kept_end(session)
    if kept is not None and kept != end:
        raise BookError(
            f"The book ends with document {end[0]}, but it was last written up to document {kept[0]}: "
            "it was changed by other means than this program.",
            fix="Run: stockroom check, then restore the newest backup. Keep this file aside.",
        )
