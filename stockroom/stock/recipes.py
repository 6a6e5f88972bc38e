"""Recipes: what a job uses, in versions that are never edited."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from fractions import Fraction

from stockroom.errors import UnknownError, UsageError
from stockroom.phrases import phrase
from stockroom.stock.materials import Material
from stockroom.stock.quantities import NANO, Dimension, Quantity
from stockroom.stock.shoe_sizes import ShoeSize, grown, scale

PAIR = 2  # shoes
_MINUTES = 60  # of an hour


class Per(StrEnum):
    """What a recipe amount is for."""

    PAIR = "pair"
    SHOE = "shoe"
    JOB = "job"
    MINUTE = "machine minute"


class Sizing(StrEnum):
    """How an amount grows with the shoe."""

    FIXED = "fixed"
    LENGTH = "length"
    AREA = "area"


_USUAL_GROWTH = {Sizing.FIXED: Fraction(0), Sizing.LENGTH: Fraction(1), Sizing.AREA: Fraction(2)}


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """A job on the price list."""

    code: str
    name: str
    family: str = ""
    price: int | None = None  # minor units, as charged
    tax_rate: str = ""
    bench_minutes: int = 0
    sized: bool = False  # the ticket must say the shoe size
    active: bool = True
    single_price: int | None = None  # of one shoe, where it is not the price of a pair
    weekly: str = ""  # how many are usually asked for in a week, as the owner says; empty: not said
    season: str = ""  # when it is busy, in the owner's words; empty: by its family
    alike: str = ""  # a job whose demand it is expected to have, while it has little of its own

    def price_of(self, shoes: int) -> int | None:
        """Give what the price list asks for so many shoes: by the pair, an odd one by the price of one."""
        pairs, odd = divmod(shoes, PAIR)
        single = self.price if self.single_price is None else self.single_price
        asked = [self.price] * pairs + [single] * odd
        return sum(each for each in asked if each is not None) if None not in asked else None


OTHER = Job(code="OTHER", name=phrase("Other work"))  # on no price list: its ticket's note says what is done


@dataclass(frozen=True, slots=True, kw_only=True)
class RecipeLine:
    """One material of a job, at the recipe's reference size."""

    name: str  # unique in its recipe: 'sole, from the bend'
    material: str  # a material's code, or a group's: then the variant that fits; empty: this option uses nothing
    amount: Quantity
    per: Per = Per.PAIR
    sizing: Sizing = Sizing.FIXED
    choice: str = ""  # such as 'sole'; empty: always used
    option: str = ""  # such as 'bend'; the first line of a choice names its default
    waste: Fraction = Fraction(0)  # per cent added for cutting
    coats: int = 1
    chance: Fraction = Fraction(1)  # used on this share of jobs
    machine: str = ""  # the one it is used on, where it wears as that runs
    minutes: Fraction | None = None  # the machine runs for a pair; None: as long as by the recipe's other lines
    life_hours: Fraction | None = None  # the amount lasts so many hours of the machine
    growth: Fraction | None = None  # power of the length it grows with, where that is not the usual one of its sizing

    @property
    def by_machine(self) -> bool:
        """Whether its amount goes by the minutes of its machine."""
        return self.life_hours is not None or self.per is Per.MINUTE

    @property
    def power(self) -> Fraction:
        """By which power of the length its amount grows; what is fixed does not grow."""
        return _USUAL_GROWTH[self.sizing] if self.growth is None else self.growth

    @property
    def nothing(self) -> bool:
        """Whether it only names an option that uses nothing: the old heel blocks stay on."""
        return not self.material or not self.amount.nano or not self.chance

    @property
    def whole(self) -> bool:
        """Whether it takes whole pieces: not a part of a tin, nor what is cut, grows or wears."""
        plain = not (self.waste or self.power or self.by_machine)
        return plain and self.amount.dimension is Dimension.COUNT and self.amount.nano % NANO == 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """A version of what a job uses, valid from a day until a newer one."""

    job: str
    valid_from: date
    lines: tuple[RecipeLine, ...]
    reference: tuple[ShoeSize, ...] = ()  # the reference size, once per size system the shop works in
    source: str = ""  # why this version: 'first card', 'counts of spring'

    @property
    def choices(self) -> dict[str, tuple[str, ...]]:
        """Options of each choice; the first is the default."""
        found: dict[str, tuple[str, ...]] = {}
        for line in self.lines:
            options = found.get(line.choice, ())
            if line.choice and line.option not in options:
                found[line.choice] = (*options, line.option)
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What one line of a recipe asks of the shelf for one ticket."""

    line: str
    material: str
    nano: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Extra:
    """A material used beyond the recipe, as typed."""

    material: str
    amount: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFacts:
    """The facts of a job that decide what it uses."""

    shoes: int = PAIR
    size: ShoeSize | None = None
    chosen: Mapping[str, str]
    same_as: tuple[ShoeSize, ...] = ()  # the size in other systems, where the recipe states it


@dataclass(frozen=True, slots=True)
class Catalogue:
    """Materials by code, and the variants of each group."""

    materials: Mapping[str, Material]
    groups: Mapping[str, tuple[Material, ...]]

    def pick(self, code: str, work: JobFacts) -> Material:
        """Give the material, or the variant of a group that fits the work; never guesses.

        Raises
        ------
        UnknownError
            If no material or group has the code.
        """
        if (material := self.materials.get(code)) is not None:
            return material
        variants = self.groups.get(code)
        if variants is None:
            raise UnknownError(
                phrase("No material or group has the code '%(code)s'.", code=code), fix="Check the recipe's material."
            )
        fitting = [v for v in variants if _fits(v, work)]
        if len(fitting) == 1:
            return fitting[0]
        return _not_one(code, work, fitting or list(variants), found=bool(fitting))


def recipe_catalogue(materials: Sequence[Material]) -> Catalogue:
    """Arrange materials for picking."""
    groups: dict[str, tuple[Material, ...]] = {}
    for material in materials:
        if material.group:
            groups[material.group] = (*groups.get(material.group, ()), material)
    return Catalogue({m.code: m for m in materials}, groups)


def taken_whole(materials: Sequence[Material], recipes: Iterable[Recipe]) -> frozenset[str]:
    """Give the codes of what is counted in pieces and of which no recipe takes a part of one."""
    parted = {line.material for recipe in recipes for line in recipe.lines if not (line.nothing or line.whole)}
    counted = (m for m in materials if m.dimension is Dimension.COUNT)
    return frozenset(m.code for m in counted if not parted & {m.code, m.group})


def options_taken(recipe: Recipe, chosen: Mapping[str, str]) -> dict[str, str]:
    """Complete what was chosen with each choice's default; refuses an option the recipe doesn't have."""
    taken = {}
    for choice, options in recipe.choices.items():
        taken[choice] = chosen.get(choice, options[0])
        if taken[choice] not in options:
            raise UsageError(
                phrase(
                    "'%(option)s' is not an option for %(choice)s in %(job)s.",
                    option=taken[choice],
                    choice=choice,
                    job=recipe.job,
                ),
                fix=phrase("Options: %(options)s.", options=", ".join(options)),
            )
    return taken


def needs(recipe: Recipe, work: JobFacts, shelf: Catalogue) -> tuple[Need, ...]:
    """Work out what a job asks of the shelf.

    Notes
    -----
    amount x (shoes or pairs) x size scale x coats x (1 + waste) x chance, in exact fractions, rounded once per
    line, half to even, to a billionth of the base unit. A chance line draws its share on every job. What wears as a
    machine runs is amount x minutes, or amount x minutes / (60 x life in hours), instead of shoes or pairs.
    """
    taken = options_taken(recipe, work.chosen)
    if work.size in recipe.reference:
        work = replace(work, same_as=recipe.reference)
    made = []
    for line in _taken(recipe, taken):
        if line.nothing:
            continue
        material = shelf.pick(line.material, work)
        amount = material.to_base(line.amount).times(_times(line, recipe, work))
        made.append(Need(line=line.name, material=material.code, nano=amount.nano))
    return tuple(made)


def machine_minutes(recipe: Recipe, work: JobFacts, left_out: Sequence[str] = ()) -> dict[str, Fraction]:
    """Say how long each machine runs for a job, by the lines that state their minutes.

    Notes
    -----
    minutes x pairs x coats x chance, added up over the lines of a machine that the job takes.
    """
    found: dict[str, Fraction] = {}
    for line in _taken(recipe, options_taken(recipe, work.chosen)):
        if line.minutes is not None and line.name not in left_out:
            found[line.machine] = found.get(line.machine, Fraction(0)) + _runs(line, recipe, work)
    return found


def times_for_pair(recipe: Recipe, line: RecipeLine) -> Fraction:
    """Say how often a line's amount is used for a pair of the reference size."""
    chosen = {line.choice: line.option} if line.choice else {}
    return _times(replace(line, sizing=Sizing.FIXED), recipe, JobFacts(chosen=chosen))


