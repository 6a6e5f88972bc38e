"""One worked month in the tiny shop, every figure by hand (minor units), and what came too late for it.

Opening on 5 January at usual costs: BEND 180 x 55, SOLE-S 9 x 640, SOLE-L 14 x 680, TIP 60 x 90, FILLER 2.4 x 1200,
CEMENT 3.5 x 900, THREAD 420 x 4, LACE-BLACK 20 x 80, LACE-BROWN 15 x 80 = 41090 (nobody knows what OFFCUT and POLISH
cost). 55 pairs of TIP are thrown away (55 x 90 = 4950), 40 come for 4000 and 400 carriage (110 each), six pairs of
heels are done (5 x 90 + 1 x 110 = 560 of TIP, 24 ml x 0.9 = 21.6 of CEMENT), and 20 pairs of LACE-BROWN are sold of
which 15 are in the book (20 x 80, five of them provisionally).
"""

from dataclasses import dataclass

from stockroom.flows.bench import counter, tickets
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.ordering import place
from stockroom.stock.orders import Delivery, DeliveryLine
from stockroom.store.book import Book
from tests import build

OPENED, BOUGHT, WASTED, USED, SOLD = 41_090_000, 4_400_000, -4_950_000, -581_600, -1_600_000
CLOSING = OPENED + BOUGHT + WASTED + USED + SOLD


@dataclass(frozen=True)
class Worked:
    """What the month's documents are called."""

    tips: int
    heels: int
    ticket: str


def january(book: Book) -> Worked:
    """Enter the month."""
    counter.write_off(book, "TIP", build.amount("55 pair"), build.stamp("2026-01-07"), reason="rusted")
    tips = deliver(book, "TIP", "40 pair", 4000, "2026-01-12", carriage=400)
    wanted = Wanted(job="HEELS", shoes=12, price=7200)
    heels = tickets.finish_at_once(book, wanted, build.stamp("2026-01-14 15:00"))
    counter.sell(book, "LACE-BROWN", build.amount("20 pair"), build.stamp("2026-01-20", sure=True))
    return Worked(tips=tips, heels=heels.document, ticket=heels.ticket.number)


def deliver(
    book: Book, material: str, amount: str, cost: int, happened: str, *, carriage: int = 0, entered: str = ""
) -> int:  # fmt: skip
    """Take goods in from the first supplier; give the document."""
    lines = (DeliveryLine(material=material, amount=build.amount(amount), cost=cost),)
    moment = build.at(happened)
    goods = Delivery(reference=f"N {happened}", supplier="NORTH", received=moment, lines=lines, carriage=carriage)
    return place.receive_goods(book, goods, build.stamp(happened, entered=entered)).document
