"""One mark for everything the outlook depends on: it changes when any of it does."""

from hashlib import sha256

import sqlalchemy as sa

from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.ledger import head

_LISTS = (tables.material, tables.supplier, tables.offer, tables.job, tables.closure, tables.event)
_OURS = ("passcode:", "session key")  # notes that no figure depends on


def state_mark(session: Session) -> tuple[int, str]:
    """Give the number of the last paper, and the mark of the ledger's head and of every list beside it."""
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
