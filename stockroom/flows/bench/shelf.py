"""What is on the shelf: on hand, on order, reserved for open tickets, available; who waits; what needs a hand today."""

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from stockroom.errors import StockroomError
from stockroom.flows.book.snapshot import BookSnapshot, orders_then, tickets_then
from stockroom.flows.posting.goods_back import goods_back_soon
from stockroom.flows.posting.loans import Loan, loans_open
from stockroom.phrases import phrase
from stockroom.stock.going_back import MayGoBack
from stockroom.stock.lists import ShelfRow, cautions
from stockroom.stock.lots import Lot
from stockroom.stock.materials import Material
from stockroom.stock.orders import Order
from stockroom.stock.quantities import NANO, Dimension
from stockroom.stock.recipes import Catalogue, recipe_catalogue
from stockroom.stock.tickets import RecipeBox, Ticket, TicketState, by_job
from stockroom.store import catalogue, counts, ledger, orders, tickets
from stockroom.store.book import Book, Session

SOON = timedelta(days=14)  # ahead, so that a lot can still be used up or replaced
COUNT_DUE_DAYS = 60  # a bin not counted for two months is named as a likely cause


@dataclass(frozen=True, slots=True, kw_only=True)
class Aside:
    """What open tickets need, in nano by material, and the tickets whose need can't be worked out."""

    by_material: Counter[str]
    by_ticket: dict[str, Counter[str]]
    unclear: dict[str, str]


def shelf_rows(book: Book, *, at: date | datetime | None = None, site: str | None = None) -> list[ShelfRow]:
    """List every material in use, in order of place and code; as of a day or moment, or now."""
    with book.reading() as session:
        return rows(session, at=at, site=site)


def sources_of(book: Book) -> dict[str, set[str]]:
    """Say which suppliers offer each material."""
    with book.reading() as session:
        return catalogue.read_sources(session)


def rows(session: Session, *, at: date | datetime | None = None, site: str | None = None) -> list[ShelfRow]:
    """List the shelf within a transaction under way."""
    return _rows(session, _stock(session, at, site))


@dataclass(frozen=True, slots=True, kw_only=True)
class _Stock:
    """What is there, to come and spoken for, as of a moment or now: read once, told in several ways."""

    moment: datetime | None
    site: str | None
    materials: Sequence[Material]
    on_hand: Mapping[str, int]
    orders: Sequence[Order]  # of which something is to come
    booked: Sequence[Ticket]
    aside: Aside


def _stock(session: Session, at: date | datetime | None = None, site: str | None = None) -> _Stock:
    moment = at if at is None or isinstance(at, datetime) else datetime.combine(at, datetime.max.time())
    materials = catalogue.read_materials(session)
    booked = _booked(session, moment, site)
    box = RecipeBox(by_job(catalogue.read_recipes(session)), recipe_catalogue(materials))
    return _Stock(
        moment=moment,
        site=site,
        materials=materials,
        on_hand=ledger.balances(session, at=at, site=site),
        orders=_open_orders(session, materials, moment, site),
        booked=booked,
        aside=aside_for(booked, box, date.max if moment is None else moment.date()),
    )


def _rows(session: Session, found: _Stock) -> list[ShelfRow]:
    moment, on_hand, aside = found.moment, found.on_hand, found.aside.by_material
    coming = on_order(found.orders)
    counted = counts.last_counted(session, at=moment)
    lent = Counter[str]()
    for loan in loans_open(session, at=moment, site=found.site):
        lent[loan.material] += loan.nano
    return [
        ShelfRow(
            material=m.code,
            name=m.name,
            unit=m.unit,
            on_hand=on_hand.get(m.code, 0),
            on_order=coming[m.code],
            set_aside=aside[m.code],
            lent=lent[m.code],
            family=m.family,
            place=m.place,
            cause=likely_cause(m, counted.get(m.code), coming[m.code], moment) if on_hand.get(m.code, 0) < 0 else "",
            last_counted=counted.get(m.code),
            other_words=m.other_words,
        )
        for m in found.materials
        if m.active or on_hand.get(m.code, 0)
    ]


def on_order(open_orders: Sequence[Order]) -> Counter[str]:
    """Add up what is outstanding, in nano."""
    total: Counter[str] = Counter()
    for order in open_orders:
        for line in order.lines:
            total[line.material] += line.outstanding
    return total


def _open_orders(
    session: Session, materials: Sequence[Material], moment: datetime | None, site: str | None
) -> list[Order]:
    dimensions = {m.code: m.dimension for m in materials}
    if moment is None:
        placed = orders.read_orders(session, dimensions, states=orders.OPEN)
        return [order for order in placed if site in (None, order.site)]
    return [order for order in orders_then(session, moment, dimensions, site=site) if order.state in orders.OPEN]


def set_aside(session: Session, shelf: Catalogue, *, moment: datetime | None = None, site: str | None = None) -> Aside:
    """Work out what open tickets need: now by the newest recipes, or as of a moment by those of its day."""
    box = RecipeBox(by_job(catalogue.read_recipes(session)), shelf)
    return aside_for(_booked(session, moment, site), box, date.max if moment is None else moment.date())


