"""The invented suppliers, their terms, and what they ask. Names, codes and prices are our own inventions."""

from collections.abc import Iterator
from datetime import date, time
from fractions import Fraction

from stockroom.stock.materials import Material
from stockroom.stock.money import half_up
from stockroom.stock.quantities import quantity
from stockroom.stock.shop import weekdays
from stockroom.stock.suppliers import Offer, PriceBreak, Supplier

SUPPLIERS: tuple[Supplier, ...] = (
    Supplier(
        code="BRIN",
        name="Brindlemoor Bend & Hide (invented)",
        lead_days=9,
        carriage=1250,
        carriage_free_over=30000,
        minimum_order=6000,
        order_weekdays=weekdays("Wed Fri"),
        cut_off=time(12, 0),
        email="orders@brindlemoor.example",
        note="Shut most of August. Bends are weighed; the area is measured here.",
    ),
    Supplier(
        code="TOCK",
        name="Tockwood Rubber & Heel (invented)",
        lead_days=4,
        carriage=890,
        carriage_free_over=15000,
        minimum_order=4000,
        cut_off=time(15, 0),
        email="trade@tockwood.example",
    ),
    Supplier(
        code="QUIL",
        name="Quillfeather Findings (invented)",
        lead_days=3,
        carriage=650,
        carriage_free_over=9500,
        order_weekdays=weekdays("Tue Thu"),
        cut_off=time(14, 0),
        email="hello@quillfeather.example",
    ),
    Supplier(
        code="ODDM",
        name="Oddment Lane Sundries (invented)",
        lead_days=6,
        carriage=500,
        carriage_free_over=8000,
        minimum_order=2500,
        order_weekdays=weekdays("Tue Fri"),
        email="shop@oddmentlane.example",
        note="Often late before Christmas.",
    ),
)

# First day of each price list, and the rise in per cent since the first one.
PRICE_LISTS: dict[str, tuple[tuple[date, str], ...]] = {
    "BRIN": (
        (date(2023, 9, 1), "0"),
        (date(2024, 9, 2), "5.5"),
        (date(2025, 9, 1), "9.8"),
        (date(2026, 9, 1), "15"),
    ),
    "TOCK": (
        (date(2023, 7, 3), "0"),
        (date(2024, 1, 8), "3"),
        (date(2025, 1, 6), "5.2"),
        (date(2026, 1, 5), "8.9"),
        (date(2027, 1, 4), "12.5"),
    ),
    "QUIL": ((date(2023, 4, 3), "0"), (date(2024, 4, 1), "2.5"), (date(2025, 4, 1), "6"), (date(2026, 4, 1), "8.4")),
    "ODDM": ((date(2023, 6, 1), "0"), (date(2024, 6, 3), "4"), (date(2025, 6, 2), "6.1"), (date(2026, 6, 1), "10")),
}

