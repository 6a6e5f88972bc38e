"""The price list of the post: rows to nouns and back."""

import json
from collections.abc import Sequence

import sqlalchemy as sa

from stockroom.stock.postage import Postage
from stockroom.stock.quantities import Dimension, Quantity
from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.list_changes import renew


def read_postage(session: Session) -> list[Postage]:
    """Read the price list, by code."""
    rows = session.execute(sa.select(tables.postage).order_by(tables.postage.c.code))
    return [
        Postage(
            code=row.code,
            name=row.name,
            cost=row.cost,
            packaging={
                material: Quantity(nano=nano, dimension=Dimension(kind))
                for material, nano, kind in json.loads(row.packaging or "[]")
            },
        )
        for row in rows
    ]


def save_postage(session: Session, postage: Sequence[Postage]) -> None:
    """Add kinds of parcel, or renew those whose code is known."""
    rows = [
        {
            "code": each.code,
            "name": each.name,
            "cost": each.cost,
            "packaging": json.dumps([[m, q.nano, str(q.dimension)] for m, q in each.packaging.items()])
            if each.packaging
            else "",
        }
        for each in postage
    ]
    renew(session, "postage", rows)