def _booked(session: Session, moment: datetime | None, site: str | None) -> list[Ticket]:
    if moment is None:
        return tickets.read_tickets(session, state=TicketState.BOOKED, site=site)
    return [t for t in tickets_then(session, moment, site=site, since=moment) if t.state is TicketState.BOOKED]


def aside_for(booked: Sequence[Ticket], box: RecipeBox, day: date = date.max) -> Aside:
    """Add up the needs of tickets; one that can't be worked out is named, not dropped."""
    total: Counter[str] = Counter()
    by_ticket: dict[str, Counter[str]] = {}
    unclear: dict[str, str] = {}
    for ticket in booked:
        try:
            asked = box.to_come(ticket, day)
        except StockroomError as wrong:
            unclear[ticket.number] = wrong.what
            continue
        mine: Counter[str] = Counter()
        for need in asked:
            mine[need.material] += need.nano
        by_ticket[ticket.number] = mine
        total.update(mine)
    return Aside(by_material=total, by_ticket=by_ticket, unclear=unclear)


def likely_cause(material: Material, counted: datetime | None, coming: int, now: datetime | None) -> str:
    """Say in a few words why the book may hold less than nothing."""
    if coming:
        return phrase("goods on order may have arrived and not been entered")
    if counted is None or (now is not None and (now - counted).days > COUNT_DUE_DAYS):
        return phrase("a count is due")
    if material.dimension.value != "count":
        return phrase("the recipe's amount may be too high")
    return phrase("a delivery may be missing")


_LITRE = Decimal(1000)  # millilitres


@dataclass(frozen=True, slots=True, kw_only=True)
class Storage:
    """What is stored that needs care."""

    careful: tuple[tuple[Material, tuple[str, ...], int], ...]  # with its cautions and what is there, nano
    litres: Decimal  # of flammable stock, as far as it can be told
    unknown: tuple[Material, ...]  # flammable, but no one knows how many litres
    limit: Decimal

    @property
    def over(self) -> bool:
        """Say whether more is there than the shop allows itself."""
        return self.litres > self.limit


@dataclass(frozen=True, slots=True, kw_only=True)
class FlammableStock:
    """Flammable stock beside the shop's limit, in litres as far as they can be told."""

    here: Decimal
    coming: Decimal  # on order, and what is asked about
    limit: Decimal

    @property
    def over(self) -> bool:
        """Say whether it is, or will be, more than the shop allows itself."""
        return self.here + self.coming > self.limit

    @property
    def words(self) -> str:
        """Say so, with figures."""
        sums = {"here": self.here, "coming": self.coming, "litres": self.here + self.coming}
        facts = {name: round(float(litres), 1) for name, litres in (sums | {"limit": self.limit}).items()}
        if self.over:
            return phrase(
                "Flammable stock: %(here)s l here and %(coming)s l to come make %(litres)s l, over the limit of "
                "%(limit)s l you set. Local rules and the safety data sheet go first; ask your insurer.",
                **facts,
            )
        return phrase(
            "Flammable stock: %(here)s l here and %(coming)s l to come make %(litres)s l of at most %(limit)s l. "
            "Local rules and the safety data sheet go first.",
            **facts,
        )


def flammable_stock(book: Book, about: Collection[str], more: Mapping[str, int] | None = None) -> FlammableStock | None:
    """Set flammable stock beside the limit, where any of the materials asked about is flammable.

    Parameters
    ----------
    book : Book
        The book.
    about : collection of str
        The materials that an order or a delivery names.
    more : mapping of str to int, optional
        What would be ordered beside what is on order already, in nano by material.
    """
    found = storage(book)
    with book.reading() as session:
        materials = catalogue.read_materials(session)
        coming = on_order(_open_orders(session, materials, None, None))
    known = {m.code: m for m in materials if m.flammable}
    if not known.keys() & set(about):
        return None
    coming.update(more or {})
    litres = [_litres(known[code], nano) for code, nano in coming.items() if code in known]
    return FlammableStock(
        here=found.litres, coming=sum((each for each in litres if each is not None), Decimal(0)), limit=found.limit
    )


def storage(book: Book) -> Storage:
    """Gather what needs care."""
    with book.reading() as session:
        materials = [m for m in catalogue.read_materials(session) if m.active]
        on_hand = ledger.balances(session)
        limit = catalogue.read_shop(session).flammable_limit_l
    careful = tuple((m, cautions(m), on_hand.get(m.code, 0)) for m in materials if cautions(m))
    there = [m for m in materials if m.flammable and on_hand.get(m.code, 0) > 0]
    known = {m.code: _litres(m, on_hand[m.code]) for m in there}
    return Storage(
        careful=careful,
        litres=sum((litres for litres in known.values() if litres is not None), Decimal(0)),
        unknown=tuple(m for m in there if known[m.code] is None),
        limit=limit,
    )


