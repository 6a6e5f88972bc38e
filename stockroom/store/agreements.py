"""Substitutes and standing orders: rows to nouns and back."""

from collections.abc import Sequence
from datetime import date
from fractions import Fraction

import sqlalchemy as sa

from stockroom.stock.agreements import StandingOrder, Substitute
from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.list_changes import renew
from stockroom.store.tables import day_text


def read_substitutes(session: Session) -> list[Substitute]:
    """Read which materials do each other's work."""
    rows = session.execute(sa.select(tables.substitute).order_by(*tables.substitute.primary_key))
    return [
        Substitute(material=row.material, other=row.other, does=Fraction(row.does or 1), one_way=row.one_way)
        for row in rows
    ]


def save_substitutes(session: Session, substitutes: Sequence[Substitute]) -> None:
    """Add substitutes, or renew what those that are known do."""
    rows = [
        {"material": s.material, "other": s.other, "does": "" if s.does == 1 else str(s.does), "one_way": s.one_way}
        for s in substitutes
    ]
    renew(session, "substitute", rows)


def read_standing_orders(session: Session) -> list[StandingOrder]:
    """Read what comes by itself."""
    rows = session.execute(sa.select(tables.standing).order_by(*tables.standing.primary_key))
    same = ("supplier", "material", "supplier_code", "packs", "weeks")
    return [
        StandingOrder(
            **{name: getattr(row, name) for name in same},
            first=date.fromisoformat(row.first),
            last=date.fromisoformat(row.last) if row.last else None,
        )
        for row in rows
    ]


def save_standing_orders(session: Session, standing: Sequence[StandingOrder]) -> None:
    """Add standing orders, or renew those that are known."""
    same = ("supplier", "material", "supplier_code", "packs", "weeks")
    rows = [
        {name: getattr(each, name) for name in same}
        | {"first": day_text(each.first), "last": day_text(each.last) if each.last else ""}
        for each in standing
    ]
    renew(session, "standing", rows)