def in_force(versions: Sequence[Recipe], day: date) -> Recipe | None:
    """Pick the version valid on a day; of several from one day, the last entered."""
    valid = [version for version in versions if version.valid_from <= day]
    return max(enumerate(valid), key=lambda pair: (pair[1].valid_from, pair[0]))[1] if valid else None


def _taken(recipe: Recipe, options: Mapping[str, str]) -> list[RecipeLine]:
    return [line for line in recipe.lines if not line.choice or options[line.choice] == line.option]


def _runs(line: RecipeLine, recipe: Recipe, work: JobFacts) -> Fraction:
    """Give the minutes a line's machine runs for it: its own, or as long as it runs on the job at all."""
    if line.minutes is None:
        return machine_minutes(recipe, work).get(line.machine, Fraction(0)) * line.coats * line.chance
    return line.minutes * Fraction(work.shoes, PAIR) * line.coats * line.chance


def _times(line: RecipeLine, recipe: Recipe, work: JobFacts) -> Fraction:
    if line.by_machine:
        runs = _runs(line, recipe, work)
        times = runs if line.life_hours is None else runs / (_MINUTES * line.life_hours)
    else:
        shoes, of = {Per.PAIR: (work.shoes, PAIR), Per.SHOE: (work.shoes, 1), Per.JOB: (1, 1)}[line.per]
        times = Fraction(shoes * line.coats, of) * line.chance
    if line.waste:
        times *= 1 + line.waste / 100
    return times if line.sizing is Sizing.FIXED else times * _size_factor(line, recipe, work)