def _litres(material: Material, nano: int) -> Decimal | None:
    amount = material.dimension.base.of(Decimal(nano) / NANO)
    if material.dimension is not Dimension.VOLUME:
        carried = material.bridge.carry(amount, Dimension.VOLUME) if material.bridge else None
        if carried is None:
            return None
        amount = carried
    return amount.base_amount / _LITRE


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenOrder:
    """An order of which something is outstanding, and the tickets that wait for it."""

    order: Order
    late_days: int  # 0 while it is not late
    waiting: tuple[Ticket, ...]


def open_orders(book: Book, now: datetime) -> list[OpenOrder]:
    """List open orders, the latest first; tickets promised first are served first from the shelf."""
    with book.reading() as session:
        return _waited_for(_stock(session), now.date())


def _waited_for(found: _Stock, today: date) -> list[OpenOrder]:
    lacking = _lacking(found.booked, found.aside.by_ticket, found.on_hand)
    return [_open(order, lacking, found.booked, today) for order in _latest_first(found.orders, today)]


def on_the_way(book: Book, now: datetime) -> list[Order]:
    """List open orders alone, the latest first: who waits for them is not worked out."""
    with book.reading() as session:
        found = orders.read_orders(session, catalogue.dimensions(session), states=orders.OPEN)
    return _latest_first(found, now.date())


def _latest_first(found: Sequence[Order], today: date) -> list[Order]:
    return sorted(found, key=lambda order: -late_days(order, today))


def late_days(order: Order, today: date) -> int:
    """Say by how many days an order of which something is still to come is late; 0 while it is not."""
    return max((today - order.expected).days, 0) if order.expected and order.state in orders.OPEN else 0


def _lacking(
    booked: Sequence[Ticket], needs: Mapping[str, Mapping[str, int]], on_hand: Mapping[str, int]
) -> dict[str, set[str]]:
    """Give the materials each ticket lacks, by ticket number."""
    left = dict(on_hand)
    lacking: dict[str, set[str]] = {}
    for ticket in sorted(booked, key=lambda t: (t.promised or date.max, t.taken_in)):
        for material, nano in needs.get(ticket.number, {}).items():
            left[material] = left.get(material, 0) - nano
            if left[material] < 0:
                lacking.setdefault(ticket.number, set()).add(material)
    return lacking


def _open(order: Order, lacking: Mapping[str, set[str]], booked: Sequence[Ticket], today: date) -> OpenOrder:
    coming = {line.material for line in order.lines if line.outstanding}
    waiting = tuple(t for t in booked if lacking.get(t.number, set()) & coming)
    return OpenOrder(order=order, late_days=late_days(order, today), waiting=waiting)


@dataclass(frozen=True, slots=True, kw_only=True)
class Expiring:
    """A lot that has expired, or soon will."""

    material: Material
    lot: Lot
    day: date
    gone: bool  # expired already


@dataclass(frozen=True, slots=True, kw_only=True)
class Today:
    """The day's hand of work."""

    booked: tuple[Ticket, ...]  # promised soonest first
    below_zero: tuple[ShelfRow, ...]
    late: tuple[OpenOrder, ...]
    to_count: tuple[ShelfRow, ...]  # longest uncounted first
    waiting: dict[str, str]  # ticket number -> the order it waits for
    not_back: tuple[tuple[Loan, Material], ...] = ()  # lent and overdue, the longest first
    going_back: tuple[tuple[MayGoBack, Material], ...] = ()  # what may go back for some days only, the soonest first


def today(book: Book, now: datetime) -> Today:
    """Gather what needs a hand."""
    with book.reading() as session:
        found = _stock(session)
        shelf = _rows(session, found)
        lent = [loan for loan in loans_open(session) if loan.overdue(now.date())]
        back = goods_back_soon(session, now.date())
    coming = _waited_for(found, now.date())
    materials = {m.code: m for m in found.materials}
    due = now - timedelta(days=COUNT_DUE_DAYS)
    old = [row for row in shelf if row.on_hand and (row.last_counted is None or row.last_counted < due)]
    return Today(
        booked=tuple(sorted(found.booked, key=lambda t: (t.promised or datetime.max.date(), t.taken_in))),
        below_zero=tuple(row for row in shelf if row.below_zero),
        late=tuple(each for each in coming if each.late_days),
        to_count=tuple(sorted(old, key=lambda row: row.last_counted or datetime.min)),
        waiting={ticket.number: each.order.number for each in coming for ticket in each.waiting},
        not_back=tuple((loan, materials[loan.material]) for loan in lent),
        going_back=tuple((each, materials[each.material]) for each in back),
    )


def expiring(known: BookSnapshot, today: date) -> list[Expiring]:
    """List the lots that have expired or soon will, of those an outlook found on the shelf, the soonest first.

    Which lots are left takes all moves of what is dated to say: an outlook has gone through them, a page need not.
    """
    found = [
        Expiring(material=known.shelf.materials[code], lot=lot, day=lot.expiry, gone=lot.expired(today))
        for code, mine in known.lots.items()
        for lot in mine
        if lot.expiry is not None and lot.expiry <= today + SOON
    ]
    return sorted(found, key=lambda each: (each.day, each.material.code))
