"""Results that took long to work out, kept until the book's state has moved on."""

import sqlalchemy as sa

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


def state_mark(session: Session) -> tuple[int, str]:
    """Give the number of the last document, and the ledger's check figure: changes of lists are documents, too."""
    return head(session)
