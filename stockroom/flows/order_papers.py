"""Write a placed order in a form for the supplier, and place what was suggested."""

from collections.abc import Sequence
from datetime import datetime

from stockroom.errors import RefusedError
from stockroom.flows.orders import Asked, dimensions, find_supplier, place_order, placed_before
from stockroom.flows.plan_order import plan_order
from stockroom.phrases import phrase
from stockroom.show.formats import formats_of
from stockroom.show.order_paper import OrderFacts
from stockroom.show.orders import order_format
from stockroom.stock.orders import Order
from stockroom.stock.postings import Stamp
from stockroom.store import catalogue, orders, suppliers
from stockroom.store.book import Book


def order_paper(book: Book, number: str, form: str) -> tuple[str, bytes]:
    """Write an order out; gives a file name and its content."""
    chosen = order_format(form)
    with book.reading() as session:
        order = orders.the_order(session, dimensions(session), number)
        shop = catalogue.read_shop(session)
        supplier = next(s for s in suppliers.read_suppliers(session) if s.code == order.supplier)
        materials = {m.code: m for m in catalogue.read_materials(session, [line.material for line in order.lines])}
    facts = OrderFacts(shop=shop.name, supplier=supplier, materials=materials, formats=formats_of(shop))
    return f"order-{order.number}{chosen.suffix}", chosen.render(order, facts)


def place_suggested(book: Book, typed: str, moment: datetime, stamp: Stamp, *, site: str | None = None) -> Order:
    """Place with one supplier what the plan suggests for him now, for the whole shop or for one site."""
    supplier = find_supplier(book, typed)
    done = placed_before(book, stamp.key)  # once placed, it is no longer suggested
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
    asked: Sequence[Asked] = [
        Asked(material=line.material, packs=line.packs, supplier_code=line.supplier_code) for line in lists[0].lines
    ]
    return place_order(book, supplier, asked, stamp)