# Rows: materials | supplier's code | pack | pack name | price | breaks | more. A size run is named by its group.
_LISTS = {
    "BRIN": """
        BEND-OAK       | BO-9   | 110 dm2   | bend, nominal           | 15.60 |             | 1 kg of 5.2 kg
        BEND-LIGHT     | BL-6   | 90 dm2    | bend, nominal           | 16.90 |             | 1 kg of 3.4 kg
        HIDE-BLK       | HB-4   | 20 sq ft  | side, nominal           | 5.40  |             | 1 sq ft measured
        HIDE-BRN       | HN-4   | 20 sq ft  | side, nominal           | 5.40  |             | 1 sq ft measured
        LINING         | LN-2   | 8 sq ft   | skin, nominal           | 3.60  |             | 1 sq ft measured
        STRAP-25       | ST-25  | 5 m       | roll of 5 m             | 33.00 |             |
        WELT-STRIP     | WS-16  | 10 m      | roll of 10 m            | 29.50 | 3=27.80     |
        SOLE-LEA       | LS-9   | 4 piece   | 2 pairs                 | 24.80 | 5=23.60     |
        INSOLE         | IN-LC  | 10 pair   | bundle of 10 pairs      | 26.50 |             |
    """,
    "TOCK": """
        RUB-4          | TR4-B  | 60 dm2    | sheet of 100 x 60 cm    | 20.90 | 3=19.80     |
        RUB-6          | TR6-N  | 60 dm2    | sheet of 100 x 60 cm    | 28.70 |             |
        MICRO-10       | TM10   | 72 dm2    | sheet of 120 x 60 cm    | 29.80 | 3=28.20     |
        TREAD-8        | TT8    | 66 dm2    | sheet of 110 x 60 cm    | 58.00 | 2=56.00     |
        HALF-RUB       | TH     | 5 pair    | bag of 5 pairs          | 15.50 | 4=14.70     |
        SOLE-RUB       | TL     | 2 pair    | bag of 2 pairs          | 17.00 |             |
        TOP-PIN-8      | TP8    | 25 pair   | bag of 25 pairs         | 9.60  | 4=8.90      |
        TOP-PIN-9      | TP9    | 25 pair   | bag of 25 pairs         | 9.60  | 4=8.90      |
        TOP-PIN-11     | TP11   | 25 pair   | bag of 25 pairs         | 10.50 |             |
        TOP-WIDE       | TPW    | 10 pair   | bag of 10 pairs         | 6.20  |             |
        TOP-MEN        | TMQ    | 10 pair   | bag of 10 pairs         | 11.90 | 5=11.20     |
        BLOCK          | TBK    | 5 pair    | bag of 5 pairs          | 13.50 |             |
        CEM-SOLV       | TC-5   | 5 l       | tin of 5 l              | 58.00 | 2=56.00     |
        CEM-SOLV       | TC-1   | 1 l       | tin of 1 l              | 13.90 |             |
        PRIMER         | TPR    | 0.5 l     | bottle of 500 ml        | 20.00 |             |
        THINNER        | TTH    | 5 l       | can of 5 l              | 37.00 |             |
        TOE-PLATE      | TTP    | 10 pair   | box of 10 pairs         | 18.60 |             |
        SCOUR-P40      | TS40   | 5 piece   | pack of 5               | 17.20 |             |
        SCOUR-P80      | TS80   | 5 piece   | pack of 5               | 17.20 |             |
        DISC-P120      | TD120  | 25 piece  | pack of 25              | 26.00 |             |
    """,
    "QUIL": """
        THREAD-LIN     | Q-LIN6 | 200 m     | reel of 200 m           | 16.40 |             |
        THREAD-BLK     | Q-PB   | 1000 m    | cone of 1000 m          | 14.20 |             |
        THREAD-BRN     | Q-PN   | 1000 m    | cone of 1000 m          | 14.20 |             |
        TACK-13        | Q-T13  | 1 kg      | box of 1 kg             | 9.90  |             |
        BRASS-16       | Q-B16  | 0.5 kg    | box of 500 g            | 12.40 |             |
        EYELET-BLK     | Q-EB   | 4 gross   | box of 4 gross          | 19.80 |             |
        EYELET-BRN     | Q-EN   | 4 gross   | box of 4 gross          | 19.80 |             |
        BUCKLE-16      | Q-BU   | 2 dozen   | card of 2 dozen         | 18.20 |             |
        RIVET          | Q-RV   | 500 piece | bag of 500              | 27.00 |             |
        SHANK          | Q-SH   | 10 pair   | bundle of 10 pairs      | 8.10  |             |
        ZIP-25         | Q-Z25  | 10 piece  | bundle of 10            | 21.80 |             |
        ZIP-40         | Q-Z40  | 10 piece  | bundle of 10            | 29.00 |             |
        ELASTIC-75     | Q-EL   | 5 m       | roll of 5 m             | 21.50 | 2=20.40     |
        HOOK-LOOP      | Q-HL   | 10 m      | roll of 10 m            | 17.00 |             |
        TOP-PIN-8      | Q-8    | 10 pair   | card of 10 pairs        | 4.30  |             |
        TOP-PIN-9      | Q-9    | 10 pair   | card of 10 pairs        | 4.30  |             |
        TOP-MEN        | Q-MT   | 5 pair    | card of 5 pairs         | 6.60  |             |
        CORK-PASTE     | Q-CP   | 5 kg      | tub of 5 kg             | 61.00 |             |
        CORK-2         | Q-C2   | 54 dm2    | sheet of 90 x 60 cm     | 4.50  | 10=4.10     | at least 4
        DYE-BLK        | Q-DB   | 0.5 l     | bottle of 500 ml        | 14.40 |             |
        DYE-BRN        | Q-DN   | 0.5 l     | bottle of 500 ml        | 14.40 |             |
        EDGE-BLK       | Q-IB   | 0.5 l     | bottle of 500 ml        | 11.20 |             |
        EDGE-BRN       | Q-IN   | 0.5 l     | bottle of 500 ml        | 11.20 |             |
        WAX-EDGE       | Q-WX   | 0.25 kg   | 5 sticks of 50 g        | 7.70  |             |
        STRETCH-LIQ    | Q-SL   | 1 l       | bottle of 1 l           | 20.50 |             |
        CLEANER        | Q-CL   | 2 l       | bottle of 2 l           | 19.40 |             |
        CEM-WATER      | Q-CW   | 1 l       | bottle of 1 l           | 18.20 | 4=17.10     |
        POLISH         | Q-PO   | 6 piece   | box of 6 jars           | 15.90 | 4=15.00     |
        SPRAY-PROOF    | Q-SP   | 12 piece  | case of 12 cans         | 53.00 |             |
        HEEL-GRIP      | Q-HG   | 10 pair   | card of 10 pairs        | 12.80 |             |
    """,
    "ODDM": """
        LACE-75-BLK    | OL75B  | 12 pair   | card of a dozen pairs   | 10.40 | 5=9.60      |
        LACE-75-BRN    | OL75N  | 12 pair   | card of a dozen pairs   | 10.40 | 5=9.60      |
        LACE-90-BLK    | OL90B  | 12 pair   | card of a dozen pairs   | 10.80 | 5=9.90      |
        LACE-120-BLK   | OL120B | 12 pair   | card of a dozen pairs   | 11.40 |             |
        LACE-150-BOOT  | OL150  | 12 pair   | card of a dozen pairs   | 14.30 |             |
        POLISH         | OPO    | 12 piece  | box of 12 jars          | 30.20 |             |
        SPRAY-PROOF    | OSP    | 6 piece   | tray of 6 cans          | 28.40 |             |
        WAX-PROOF      | OWX    | 6 piece   | tray of 6 jars          | 21.60 |             |
        SUEDE-BRUSH    | OSB    | 6 piece   | box of 6                | 13.20 |             |
        SHINE-BRUSH    | OHB    | 6 piece   | box of 6                | 31.00 |             |
        CLOTH          | OCL    | 20 piece  | pack of 20              | 16.40 |             |
        TREES          | OTR    | 4 pair    | box of 4 pairs          | 42.50 |             |
        GIFT-KIT       | OGK    | 4 piece   | carton of 4             | 51.00 | 3=48.50     |
        HORN           | OHN    | 10 piece  | bundle of 10            | 26.50 |             |
        CEM-SOLV       | OCS-5  | 5 l       | tin of 5 l              | 59.50 |             |
        BAG            | OBG    | 250 piece | carton of 250           | 25.00 | 4=23.00     |
        BOX-POST       | OBX    | 25 piece  | bundle of 25            | 24.00 |             |
        TAPE           | OTP    | 66 m      | roll of 66 m            | 3.30  | 6=2.95      | at least 2
        GLOVES         | OGL    | 50 pair   | box of 50 pairs         | 8.40  |             |
        INSOLE         | OIN    | 5 pair    | pack of 5 pairs         | 14.60 |             |
    """,
}


