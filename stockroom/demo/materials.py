"""Short ways to write the invented shop's materials."""

from functools import partial
from typing import Any

from stockroom.stock.materials import Material, Purpose
from stockroom.stock.quantities import bridge as read_bridge
from stockroom.stock.quantities import unit as read_unit
from stockroom.stock.shoe_sizes import shoe_size

SHEET = "Check the safety data sheet; follow local rules."


def tag(code: str, name: str, *, unit: str, bridge: str = "", **more: Any) -> Material:  # noqa: ANN401 -- passed on
    """Make a material from plain texts."""
    return Material(code=code, name=name, unit=read_unit(unit), bridge=read_bridge(bridge) if bridge else None, **more)


def sold(code: str, name: str, *, price: int, **more: Any) -> Material:  # noqa: ANN401 -- passed on
    """Make a material for the counter, with its price in cents."""
    return tag(code, name, sell_price=price, **{"purpose": Purpose.COUNTER, "unit": "piece"} | more)


def run(code: str, name: str, *, sizes: str, **more: Any) -> tuple[Material, ...]:  # noqa: ANN401 -- passed on
    """Make a size run: one material per stretch of EU sizes, such as '36-38 39-41'."""
    return tuple(
        tag(
            f"{code}-{low}",
            f"{name}, EU {low} to {high}",
            unit="pair",
            group=code,
            size_from=shoe_size(f"EU {low}"),
            size_to=shoe_size(f"EU {high}"),
            **more,
        )
        for low, high in (stretch.split("-") for stretch in sizes.split())
    )


_soling = partial(tag, family="soling sheet", unit="dm2")
_cement = partial(tag, family="cement", unit="l", shelf_life_days=365)
_thread = partial(tag, family="thread", unit="m", place="Drawer 7")
_fixing = partial(tag, family="fixings", unit="piece")
_finish = partial(tag, family="finish", unit="l", place="Shelf 2")
_dye = partial(
    _finish, place="Fire cabinet", group="DYE", bridge="1 l = 820 g", hazards=("H225", "H319"), flammable=True,
    note=SHEET,
)  # fmt: skip
_upper = partial(tag, family="uppers", place="Rack 4")
_rough = partial(tag, family="abrasives", unit="piece", place="Drawer 11")
_wrap = partial(tag, family="packaging", unit="piece", place="Shelf 5")
_soles = partial(run, family="pre-cut soles")

SHEETS: tuple[Material, ...] = (
    _soling("BEND-OAK", "Oak-bark bend for soles", place="Rack 1", usual_cost=92, thickness="9 iron",
            bridge="1 piece = 110 dm2", note="Cut across the back first; keep pieces over 2 dm2."),
    _soling("BEND-LIGHT", "Light bend for slim soles and insoles", place="Rack 1", usual_cost=74, thickness="6 iron",
            bridge="1 piece = 90 dm2"),
    _soling("RUB-4", "Soling rubber, black, ribbed", place="Rack 2", usual_cost=38, thickness="4 mm",
            bridge="1 piece = 60 dm2"),
    _soling("RUB-6", "Soling rubber, brown, plain", place="Rack 2", usual_cost=52, thickness="6 mm",
            bridge="1 piece = 60 dm2"),
    _soling("MICRO-10", "Light cellular sheet", place="Rack 2", usual_cost=45, thickness="10 mm",
            bridge="1 piece = 72 dm2"),
    _soling("TREAD-8", "Cleated boot sheet, black", place="Rack 2", usual_cost=96, thickness="8 mm",
            bridge="1 piece = 66 dm2"),
    tag("CORK-2", "Cork sheet", family="filler", unit="dm2", place="Rack 3", usual_cost=9, thickness="2 mm",
        bridge="1 piece = 54 dm2"),
    tag("OFF-BEND", "Bend offcuts over 2 dm2", family="offcuts", unit="dm2", place="Bin 1", usual_cost=40,
        note="Good for heel lifts and toe pieces."),
)  # fmt: skip

SOLES: tuple[Material, ...] = (
    *_soles("HALF-RUB", "Half soles, rubber", sizes="36-38 39-41 42-44 45-47", place="Drawer 1", usual_cost=340),
    *_soles("SOLE-LEA", "Long soles, leather", sizes="36-38 39-40 41-42 43-44 45-47", place="Drawer 2",
            usual_cost=1380, thickness="9 iron"),
    *_soles("SOLE-RUB", "Long soles, rubber", sizes="36-38 39-40 41-42 43-44 45-47", place="Drawer 3", usual_cost=920),
    *run("INSOLE", "Insoles, leather on cork", sizes="36-38 39-41 42-44 45-47", family="other", place="Shelf 4",
         usual_cost=290, sell_price=990, purpose=Purpose.BOTH),
)  # fmt: skip

