"""Orders: place, receive, close."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.book.terms import terms_of
from stockroom.flows.ordering.receive import (
    Arrived,
    agreed_carriage,
    arrived_lines,
    beside_ordered,
    far_from_usual,
    nominal,
    price_differences,
    refuse_absurd,
    writing,
)
from stockroom.flows.posting.delivery_notes import refuse_known_note
from stockroom.flows.posting.post import entered_before, post_one
from stockroom.phrases import joined, phrase
from stockroom.show.formats import formats_of
from stockroom.stock.landing import taken_in
from stockroom.stock.moves import Document, DocumentKind, delivered_lines
from stockroom.stock.orders import Delivery, DeliveryLine, Order, OrderLine, OrderState
from stockroom.stock.postings import Stamp, order_facts
from stockroom.stock.quantities import plain, unit
from stockroom.stock.suppliers import Offer, Supplier, current
from stockroom.stock.typed import find
from stockroom.store import catalogue, ledger, orders
from stockroom.store.book import Book, Session

_LISTED = 8  # what a line holds
KILO = unit("kg")


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderedPacks:
    """Packs of a supplier's offer to order."""

    material: str
    packs: int
    supplier_code: str = ""  # needed only where the supplier has several offers of the material


@dataclass(frozen=True, slots=True, kw_only=True)
class Received:
    """What a delivery did: its document, the order's state, and what differs from the order."""

    document: int
    fresh: bool
    order: Order | None
    price_differences: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()  # more than ordered, or a rest that is no whole pack
    agreed_carriage: int = 0  # minor units that were entered as agreed, for want of a figure


def place_order(book: Book, supplier: str, asked: Sequence[OrderedPacks], stamp: Stamp) -> Order:
    """Place an order with a supplier, at the prices in force."""
    with book.writing() as session:
        return _place(session, supplier, asked, stamp)


def place_orders(book: Book, asked: Mapping[str, Sequence[OrderedPacks]], stamp: Stamp) -> list[Order]:
    """Place an order with each of several suppliers, all of them or none; sent again, only what is not placed yet."""
    with book.writing() as session:
        return [
            _place(session, supplier, lines, replace(stamp, key=f"{stamp.key}:{supplier}"))
            for supplier, lines in asked.items()
        ]


def _place(session: Session, supplier: str, asked: Sequence[OrderedPacks], stamp: Stamp) -> Order:
    stamp = stamp.asking("order", supplier=supplier, lines=asked)
    done = _placed(session, stamp)
    if done is not None:
        return done
    order = _new_order(session, supplier, asked, stamp)
    orders.save_orders(session, [order])
    post_one(session, ordered(order, stamp), new=True)
    return order


def tax_to_bear(session: Session, order: Order) -> int:
    """Give the tax that comes on an order where the shop can't take it back, in minor units."""
    asked = [(line.material, line.supplier_code, line.cost) for line in order.lines]
    return terms_of(session).tax_on_order(order.supplier, asked, order.carriage, order.placed.date())


def to_pay(book: Book, order: Order) -> int:
    """Give what an order comes to with the tax the shop bears; 0 where it bears none."""
    with book.reading() as session:
        tax = tax_to_bear(session, order)
    return sum(line.cost for line in order.lines) + order.carriage + tax if tax else 0


def to_free_carriage(book: Book, order: Order) -> int:
    """Say what goods are missing on an order to make its carriage free; 0 where none is paid, or never is free."""
    with book.reading() as session:
        supplier = next(s for s in catalogue.read_suppliers(session) if s.code == order.supplier)
    return supplier.to_free_carriage(sum(line.cost for line in order.lines)) if order.carriage else 0


def placed_before(book: Book, stamp: Stamp) -> Order | None:
    """Give the order that was placed under a stamp's key, if this very one was."""
    with book.reading() as session:
        return _placed(session, stamp)


def _placed(session: Session, stamp: Stamp) -> Order | None:
    done = entered_before(session, stamp, DocumentKind.ORDER)
    if done is None:
        return None
    document = ledger.read_documents(session, numbers=[done], with_moves=False)[0]
    return orders.the_order(session, catalogue.dimensions(session), document.subject)


def ordered(order: Order, stamp: Stamp) -> Document:
    """Write the document of a placed order."""
    return stamp.document(DocumentKind.ORDER, order.number, **order_facts(order))


