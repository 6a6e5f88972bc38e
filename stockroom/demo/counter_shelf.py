"""What the invented shop sells over the counter. Costs and prices are cents; all figures are our own."""

from functools import partial

from stockroom.demo.tags import SHEET, sold
from stockroom.stock.materials import Material, Purpose

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