TOPS: tuple[Material, ...] = (
    tag("TOP-PIN-8", "Ladies' top pieces on a pin, 8 mm", family="top pieces", unit="pair", place="Drawer 4",
        usual_cost=42),
    tag("TOP-PIN-9", "Ladies' top pieces on a pin, 9 mm", family="top pieces", unit="pair", place="Drawer 4",
        usual_cost=42),
    tag("TOP-PIN-11", "Ladies' top pieces on a pin, 11 mm", family="top pieces", unit="pair", place="Drawer 4",
        usual_cost=46),
    tag("TOP-WIDE", "Ladies' top pieces, block heel", family="top pieces", unit="pair", place="Drawer 4",
        usual_cost=68),
    *run("TOP-MEN", "Men's heel tops, quarter rubber", sizes="36-41 42-43 44-47", family="top pieces",
         place="Drawer 5", usual_cost=130),
    *run("BLOCK", "Stacked heel blocks", sizes="36-40 41-47", family="heel blocks", place="Drawer 6", usual_cost=295),
)  # fmt: skip

WET: tuple[Material, ...] = (
    tag("CORK-PASTE", "Cork filler, spread warm", family="filler", unit="kg", place="Shelf 1", usual_cost=1350),
    _cement("CEM-SOLV", "Contact cement, solvent", place="Fire cabinet", usual_cost=1280, bridge="1 l = 860 g",
            other_words="glue, neoprene",
            hazards=("H225", "H315", "H319", "H336", "H411"), flammable=True, note=SHEET, extra={"tare": "420 g"}),
    _cement("CEM-WATER", "Contact cement, water-based", place="Shelf 1", usual_cost=1950, bridge="1 l = 1060 g",
            other_words="glue",
            extra={"tare": "65 g"}),
    _cement("PRIMER", "Rubber primer", place="Fire cabinet", usual_cost=4400, bridge="1 l = 900 g",
            hazards=("H225", "H319", "H336"), flammable=True, note=SHEET),
    _cement("THINNER", "Cement thinner and wash", place="Fire cabinet", usual_cost=820, bridge="1 l = 780 g",
            hazards=("H225", "H315", "H336"), flammable=True, note=SHEET),
    _dye("DYE-BLK", "Spirit dye, black", usual_cost=3100, colour="black"),
    _dye("DYE-BRN", "Spirit dye, brown", usual_cost=3100, colour="brown"),
    _finish("EDGE-BLK", "Edge ink, black", usual_cost=2400, group="EDGE", colour="black", bridge="1 l = 1020 g"),
    _finish("EDGE-BRN", "Edge ink, brown", usual_cost=2400, group="EDGE", colour="brown", bridge="1 l = 1020 g"),
    _finish("WAX-EDGE", "Edge and heel wax", unit="kg", usual_cost=3300),
    _finish("STRETCH-LIQ", "Leather stretching liquid", usual_cost=2200),
    _finish("CLEANER", "Leather cleaning foam, bench bottle", family="care", usual_cost=1050),
)  # fmt: skip

THREADS: tuple[Material, ...] = (
    _thread("THREAD-LIN", "Linen thread, waxed, six-cord", usual_cost=9, bridge="1 g = 1.2 m", extra={"tare": "38 g"}),
    _thread("THREAD-BLK", "Polyester upper thread, black", usual_cost=2, group="THREAD", colour="black",
            bridge="1 g = 12.5 m", extra={"tare": "22 g"}),
    _thread("THREAD-BRN", "Polyester upper thread, brown", usual_cost=2, group="THREAD", colour="brown",
            bridge="1 g = 12.5 m", extra={"tare": "22 g"}),
    _thread("WELT-STRIP", "Leather welting, 16 mm wide", usual_cost=330, thickness="3 mm"),
)  # fmt: skip

FIXINGS: tuple[Material, ...] = (
    _fixing("TACK-13", "Heel tacks, 13 mm", unit="kg", place="Drawer 8", usual_cost=1080, bridge="1 g = 3.2 piece"),
    _fixing("BRASS-16", "Brass sole nails, 16 mm", unit="kg", place="Drawer 8", usual_cost=2700,
            bridge="1 g = 2.1 piece"),
    _fixing("EYELET-BLK", "Eyelets, black", place="Drawer 8", usual_cost=4, group="EYELET", colour="black"),
    _fixing("EYELET-BRN", "Eyelets, antique brown", place="Drawer 8", usual_cost=4, group="EYELET", colour="brown"),
    _fixing("BUCKLE-16", "Roller buckles, 16 mm", place="Drawer 9", usual_cost=82),
    _fixing("RIVET", "Tubular rivets", place="Drawer 9", usual_cost=6),
    _fixing("SHANK", "Steel shanks", unit="pair", place="Drawer 9", usual_cost=88),
    _fixing("TOE-PLATE", "Steel toe plates with screws", unit="pair", place="Drawer 9", usual_cost=205),
    _fixing("ZIP-25", "Boot zip, 25 cm", place="Drawer 10", usual_cost=235),
    _fixing("ZIP-40", "Boot zip, 40 cm", place="Drawer 10", usual_cost=315),
    _fixing("ELASTIC-75", "Gusset elastic, 75 mm", unit="m", place="Drawer 10", usual_cost=470),
    _fixing("HOOK-LOOP", "Hook-and-loop tape, 25 mm", unit="m", place="Drawer 10", usual_cost=185),
)  # fmt: skip