def receive_order(  # noqa: PLR0913 -- what a delivery note and its invoice say
    book: Book,
    number: str,
    arrived: Sequence[Arrived],
    stamp: Stamp,
    *,
    carriage: int | None = None,
    duties: int = 0,
    reference: str = "",
    tax_rate: str = "",
    carriage_tax_rate: str = "",
) -> Received:
    """Receive goods against an order; without lines, all that was outstanding has arrived.

    Carriage that isn't stated is taken as agreed on the order, with the first goods that come: delivery notes seldom
    have it, and stock whose carriage nobody enters would be valued too low.

    Raises
    ------
    RefusedError
        If the order is closed or cancelled.
    DoubtError
        If the supplier's delivery note is in the book already.
    """
    slip = {"carriage": carriage, "duties": duties, "reference": reference, "tax": (tax_rate, carriage_tax_rate)}
    stamp = stamp.asking("receive", order=number, lines=arrived, slip=slip)
    with book.writing() as session:
        order = orders.the_order(session, catalogue.dimensions(session), number)
        done = entered_before(session, stamp, DocumentKind.DELIVERY, subject=number)
        if done is not None:
            return Received(document=done, fresh=False, order=order)
        _refuse_closed(order)
        refuse_known_note(session, order.supplier, reference, stamp)
        lines, write = arrived_lines(session, order, arrived), writing(session)
        lines = [replace(line, tax_rate=tax_rate) for line in lines]
        refuse_absurd(order, lines, write)
        agreed = agreed_carriage(session, order) if carriage is None else 0
        goods = Delivery(
            reference=reference or stamp.key,
            supplier=order.supplier,
            received=stamp.happened,
            lines=tuple(lines),
            order=number,
            ordered=order.placed.date(),
            carriage=agreed if carriage is None else carriage,
            carriage_tax_rate=carriage_tax_rate,
            duties=duties,
            site=stamp.site,
        )
        document = taken_in(goods, stamp, terms_of(session))
        posted = post_one(session, document, new=True)
        renewed = with_received(order, lines, stamp.happened.date())
        orders.save_orders(session, [renewed])
        return Received(
            document=posted.number,
            fresh=True,
            order=renewed,
            price_differences=tuple(price_differences(order, lines, _money(session))),
            remarks=(*beside_ordered(order, renewed, write), *_said_of(session, lines, document)),
            agreed_carriage=agreed,
        )


def _refuse_closed(order: Order) -> None:
    if order.state not in orders.OPEN:
        raise RefusedError(
            phrase("Order %(number)s is %(state)s.", number=order.number, state=order.state),
            fix=phrase(
                "Was it entered already? See stockroom documents. If more came: stockroom receive --from %(supplier)s",
                supplier=order.supplier,
            ),
        )


def receive_goods(book: Book, delivery: Delivery, stamp: Stamp) -> Received:
    """Receive goods that no order in the book asked for.

    Raises
    ------
    UnknownError
        If a material is not in the book.
    DoubtError
        If the supplier's delivery note is in the book already.
    """
    stamp = stamp.asking("receive goods", goods=replace(delivery, received=datetime.min))  # the stamp says when
    with book.writing() as session:
        known = catalogue.dimensions(session)
        unknown = [line.material for line in delivery.lines if line.material not in known]
        if unknown:
            raise UnknownError(
                phrase("No material has the code '%(material)s'.", material=unknown[0]), fix="Load the material first."
            )
        if entered_before(session, stamp, DocumentKind.DELIVERY) is None:
            refuse_known_note(session, delivery.supplier, delivery.reference, stamp)
        document = taken_in(delivery, stamp, terms_of(session))
        posted = post_one(session, document)
        said = _said_of(session, delivery.lines, document)
        return Received(document=posted.number, fresh=posted.fresh, order=None, remarks=tuple(said))


def _said_of(session: Session, lines: Sequence[DeliveryLine], document: Document) -> list[str]:
    """Say what is to be minded of goods just received: prices far off, and until when they may go back."""
    return [*prices_far_off(session, lines, document.happened.date()), *_may_go_back(session, document)]