def offers(materials: tuple[Material, ...]) -> tuple[Offer, ...]:
    """Give every offer of every price list, old lists too."""
    return tuple(offer for supplier, rows in _LISTS.items() for offer in _offers(supplier, rows, materials))


def _offers(supplier: str, rows: str, materials: tuple[Material, ...]) -> Iterator[Offer]:
    for first, rise in PRICE_LISTS[supplier]:
        dearer = 1 + Fraction(rise) / 100
        for row in rows.strip().splitlines():
            cells = [cell.strip() for cell in row.split("|")]
            for material in _named(cells[0], materials):
                yield _offer(supplier, cells, material, valid_from=first, dearer=dearer)


def _named(code: str, materials: tuple[Material, ...]) -> list[Material]:
    return [material for material in materials if code in (material.code, material.group)]


def _offer(supplier: str, cells: list[str], material: Material, *, valid_from: date, dearer: Fraction) -> Offer:
    named, own_code, pack, pack_name, price, breaks, more = cells
    tail = "" if named == material.code else material.code.removeprefix(named)
    per, _, bulk = more.partition(" of ")
    weighed, measured = bool(bulk), more.endswith("measured")
    return Offer(
        supplier=supplier,
        material=material.code,
        supplier_code=own_code + tail,
        pack=material.to_base(quantity(pack)),
        pack_name=pack_name,
        price=_cents(price, dearer),
        valid_from=valid_from,
        priced_per=quantity(per.removesuffix("measured")) if weighed or measured else None,
        pack_in_priced=quantity(bulk) if weighed else None,
        breaks=tuple(_break(text, dearer) for text in breaks.split()),
        minimum_packs=int(more.removeprefix("at least ")) if more.startswith("at least") else 1,
        measured=weighed or measured,
    )


def _break(text: str, dearer: Fraction) -> PriceBreak:
    packs, price = text.split("=")
    return PriceBreak(packs=int(packs), price=_cents(price, dearer))


def _cents(price: str, dearer: Fraction) -> int:
    return half_up(Fraction(price) * 100 * dearer)