UPPERS: tuple[Material, ...] = (
    _upper("HIDE-BLK", "Upper leather, black", unit="sq ft", usual_cost=610, thickness="4 oz", group="HIDE",
           colour="black", bridge="1 piece = 20 sq ft"),
    _upper("HIDE-BRN", "Upper leather, brown", unit="sq ft", usual_cost=610, thickness="4 oz", group="HIDE",
           colour="brown", bridge="1 piece = 20 sq ft"),
    _upper("LINING", "Lining leather, natural", unit="sq ft", usual_cost=400, thickness="2 oz",
           bridge="1 piece = 8 sq ft"),
    _upper("STRAP-25", "Bridle strap, 25 mm wide", unit="m", usual_cost=740, thickness="9 oz"),
)  # fmt: skip

WEAR: tuple[Material, ...] = (
    _rough("SCOUR-P40", "Scouring bands, P40", usual_cost=380),
    _rough("SCOUR-P80", "Scouring bands, P80", usual_cost=380),
    _rough("DISC-P120", "Finishing discs, P120", usual_cost=115),
    _wrap("BAG", "Paper carrier bags", usual_cost=11),
    _wrap("BOX-POST", "Posting boxes", usual_cost=105),
    _wrap("TAPE", "Paper packing tape", unit="m", usual_cost=6),
    tag("GLOVES", "Bench gloves", family="other", unit="pair", place="Shelf 5", usual_cost=18,
        note="The shop's own use."),
)  # fmt: skip

BENCH = (*SHEETS, *SOLES, *TOPS, *WET, *THREADS, *FIXINGS, *UPPERS, *WEAR)


_polish = partial(
    sold, family="care", place="Counter 1", group="POLISH", price=750, usual_cost=285, purpose=Purpose.BOTH,
    bridge="1 piece = 50 ml",
)  # fmt: skip
_lace = partial(sold, family="laces", unit="pair", place="Counter 2", price=450, usual_cost=95)
_care = partial(sold, family="care", place="Counter 3")

COUNTER: tuple[Material, ...] = (
    _polish("POLISH-BLK", "Shoe cream in a jar, black", colour="black"),
    _polish("POLISH-BRN", "Shoe cream in a jar, brown", colour="brown"),
    _polish("POLISH-NEU", "Shoe cream in a jar, neutral", colour="neutral"),
    _lace("LACE-75-BLK", "Laces, 75 cm, black"),
    _lace("LACE-75-BRN", "Laces, 75 cm, brown"),
    _lace("LACE-90-BLK", "Laces, 90 cm, black"),
    _lace("LACE-120-BLK", "Laces, 120 cm, black"),
    _lace("LACE-150-BOOT", "Boot laces, 150 cm, brown", price=550, usual_cost=130),
    _care("SPRAY-PROOF", "Waterproofing spray, 200 ml can", purpose=Purpose.BOTH, price=1190, usual_cost=480,
          bridge="1 piece = 200 ml", hazards=("H222", "H229"), flammable=True, note=SHEET),
    _care("WAX-PROOF", "Waterproofing wax, 100 ml jar", price=990, usual_cost=390),
    _care("SUEDE-BRUSH", "Suede brush", price=690, usual_cost=240),
    _care("SHINE-BRUSH", "Horsehair shine brush", price=1450, usual_cost=560),
    _care("CLOTH", "Polishing cloth", price=390, usual_cost=90),
    _care("TREES", "Cedar shoe trees", unit="pair", price=2900, usual_cost=1150),
    _care("GIFT-KIT", "Shoe care gift box", price=3450, usual_cost=1390),
    sold("HORN", "Shoe horn, long", family="other", place="Counter 3", price=850, usual_cost=290),
    sold("HEEL-GRIP", "Heel grips, suede", family="other", unit="pair", place="Counter 2", purpose=Purpose.BOTH,
         price=490, usual_cost=140),
)  # fmt: skip
