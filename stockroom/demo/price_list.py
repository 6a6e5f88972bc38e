"""The jobs of the invented shop. Prices are cents, tax included; minutes are our own guesses."""

from stockroom.stock.recipes import Job


def _job(code: str, name: str, *, family: str, price: int, minutes: int, sized: bool = False) -> Job:
    return Job(code=code, name=name, family=family, price=price, bench_minutes=minutes, sized=sized)


JOBS: tuple[Job, ...] = (
    _job("HEEL-L", "Ladies' heel tops", family="heels", price=1150, minutes=8),
    _job("HEEL-M", "Men's heel tops", family="heels", price=1650, minutes=12, sized=True),
    _job("HEEL-BLOCK", "Rebuild stacked heels", family="heels", price=3200, minutes=35, sized=True),
    _job("HALF", "Half soles", family="soling", price=3600, minutes=30, sized=True),
    _job("HALF-HEEL", "Half soles and heel tops", family="soling", price=4700, minutes=40, sized=True),
    _job("FULL", "Long soles, stitched", family="soling", price=8900, minutes=95, sized=True),
    _job("BOOT", "Walking boots resoled", family="boots", price=9400, minutes=100, sized=True),
    _job("LIGHT", "Light soles on casual shoes", family="soling", price=5600, minutes=50, sized=True),
    _job("WELT", "Welt repair", family="boots", price=3800, minutes=45, sized=True),
    _job("RECORK", "New cork footbed, sandals", family="sandals", price=4200, minutes=50, sized=True),
    _job("SLING", "Sandal strap anchored", family="sandals", price=1400, minutes=15),
    _job("GLUE", "Sole stuck back", family="soling", price=1300, minutes=12),
    _job("STITCH", "Seam restitched", family="uppers", price=1500, minutes=18),
    _job("PATCH", "Upper patched", family="uppers", price=2200, minutes=30),
    _job("LINING", "Heel lining renewed", family="uppers", price=2600, minutes=35),
    _job("ZIP", "Boot zip replaced", family="boots", price=3400, minutes=45),
    _job("ELASTIC", "Gusset elastic replaced", family="boots", price=3900, minutes=50),
    _job("EYELET", "Eyelets replaced", family="uppers", price=900, minutes=10),
    _job("BUCKLE", "Buckle replaced", family="sandals", price=1250, minutes=12),
    _job("HOOK", "Hook-and-loop strap renewed", family="children", price=1300, minutes=15),
    _job("TOE", "Toe plates fitted", family="soling", price=1500, minutes=14),
    _job("INSOLE", "Insoles fitted", family="comfort", price=1500, minutes=8, sized=True),
    _job("STRETCH", "Stretched overnight", family="comfort", price=1200, minutes=8),
    _job("DYE", "Dyed", family="colour", price=3500, minutes=40),
    _job("POLISH", "Cleaned and polished", family="colour", price=1100, minutes=12),
    _job("PROOF", "Waterproofed", family="colour", price=950, minutes=8),
    _job("BAG-STRAP", "Bag strap replaced", family="bags", price=3300, minutes=40),
    _job("BELT-HOLE", "Belt holes", family="bags", price=400, minutes=4),
)
