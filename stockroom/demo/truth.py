"""What the invented bench really uses: the part of the demo that its book can't see."""

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from stockroom.demo.catalogue import RECIPES, SHELF
from stockroom.demo.dice import Dice
from stockroom.stock.quantities import NANO, Dimension
from stockroom.stock.recipes import Need, Recipe, RecipeLine, in_force, needs
from stockroom.stock.tickets import Ticket

# Real use over the first card's amount, where they differ: by (job, line), else by the line alone.
FACTORS: dict[str, float] = {
    "sole cement": 1.18,
    "cork filler": 1.25,
    "upper thread": 1.15,
    "edge wax": 0.85,
    "eyelets": 1.1,
    "cream": 0.82,
    "cleaner": 1.3,
    "tacks": 1.08,
}
OWN_FACTORS: dict[tuple[str, str], float] = {("HALF", "half sole, leather"): 1.09, ("GLUE", "sole cement"): 1.0}
DAILY_LOSS: dict[str, str] = {"THINNER": "3", "CEM-SOLV": "2"}  # base units a worked day: brushes, open pots
SPREAD = 0.13  # of one job's use around its mean

_WORKED_OUT: dict[tuple[object, ...], tuple[Need, ...]] = {}
_VERSIONS: dict[str, list[Recipe]] = {}
for _recipe in RECIPES:
    _VERSIONS.setdefault(_recipe.job, []).append(_recipe)


@dataclass(frozen=True, slots=True, kw_only=True)
class Use:
    """What one job takes from a bin, in truth."""

    material: str
    nano: int


def booked(ticket: Ticket, day: date) -> tuple[Need, ...]:
    """Give what the card of the day says a job uses."""
    card = in_force(_VERSIONS[ticket.job], day)
    if card is None:
        raise ValueError(f"{ticket.job} has no card on {day}")
    return _needs(ticket, card)


def real(ticket: Ticket, dice: Dice) -> list[Use]:
    """Draw what a job really uses."""
    first = _VERSIONS[ticket.job][0]
    lines = {line.name: line for line in first.lines}
    used = [
        Use(material=need.material, nano=_real_amount(need, lines[need.line], factor(ticket.job, need.line), dice))
        for need in _needs(ticket, first)
    ]
    return [use for use in used if use.nano]


def _needs(ticket: Ticket, card: Recipe) -> tuple[Need, ...]:
    """Work out a card's needs; tickets alike ask alike, so each sort is worked out once."""
    alike = (ticket.job, card.valid_from, ticket.shoes, ticket.size, tuple(sorted(ticket.chosen.items())))
    if alike not in _WORKED_OUT:
        _WORKED_OUT[alike] = needs(card, ticket.work, SHELF)
    return _WORKED_OUT[alike]


def factor(job: str, line: str) -> float:
    """Say how much more than the first card a line really uses."""
    return OWN_FACTORS.get((job, line), FACTORS.get(line, 1.0))


def _real_amount(need: Need, line: RecipeLine, times: float, dice: Dice) -> int:
    if not dice.happens(float(line.chance)):
        return 0
    full = Fraction(need.nano) / line.chance
    if _in_pieces(need, line):
        return dice.rounded(float(full / NANO) * times) * NANO
    return int(float(full) * times * dice.around_one(SPREAD))


def _in_pieces(need: Need, line: RecipeLine) -> bool:
    counted = SHELF.materials[need.material].dimension is Dimension.COUNT
    return counted and line.amount.dimension is Dimension.COUNT and line.amount.nano % NANO == 0
