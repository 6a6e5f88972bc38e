"""Suppliers and their offers: rows to nouns and back."""

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, time
from typing import Any

import sqlalchemy as sa

from stockroom.stock.quantities import Dimension, Quantity, quantity
from stockroom.stock.shop import weekdays, write_weekdays
from stockroom.stock.suppliers import Offer, PriceBreak, Supplier
from stockroom.store import tables
from stockroom.store.book import Session
from stockroom.store.list_changes import renew
from stockroom.store.sql import day_text


def read_suppliers(session: Session) -> list[Supplier]:
    """Read all suppliers."""
    return [_supplier(row) for row in session.execute(sa.select(tables.supplier).order_by(tables.supplier.c.code))]


def save_suppliers(session: Session, suppliers: Sequence[Supplier]) -> None:
    """Add suppliers, or renew those whose code is known."""
    renew(session, "supplier", [_supplier_row(s) for s in suppliers])


def read_offers(
    session: Session, dimensions: Mapping[str, Dimension], materials: Iterable[str] | None = None
) -> list[Offer]:
    """Read offers of some materials or all, old prices too; `dimensions` says what each is measured in."""
    asked = sa.select(tables.offer).order_by(tables.offer.c.valid_from, tables.offer.c.id)
    if materials is not None:
        asked = asked.where(tables.offer.c.material.in_(list(materials)))
    return [_offer(row, dimensions[row.material]) for row in session.execute(asked)]


def save_offers(session: Session, offers: Sequence[Offer]) -> None:
    """Add offers; the same offer from the same day is renewed, older ones stay."""
    renew(session, "offer", [_offer_row(o) for o in offers])


def _supplier_row(s: Supplier) -> dict[str, Any]:
    same = ("code", "name", "lead_days", "carriage", "carriage_free_over", "minimum_order", "tax_rate", "email", "note")
    return {name: getattr(s, name) for name in same} | {
        "order_weekdays": write_weekdays(s.order_weekdays),
        "cut_off": s.cut_off.isoformat("minutes") if s.cut_off else "",
    }


def _supplier(row: Any) -> Supplier:  # noqa: ANN401 -- a database row
    same = ("code", "name", "lead_days", "carriage", "carriage_free_over", "minimum_order", "tax_rate", "email", "note")
    return Supplier(
        **{name: getattr(row, name) for name in same},
        order_weekdays=weekdays(row.order_weekdays),
        cut_off=time.fromisoformat(row.cut_off) if row.cut_off else None,
    )


def _exact(amount: Quantity | None) -> str:
    return "" if amount is None else str(amount)


def _offer_row(o: Offer) -> dict[str, Any]:
    same = ("supplier", "material", "supplier_code", "pack_name", "price", "minimum_packs", "tax_rate", "measured")
    return {name: getattr(o, name) for name in same} | {
        "pack": o.pack.nano,
        "priced_per": _exact(o.priced_per),
        "pack_in_priced": _exact(o.pack_in_priced),
        "breaks": " ".join(f"{b.packs}:{b.price}" for b in o.breaks),
        "valid_from": day_text(o.valid_from),
    }


def _offer(row: Any, dimension: Dimension) -> Offer:  # noqa: ANN401 -- a database row
    same = ("supplier", "material", "supplier_code", "pack_name", "price", "minimum_packs", "tax_rate", "measured")
    pairs = [text.split(":") for text in row.breaks.split()]
    return Offer(
        **{name: getattr(row, name) for name in same},
        pack=Quantity(nano=row.pack, dimension=dimension),
        priced_per=quantity(row.priced_per) if row.priced_per else None,
        pack_in_priced=quantity(row.pack_in_priced) if row.pack_in_priced else None,
        breaks=tuple(PriceBreak(packs=int(packs), price=int(price)) for packs, price in pairs),
        valid_from=date.fromisoformat(row.valid_from),
    )