def _size_factor(line: RecipeLine, recipe: Recipe, work: JobFacts) -> Fraction:
    if work.size is None:
        raise UsageError(phrase("%(job)s needs the shoe size.", job=recipe.job), fix="Add it, such as --size 'EU 42'.")
    return grown(scale(work.size, recipe.reference), line.power)


def _fits(variant: Material, work: JobFacts) -> bool:
    colour = work.chosen.get("colour", "")
    if colour and variant.colour and variant.colour != colour:
        return False
    sizes = (work.size, *work.same_as) if work.size else ()
    return variant.size_from is None or any(variant.fits(size) for size in sizes)


def _sizes(variant: Material) -> str:
    """Say what sizes a variant serves, such as 'EU 36–41'."""
    low, high = variant.size_from, variant.size_to
    if low is None or high in (None, low):
        return str(low or "")
    return f"{low}–{str(high).removeprefix(low.system).lstrip()}"


def _not_one(code: str, work: JobFacts, seen: list[Material], *, found: bool) -> Material:
    listed = ", ".join(f"{m.code} ({m.colour or _sizes(m) or m.name})" for m in seen[:12])
    if work.size is None and any(m.size_from for m in seen):
        raise UsageError(
            phrase("%(code)s comes in sizes; the ticket has none.", code=code), fix="Add it, such as --size 'EU 42'."
        )
    if not found:
        wanted = " ".join(str(part) for part in (work.size, work.chosen.get("colour")) if part)
        raise UnknownError(
            phrase("No variant of %(code)s fits %(wanted)s.", code=code, wanted=wanted or phrase("this job")),
            fix=_there_is(listed, work),
        )
    raise UsageError(
        phrase("Several variants of %(code)s fit: %(listed)s.", code=code, listed=listed),
        fix="Say which, such as --with colour=black.",
    )


def _there_is(listed: str, work: JobFacts) -> str:
    if work.size is None or work.size.number.denominator == 1:
        return phrase("There is: %(listed)s.", listed=listed)
    return phrase(
        "There is: %(listed)s. A half size goes to the variant whose sizes include it: say so on that material, with "
        "'size from' or 'size to' %(size)s.",
        listed=listed,
        size=work.size,
    )
