"""One order to look at: its supplier, its lines by name, its paper as text."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from stockroom.flows.orders import dimensions
from stockroom.show.formats import formats_of
from stockroom.show.order_paper import OrderFacts
from stockroom.show.orders import order_format
from stockroom.stock.materials import Material
from stockroom.stock.orders import Order
from stockroom.stock.suppliers import Supplier
from stockroom.store import catalogue, orders, suppliers
from stockroom.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCard:
    """An order as it is looked at."""

    order: Order
    supplier: Supplier
    materials: Mapping[str, Material]
    text: str  # to paste into an email
    late_days: int

    @property
    def is_open(self) -> bool:
        """Say whether something is still to come."""
        return self.order.state in orders.OPEN


def order_card(book: Book, number: str, now: datetime) -> OrderCard:
    """Give an order's card."""
    with book.reading() as session:
        order = orders.the_order(session, dimensions(session), number)
        shop = catalogue.read_shop(session)
        supplier = next(s for s in suppliers.read_suppliers(session) if s.code == order.supplier)
        materials = {m.code: m for m in catalogue.read_materials(session, [line.material for line in order.lines])}
    facts = OrderFacts(shop=shop.name, supplier=supplier, materials=materials, formats=formats_of(shop))
    late = max((now.date() - order.expected).days, 0) if order.expected else 0
    text = order_format("text").render(order, facts).decode()
    return OrderCard(order=order, supplier=supplier, materials=materials, text=text, late_days=late)


def supplier_names(book: Book) -> dict[str, str]:
    """Name the suppliers by code."""
    with book.reading() as session:
        return {s.code: s.name for s in suppliers.read_suppliers(session)}
