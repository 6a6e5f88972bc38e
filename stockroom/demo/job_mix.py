"""How often each job comes in, how long it takes, and what customers choose. All figures are our own."""

from dataclasses import dataclass, field

from stockroom.demo.recipe_cards import CARDS


@dataclass(frozen=True, slots=True, kw_only=True)
class Habit:
    """What is usual for a job."""

    weekly: float
    days: tuple[int, int] = (0, 2)  # worked days at the bench, fewest and most
    women: float = 0.5
    single: float = 0.03  # a single shoe
    weights: dict[str, dict[str, float]] = field(default_factory=dict)  # choice -> option -> weight
    dearer: dict[str, int] = field(default_factory=dict)  # option -> cents on top


_HALF = {"sole": {"rubber": 0.62, "leather": 0.21, "sheet": 0.11, "brown sheet": 0.06}}
_HALF_DEARER = {"leather": 900, "sheet": -300, "brown sheet": -300}

HABITS: dict[str, Habit] = {
    "HEEL-L": Habit(
        weekly=8.6, days=(0, 0), women=1.0, weights={"top": {"8 mm": 0.38, "9 mm": 0.33, "11 mm": 0.13, "block": 0.16}}
    ),
    "HEEL-M": Habit(weekly=4.9, days=(0, 0), women=0.15),
    "HEEL-BLOCK": Habit(weekly=0.7, days=(0, 2), women=0.45),
    "HALF": Habit(weekly=4.0, days=(1, 2), women=0.45, single=0.01, weights=_HALF, dearer=_HALF_DEARER),
    "HALF-HEEL": Habit(weekly=2.3, days=(0, 1), women=0.3, single=0.0, weights=_HALF, dearer=_HALF_DEARER),
    "FULL": Habit(
        weekly=1.5,
        days=(4, 9),
        women=0.2,
        single=0.0,
        weights={"sole": {"leather": 0.46, "bend": 0.24, "rubber": 0.30}},
        dearer={"bend": 1200, "rubber": -1500},
    ),
    "BOOT": Habit(weekly=1.0, days=(4, 10), women=0.4, single=0.0),
    "LIGHT": Habit(weekly=1.0, days=(1, 3), women=0.5),
    "WELT": Habit(weekly=0.6, days=(2, 7), women=0.2, single=0.3),
    "RECORK": Habit(weekly=0.7, days=(2, 6), women=0.6, single=0.05),
    "SLING": Habit(weekly=0.9, days=(0, 0), women=0.85, single=0.6),
    "GLUE": Habit(weekly=4.0, days=(0, 0), single=0.45),
    "STITCH": Habit(weekly=3.6, days=(0, 2), single=0.5),
    "PATCH": Habit(weekly=1.5, days=(1, 2), single=0.5),
    "LINING": Habit(weekly=1.2, days=(1, 2), single=0.15),
    "ZIP": Habit(weekly=1.7, days=(1, 3), women=0.85, single=0.4, weights={"zip": {"25 cm": 0.4, "40 cm": 0.6}}),
    "ELASTIC": Habit(weekly=0.6, days=(2, 6), single=0.1),
    "EYELET": Habit(weekly=0.8, days=(0, 0), single=0.3),
    "BUCKLE": Habit(weekly=1.3, days=(0, 0), women=0.8, single=0.7),
    "HOOK": Habit(weekly=0.8, days=(0, 0), single=0.2),
    "TOE": Habit(weekly=0.9, days=(0, 0), women=0.05),
    "INSOLE": Habit(weekly=1.5, days=(0, 0)),
    "STRETCH": Habit(weekly=1.6, days=(1, 1), single=0.15),
    "DYE": Habit(weekly=0.8, days=(2, 6)),
    "POLISH": Habit(weekly=2.9, days=(0, 0)),
    "PROOF": Habit(weekly=1.2, days=(0, 0)),
    "BAG-STRAP": Habit(weekly=1.0, days=(1, 4), single=0.0),
    "BELT-HOLE": Habit(weekly=2.5, days=(0, 0), single=0.0),
}
COLOURS: dict[str, dict[str, float]] = {job: {"black": 0.62, "brown": 0.38} for job in CARDS}
COLOURS["POLISH"] = {"black": 0.5, "brown": 0.32, "neutral": 0.18}
WOMEN_SIZES: dict[int, float] = {36: 10, 37: 22, 38: 30, 39: 24, 40: 11, 41: 3}
MEN_SIZES: dict[int, float] = {39: 2, 40: 6, 41: 14, 42: 22, 43: 24, 44: 18, 45: 10, 46: 3, 47: 1}
UK_SIZES: dict[int, float] = {6: 5, 7: 15, 8: 25, 9: 28, 10: 18, 11: 9}
CUT_TO_SIZE = {"leather", "sheet", "brown sheet"}  # half soles that need no ready-cut size
ANY_SYSTEM = ("BOOT", "LIGHT", "WELT", "RECORK")  # jobs cut from the sheet, whose shoes may be marked in UK sizes

BY_POST = 0.08
UK_MARKED = 0.08
REDONE = 0.012
CANCELLED = 0.01
PRICE_PAST = {2023: 0.92, 2024: 0.94, 2025: 0.97, 2026: 1.0}  # of today's price list, by year

# Counter sales: material -> (sold a week, its season).
SALES: dict[str, tuple[float, str]] = {
    "POLISH-BLK": (1.6, "steady"),
    "POLISH-BRN": (1.2, "steady"),
    "POLISH-NEU": (0.9, "steady"),
    "LACE-75-BLK": (1.5, "steady"),
    "LACE-75-BRN": (1.0, "steady"),
    "LACE-90-BLK": (1.7, "steady"),
    "LACE-120-BLK": (1.0, "children"),
    "LACE-150-BOOT": (1.1, "boots"),
    "SPRAY-PROOF": (1.4, "wet weather"),
    "WAX-PROOF": (0.7, "wet weather"),
    "SUEDE-BRUSH": (0.6, "steady"),
    "SHINE-BRUSH": (0.5, "gifts"),
    "CLOTH": (0.8, "gifts"),
    "TREES": (0.4, "gifts"),
    "GIFT-KIT": (0.35, "gifts"),
    "HORN": (0.35, "gifts"),
    "HEEL-GRIP": (0.9, "sandals"),
    "INSOLE-36": (0.25, "comfort"),
    "INSOLE-39": (0.5, "comfort"),
    "INSOLE-42": (0.5, "comfort"),
    "INSOLE-45": (0.2, "comfort"),
}
