"""Whatever is kept reads back as it was, on either database."""

from dataclasses import replace
from datetime import date, time
from decimal import Decimal
from fractions import Fraction

from stockroom.stock.calendar import Closure, Event
from stockroom.stock.counts import CountLine, CountReason
from stockroom.stock.orders import Order, OrderLine, OrderState
from stockroom.stock.shop import Shop
from stockroom.stock.tickets import Ticket, TicketState
from stockroom.store import catalogue, counts, orders, tickets
from stockroom.store.book import Book
from tests import build

DIMENSIONS = {m.code: m.dimension for m in build.materials()}


def test_the_catalogue_reads_back(shop: Book) -> None:
    with shop.reading() as session:
        materials = catalogue.read_materials(session)
        assert sorted(materials, key=lambda m: m.code) == sorted(build.materials(), key=lambda m: m.code)
        assert next(m for m in materials if m.code == "CEMENT").extra == {"tare": "310 g"}
        assert {j.code: j for j in catalogue.read_jobs(session)} == {j.code: j for j in build.jobs()}
        assert sorted(catalogue.read_recipes(session), key=lambda r: r.job) == sorted(
            build.recipes(), key=lambda r: r.job
        )
        assert catalogue.read_recipes(session, "HEELS") == [r for r in build.recipes() if r.job == "HEELS"]
        assert catalogue.read_suppliers(session) == build.suppliers()
        assert sorted(map(repr, catalogue.read_offers(session, DIMENSIONS))) == sorted(map(repr, build.offers()))


def test_saving_again_changes_nothing_and_saving_news_renews(shop: Book) -> None:
    with shop.writing() as session:
        build.save_catalogue(session)
        assert catalogue.add_recipes(session, build.recipes()) == 0
        dearer = [replace(o, price=o.price + 1) for o in build.offers()]
        catalogue.save_offers(session, dearer)
        catalogue.save_materials(session, [replace(build.materials()[0], place="attic")])
    with shop.reading() as session:
        assert len(catalogue.read_recipes(session)) == len(build.recipes())
        assert sorted(o.price for o in catalogue.read_offers(session, DIMENSIONS)) == sorted(o.price for o in dearer)
        assert [m.place for m in catalogue.read_materials(session, ["BEND"])] == ["attic"]


def test_a_new_version_of_a_recipe_stands_beside_the_old(shop: Book) -> None:
    fresh = replace(build.recipes()[1], valid_from=date(2026, 4, 1), source="counts of spring")
    odd = replace(fresh, lines=(replace(fresh.lines[0], waste=Fraction(100, 3), chance=Fraction(2, 7)),))
    with shop.writing() as session:
        assert catalogue.add_recipes(session, [fresh, odd]) == 2
    with shop.reading() as session:
        assert catalogue.read_recipes(session, "HEELS") == [build.recipes()[1], fresh, odd]


def test_settings_read_back(book: Book) -> None:
    shop = Shop(name="Awl 'n' last", start=date(2026, 1, 5), cash_limit=Decimal("12.30"), use_learnt=False)
    with book.writing() as session:
        catalogue.save_shop(session, shop)
        catalogue.save_note(session, "closed_through", "2026-01-31")
    with book.reading() as session:
        assert catalogue.read_shop(session) == shop
        assert catalogue.read_note(session, "closed_through") == "2026-01-31"
        assert catalogue.read_note(session, "nothing") == ""


def test_closures_and_events_read_back(book: Book) -> None:
    closed = [
        Closure(first=date(2026, 8, 3), last=date(2026, 8, 8)),
        Closure(first=date(2026, 8, 4), last=date(2026, 8, 4), who="TAN", reason="fair"),
    ]
    events = [Event(name="back to school", day=date(2026, 8, 31))]
    with book.writing() as session:
        for _ in range(2):
            catalogue.save_closures(session, closed)
            catalogue.save_events(session, events)
    with book.reading() as session:
        assert (catalogue.read_closures(session), catalogue.read_events(session)) == (closed, events)


