"""Results that took long to work out, kept until the book's state has moved on."""

from hashlib import sha256

import sqlalchemy as sa

from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.ledger import head
from stockroom.store.tables import kept_result, upsert


def recall(session: Session, name: str, mark: str) -> str | None:
    """Give a result kept under a mark; None when there is none, or it was worked out from another state."""
    asked = sa.select(kept_result.c.content).where(kept_result.c.name == name, kept_result.c.mark == mark)
    return session.execute(asked).scalar()


def remember(session: Session, name: str, mark: str, content: str) -> None:
    """Keep a result in place of the last one of that name."""
    upsert(session, kept_result, [{"name": name, "mark": mark, "content": content}])


_LISTS = (tables.material, tables.supplier, tables.offer, tables.job, tables.closure, tables.event)
_OURS = ("passcode:", "session key")  # notes that no figure depends on


def state_mark(session: Session) -> tuple[int, str]:
    """Give the number of the last document, and the mark of the ledger's head and of every list beside it."""
    number, chain = head(session)
    said = sha256(chain.encode())
    for table in _LISTS:
        for row in session.execute(sa.select(table).order_by(*table.primary_key.columns)):
            said.update(repr(tuple(row)).encode())
    said.update(str(session.execute(sa.select(sa.func.max(tables.recipe.c.id))).scalar()).encode())
    for row in session.execute(sa.select(tables.setting).order_by(tables.setting.c.name)):
        if not row.name.startswith(_OURS):
            said.update(repr(tuple(row)).encode())
    return number, said.hexdigest()
