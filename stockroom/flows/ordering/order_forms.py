"""Write a placed order in a form for the supplier, and place what was suggested."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from stockroom.errors import RefusedError
from stockroom.flows.ordering.place import OrderedPacks, find_supplier, place_order, placed_before, tax_to_bear
from stockroom.flows.ordering.plan import plan_order
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.show.order_form import FormLine, OrderFacts, form_lines
from stockroom.show.orders import order_format
from stockroom.stock.materials import Material
from stockroom.stock.orders import Order
from stockroom.stock.postings import Stamp
from stockroom.stock.suppliers import Supplier
from stockroom.store import catalogue, orders
from stockroom.store.book import Book


def order_form(book: Book, number: str, form: str) -> tuple[str, bytes]:
    """Write an order out; gives a file name and its content."""
    chosen = order_format(form)
    order, facts = _facts(book, number)
    return f"order-{order.number}{chosen.suffix}", chosen.render(order, facts)


def place_suggested(book: Book, typed: str, moment: datetime, stamp: Stamp, *, site: str | None = None) -> Order:
    """Place with one supplier what the plan suggests for him now, for the whole shop or for one site.

    Raises
    ------
    RefusedError
        If nothing is suggested from him now.
    """
    supplier = find_supplier(book, typed)
    stamp = stamp.asking("order what is suggested", supplier=supplier)
    done = placed_before(book, stamp)  # once placed, it is no longer suggested
    if done is not None:
        return done
    lists = [each for each in plan_order(book, moment, site=site).lists if each.supplier == supplier]
    if not lists:
        raise RefusedError(
            phrase("Nothing is suggested from %(supplier)s now.", supplier=supplier),
            fix=phrase(
                "See: %(command)s", command=" ".join(("stockroom reorder", *(("--site", site) if site else ())))
            ),
        )
    asked: Sequence[OrderedPacks] = [
        OrderedPacks(material=line.material, packs=line.packs, supplier_code=line.supplier_code)
        for line in lists[0].lines
    ]
    return place_order(book, supplier, asked, stamp)


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderCard:
    """An order as it is looked at."""

    order: Order
    supplier: Supplier
    materials: Mapping[str, Material]
    lines: Sequence[FormLine]  # as they are written out
    tax: int  # minor units: said beside the total where the shop can't take it back
    text: str  # to paste into an email
    mail: str  # the address that opens an email with it
    late_days: int

    @property
    def is_open(self) -> bool:
        """Say whether something is outstanding."""
        return self.order.state in orders.OPEN


def order_card(book: Book, number: str, now: datetime) -> OrderCard:
    """Give an order's card."""
    from stockroom.show.orders.eml import mail_link  # noqa: PLC0415 -- for the pages only

    order, facts = _facts(book, number)
    late = max((now.date() - order.expected).days, 0) if order.expected else 0
    return OrderCard(
        order=order,
        supplier=facts.supplier,
        materials=facts.materials,
        lines=form_lines(order, facts),
        tax=facts.tax,
        text=order_format("text").render(order, facts).decode(),
        mail=mail_link(order, facts),
        late_days=late,
    )


def _facts(book: Book, number: str) -> tuple[Order, OrderFacts]:
    """Read an order and what is needed to write it out."""
    with book.reading() as session:
        order = orders.the_order(session, catalogue.dimensions(session), number)
        shop = catalogue.read_shop(session)
        supplier = next(s for s in catalogue.read_suppliers(session) if s.code == order.supplier)
        materials = {m.code: m for m in catalogue.read_materials(session, [line.material for line in order.lines])}
        tax = tax_to_bear(session, order)
    return order, OrderFacts(shop=shop.name, supplier=supplier, materials=materials, formats=formats_of(shop), tax=tax)


def supplier_names(book: Book) -> dict[str, str]:
    """Name the suppliers by code."""
    with book.reading() as session:
        return {s.code: s.name for s in catalogue.read_suppliers(session)}