def _may_go_back(session: Session, document: Document) -> list[str]:
    """Say until when goods just received may go back."""
    write, said = formats_of(catalogue.read_shop(session)).day, list[str]()
    for line in delivered_lines(document):
        if line.get("back_until"):
            facts = {"material": line["material"], "day": write(date.fromisoformat(line["back_until"]))}
            said.append(
                phrase("%(material)s: only what is used is paid for; the rest may go back until %(day)s", **facts)
                if line.get("on_approval")
                else phrase("%(material)s: what is not used may go back until %(day)s", **facts)
            )
    return said


def prices_far_off(session: Session, lines: Sequence[DeliveryLine], day: date) -> list[str]:
    """Say which goods cost far more or less than they usually do."""
    materials = {m.code: m for m in catalogue.read_materials(session, {line.material for line in lines})}
    known = {code: material.dimension for code, material in materials.items()}
    offers = current(catalogue.read_offers(session, known, materials), day)
    write = _money(session)
    return [said for line in lines if (said := far_from_usual(line, materials[line.material], offers, write))]


def end_order(book: Book, number: str, stamp: Stamp) -> Order:
    """Close an order of which no more will come, or cancel one of which nothing has come.

    Raises
    ------
    RefusedError
        If the order is closed or cancelled already.
    """
    stamp = stamp.asking("end order", order=number)
    with book.writing() as session:
        order = orders.the_order(session, catalogue.dimensions(session), number)
        if entered_before(session, stamp, DocumentKind.ORDER_END, subject=number) is not None:
            return order
        if order.state not in orders.OPEN:
            raise RefusedError(
                phrase("Order %(number)s is %(state)s already.", number=number, state=order.state),
                fix="The order is closed already.",
            )
        state = OrderState.CLOSED if any(line.received for line in order.lines) else OrderState.CANCELLED
        ended = replace(order, state=state, closed=stamp.happened.date())
        orders.save_orders(session, [ended])
        post_one(session, stamp.document(DocumentKind.ORDER_END, number), new=True)
        return ended


def not_coming(book: Book, order: Order) -> str:
    """Say what is outstanding of an order, which closing it gives up; nothing where all of it has come."""
    with book.reading() as session:
        materials = {m.code: m for m in catalogue.read_materials(session, [line.material for line in order.lines])}
        formats = formats_of(catalogue.read_shop(session))
    rest = [
        phrase(
            "%(amount)s of %(name)s",
            amount=formats.told(line.outstanding, materials[line.material].unit),
            name=materials[line.material].name,
        )
        for line in order.lines
        if line.outstanding
    ]
    return phrase("Not coming any more: %(goods)s.", goods=joined(rest, ", ")) if rest else ""


def by_their_code(book: Book, supplier: str, typed: str, day: date) -> Offer | None:
    """Find what a supplier offers under a code of his own; None where that is not the code of one thing."""
    with book.reading() as session:
        mine = [o for o in catalogue.read_offers(session, catalogue.dimensions(session)) if o.supplier == supplier]
    found = [o for o in current(mine, day) if typed and o.supplier_code.casefold() == typed.casefold()]
    return found[0] if len(found) == 1 else None


def find_supplier(book: Book, typed: str) -> str:
    """Give the code of the supplier that a few letters mean."""
    with book.reading() as session:
        return find("supplier", typed, {s.code: s.name for s in catalogue.read_suppliers(session)})


def with_received(order: Order, lines: Sequence[DeliveryLine], day: date) -> Order:
    """Add what arrived to an order's lines; closed once nothing is outstanding."""
    left = nominal(order, lines)
    renewed = [
        replace(line, received=line.received + left.pop((line.material, line.supplier_code), 0)) for line in order.lines
    ]
    complete = all(line.outstanding == 0 for line in renewed)
    state = OrderState.CLOSED if complete else OrderState.PART_RECEIVED
    return replace(order, lines=tuple(renewed), state=state, closed=day if complete else None)


