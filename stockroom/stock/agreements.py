"""What is agreed beyond single orders: materials that do each other's work, and goods that come by themselves."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from stockroom.stock.calendar import WEEK
from stockroom.stock.materials import Material


@dataclass(frozen=True, slots=True, kw_only=True)
class Substitute:
    """Two materials of which either will do: what one shown unit of `other` does, in shown units of `material`.

    One way only: `other` will do for `material`, but not the other way round.
    """

    material: str
    other: str
    does: Fraction = Fraction(1)
    one_way: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class StandingOrder:
    """Packs of an offer that a supplier sends by himself every so many weeks."""

    supplier: str
    material: str
    packs: int
    weeks: int
    first: date  # day the first of them comes
    supplier_code: str = ""
    last: date | None = None  # None: until it is taken off the list

    def days(self, since: date, until: date) -> list[date]:
        """Give the days on which it comes, both ends included."""
        end = until if self.last is None else min(until, self.last)
        passed = max(-(-(since - self.first).days // (WEEK * self.weeks)), 0)
        day, found = self.first + timedelta(days=WEEK * self.weeks * passed), list[date]()
        while day <= end:
            found.append(day)
            day += timedelta(days=WEEK * self.weeks)
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """What a material stands for among those that do each other's work: `does` base units of `main` a base unit."""

    main: str
    does: Fraction


@dataclass(frozen=True, slots=True, kw_only=True)
class Lean:
    """A material whose work another will do: a base unit of that one does `does` base units of its work."""

    material: str
    other: str
    does: float


def leans(substitutes: Iterable[Substitute], materials: Mapping[str, Material]) -> list[Lean]:
    """List which material leans on which, of the substitutes that work one way only, by code."""
    return [
        Lean(
            material=each.material,
            other=each.other,
            does=float(each.does * materials[each.material].unit.nano / materials[each.other].unit.nano),
        )
        for each in sorted(substitutes, key=lambda s: (s.material, s.other))
        if each.one_way and each.material in materials and each.other in materials
    ]


def stands(substitutes: Iterable[Substitute], materials: Mapping[str, Material]) -> dict[str, Stand]:
    """Say for every material with a substitute which one of them all are counted as, and how much of it each does.

    Notes
    -----
    Either does the other's work, so whatever hangs together by substitutes is one: the first by code is the main one.
    Those that work one way only are left out.
    Where the list leads to a material in two ways, the first found holds.
    """
    ways: dict[str, list[tuple[str, Fraction]]] = {}
    for each in sorted(substitutes, key=lambda s: (s.material, s.other)):
        if not each.one_way and each.material in materials and each.other in materials:
            shown = Fraction(materials[each.material].unit.nano, materials[each.other].unit.nano)
            ways.setdefault(each.material, []).append((each.other, each.does * shown))
            ways.setdefault(each.other, []).append((each.material, 1 / (each.does * shown)))
    found: dict[str, Stand] = {}
    for main in sorted(ways):
        if main in found:
            continue
        found[main], left = Stand(main=main, does=Fraction(1)), [main]
        while left:
            at = left.pop(0)
            for other, does in ways[at]:
                if other not in found:
                    found[other] = Stand(main=main, does=found[at].does * does)
                    left.append(other)
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class DoesWork:
    """What will do a material's work: a base unit of `other` does `does` base units of it."""

    other: str
    does: Fraction


def who_does_it(substitutes: Iterable[Substitute], materials: Mapping[str, Material]) -> dict[str, list[DoesWork]]:
    """List by material what else will do its work, whether either will do or one way only; what does most first.

    What will do for one of those that are one will do for all of them, and so will all that are one with it: as the
    outlook has it. Nothing is done by way of a third that itself leans on another.
    """
    listed = list(substitutes)
    one = stands(listed, materials)

    def together(code: str) -> dict[str, Fraction]:
        mine = one.get(code, Stand(main=code, does=Fraction(1)))
        return {other: each.does for other, each in one.items() if each.main == mine.main} or {code: Fraction(1)}

    found: dict[str, dict[str, Fraction]] = {}
    for code in one:
        for other, does in together(code).items():
            if other != code:
                found.setdefault(code, {})[other] = does / one[code].does
    for each in listed:
        if each.one_way and each.material in materials and each.other in materials:
            shown = each.does * Fraction(materials[each.material].unit.nano, materials[each.other].unit.nano)
            mine, its = together(each.material), together(each.other)
            for code, unit in mine.items():
                for other, does in its.items():
                    if other not in mine:
                        work = shown * mine[each.material] * does / its[each.other] / unit
                        most = max(found.get(code, {}).get(other, Fraction(0)), work)
                        found.setdefault(code, {})[other] = most
    return {
        code: [DoesWork(other=other, does=does) for other, does in sorted(others.items(), key=lambda o: (-o[1], o[0]))]
        for code, others in found.items()
    }