def test_a_ticket_reads_back(shop: Book) -> None:
    plain = Ticket(number="1001", job="HEELS", taken_in=build.at("2026-01-06 09:15"))
    full = Ticket(
        number="A-7/b", job="RESOLE", taken_in=build.at("2026-01-06 09:16"), shoes=1, size=build.size("UK 8.5"),
        chosen={"sole": "rubber", "colour": 'dark "tan"'}, promised=date(2026, 1, 9), price=0, state=TicketState.FINISHED,
        finished=build.at("2026-01-08 17:00"), finish_document=4, redo_of="1001", by_post=True, post_cost=595,
        customer="somebody", note="rush", site="second",
    )  # fmt: skip
    with shop.writing() as session:
        tickets.save_tickets(session, [plain, full])
    with shop.reading() as session:
        assert tickets.read_tickets(session) == [plain, full]
        assert tickets.read_tickets(session, state=TicketState.BOOKED) == [plain]
        assert tickets.known_numbers(session) == {"1001", "A-7/b"}


def test_the_next_ticket_number_follows_the_highest_of_digits(shop: Book) -> None:
    with shop.writing() as session:
        assert tickets.next_number(session) == "1001"
        for number in ("999", "10000", "A-7", "9 1"):
            tickets.save_tickets(session, [Ticket(number=number, job="HEELS", taken_in=build.at("2026-01-06"))])
        assert tickets.next_number(session) == "10001"


def order(number: str, **facts: object) -> Order:
    lines = (
        OrderLine(
            material="TIP",
            supplier_code="N-TIP",
            packs=2,
            pack=build.amount("1 gross"),
            cost=10800,
            received=build.nano("1 gross"),
        ),
        OrderLine(material="CEMENT", supplier_code="", packs=1, pack=build.amount("5 l"), cost=4300, pack_name="tin"),
    )
    return Order(number=number, supplier="NORTH", placed=build.at("2026-01-06 10:00"), lines=lines, **facts)  # type: ignore[arg-type]


def test_an_order_reads_back_and_is_renewed(shop: Book) -> None:
    first = order("O-0001", expected=date(2026, 1, 10), carriage=900, note="call first")
    with shop.writing() as session:
        orders.save_orders(session, [first])
        renewed = replace(first, state=OrderState.CLOSED, closed=date(2026, 1, 12))
        orders.save_orders(session, [renewed])
        assert orders.read_orders(session, DIMENSIONS) == [renewed]
        assert orders.read_orders(session, DIMENSIONS, states=orders.OPEN) == []


def test_the_next_order_number_never_names_an_order_that_is_there(shop: Book) -> None:
    with shop.writing() as session:
        assert orders.next_number(session) == "O-0001"
        orders.save_orders(session, [order(n) for n in ("O-0007", "O-9999", "O-10000", "O-2026-01", "X-90000")])
        assert orders.next_number(session) == "O-10001"


def test_counted_bins_read_back_with_their_state(shop: Book) -> None:
    sure = CountLine(
        material="CEMENT", amount=build.amount("1.25 l"), counted=build.at("2026-01-10 18:00"), error=build.amount("20 ml"),
        aid="tin_by_weight", who="Ada", reason=CountReason.SPOILT, site="second", note="skin on top",
    )  # fmt: skip
    bare = CountLine(material="TIP", amount=build.amount("0 piece"), counted=build.at("2026-01-10 18:05"))
    with shop.writing() as session:
        build_number = counts.add_lines(session, "sheet 1", [sure, bare], build.at("2026-01-11"))
        assert [k.line for k in counts.read_lines(session, DIMENSIONS, sheet="sheet 1")] == [sure, bare]
        assert counts.anchors(session) == []
        counts.mark(session, build_number[:1], state="settled")
        assert [a.material for a in counts.anchors(session)] == ["CEMENT"]
        assert counts.last_counted(session) == {"CEMENT": build.at("2026-01-10 18:00")}
        assert counts.anchors(session, since=build.at("2026-01-10 18:01")) == []
        assert len(counts.anchors(session, since=build.at("2026-01-10 18:00"))) == 1, "the moment itself is within"


def test_a_suppliers_terms_read_back(book: Book) -> None:
    odd = replace(build.suppliers()[0], order_weekdays=frozenset(), cut_off=time(0, 5), carriage_free_over=0)
    with book.writing() as session:
        catalogue.save_suppliers(session, [odd])
        assert catalogue.read_suppliers(session) == [odd]