def _new_order(session: Session, typed: str, asked: Sequence[OrderedPacks], stamp: Stamp) -> Order:
    from stockroom.flows.outlook.delivery_days import expected  # noqa: PLC0415 -- slow import

    known = {s.code: s for s in catalogue.read_suppliers(session)}
    supplier = known[find("supplier", typed, {code: s.name for code, s in known.items()})]
    if not asked:
        raise RefusedError("The order has no lines.", fix="Name at least one material and its packs.")
    offers = current(catalogue.read_offers(session, catalogue.dimensions(session)), stamp.happened.date())
    lines = [_order_line(supplier, offers, each) for each in asked]
    codes = [(line.material, line.supplier_code) for line in lines]
    if twice := next((code for code in codes if codes.count(code) > 1), None):
        raise RefusedError(
            phrase("%(material)s is on the order twice.", material=twice[0]), fix="Give all its packs in one line."
        )
    goods = sum(line.cost for line in lines)
    if goods < supplier.minimum_order:
        write = _money(session)
        raise RefusedError(
            phrase(
                "%(supplier)s takes no order under %(least)s; this one comes to %(goods)s.",
                supplier=supplier.name,
                least=write(supplier.minimum_order),
                goods=write(goods),
            ),
            fix="Add packs, or wait for the next order.",
        )
    _refuse_light(supplier, lines, offers)
    return Order(
        number=orders.next_number(session),
        supplier=supplier.code,
        placed=stamp.happened,
        lines=tuple(lines),
        expected=expected(session, supplier, stamp.happened),
        carriage=supplier.carriage_of(goods),
        site=stamp.site,
        note=stamp.note,
    )


def _refuse_light(supplier: Supplier, lines: Sequence[OrderLine], offers: Sequence[Offer]) -> None:
    """Refuse an order that weighs less than the supplier sends; a pack of unknown weight weighs nothing."""
    if supplier.minimum_weight is None:
        return
    weights = {o.same: o.weight_nano for o in offers}
    weight = sum(
        line.packs * weights[supplier.code, line.material, line.supplier_code, line.pack.nano] for line in lines
    )
    if weight < supplier.minimum_weight.nano:
        raise RefusedError(
            phrase(
                "%(supplier)s sends nothing under %(least)s; this order weighs %(weight)s.",
                supplier=supplier.name,
                least=_kilos(supplier.minimum_weight.nano),
                weight=_kilos(weight),
            ),
            fix='Add packs, or state what packs weigh: stockroom change offer … "pack weight=2 kg"',
        )


def _kilos(nano: int) -> str:
    return f"{plain(KILO.count(nano))} kg"


def _order_line(supplier: Supplier, offers: Sequence[Offer], asked: OrderedPacks) -> OrderLine:
    fitting = [
        o
        for o in offers
        if (o.supplier, o.material) == (supplier.code, asked.material)
        and (not asked.supplier_code or o.supplier_code == asked.supplier_code)
    ]
    if not fitting:
        raise UnknownError(
            phrase("%(supplier)s does not offer %(material)s.", supplier=supplier.name, material=asked.material),
            fix=_offered(supplier, offers),
        )
    if len(fitting) > 1:
        codes = ", ".join(o.supplier_code for o in fitting)
        raise RefusedError(
            phrase("%(supplier)s has several packs of %(material)s.", supplier=supplier.name, material=asked.material),
            fix=phrase("Say which: %(codes)s.", codes=codes),
        )
    offer = fitting[0]
    if asked.packs < offer.minimum_packs:
        raise RefusedError(
            phrase(
                "%(material)s: %(packs)s packs are fewer than the %(least)s that must be ordered.",
                material=asked.material,
                packs=asked.packs,
                least=offer.minimum_packs,
            ),
            fix="Order more packs, or none.",
        )
    if not offer.sold(asked.packs):
        raise RefusedError(
            phrase(
                "%(material)s: sold in multiples of %(multiple)s packs, not %(packs)s.",
                material=asked.material,
                multiple=offer.multiple,
                packs=asked.packs,
            ),
            fix=phrase("Order %(packs)s packs.", packs=-(-asked.packs // offer.multiple) * offer.multiple),
        )
    return OrderLine(
        material=asked.material,
        supplier_code=offer.supplier_code,
        packs=asked.packs,
        pack=offer.pack,
        cost=offer.cost(asked.packs),
        pack_name=offer.pack_name,
    )


def _offered(supplier: Supplier, offers: Sequence[Offer]) -> str:
    codes = sorted({o.material for o in offers if o.supplier == supplier.code})
    if not codes:
        return phrase("Load its offers first.")
    listed = ", ".join(codes[:_LISTED]) + (", …" if len(codes) > _LISTED else "")
    return phrase("It offers: %(codes)s.", codes=listed)


def _money(session: Session) -> Callable[[int], str]:
    return formats_of(catalogue.read_shop(session)).money
