"""What may go back to suppliers, as the book holds it."""

from datetime import date, datetime, time, timedelta

from stockroom.stock.going_back import KINDS, MayGoBack, may_go_back
from stockroom.store import catalogue, ledger
from stockroom.store.book import Session

REMINDED = timedelta(days=14)  # before the last day it stands on Today


def goods_back(session: Session, day: date, *, at: datetime | None = None) -> list[MayGoBack]:
    """Say what may go back on a day, now or as of a moment, the first last day first."""
    since = catalogue.returnable_since(session, day)
    if since is None:
        return []
    documents = ledger.read_documents(session, kinds=KINDS, after=datetime.combine(since, time()) - timedelta(days=1))
    there = [each for each in documents if at is None or each.happened <= at]
    return may_go_back(there, ledger.reversals(session), ledger.balances(session, at=at), day)


def goods_back_soon(session: Session, day: date) -> list[MayGoBack]:
    """Say what may go back for a few days only: whole packs, the first last day first."""
    return [each for each in goods_back(session, day) if each.packs and each.until <= day + REMINDED]
