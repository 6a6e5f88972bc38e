"""What a counting aid is: what it asks, how it measures, and how sure it is of the answer."""

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from stockroom.errors import UnitsError, UsageError, shorten
from stockroom.phrases import as_phrase, phrase
from stockroom.stock.materials import Material
from stockroom.stock.quantities import LIMIT, NANO, Dimension, Quantity, Unit, quantity

Answers = Mapping[str, "str | int | Decimal"]

ABSURD = 100  # times the usual amount: ask before believing
BRIDGE_ERROR = 0.01  # relative standard error of a stated density or piece weight; common practice, no source


@dataclass(frozen=True, slots=True, kw_only=True)
class AidQuestion:
    """One thing an aid needs: read off a scale or a rule, or known of the material."""

    name: str
    prompt: str
    unit: Unit | None = None  # of a bare number; None for a pure number
    fact: str = ""  # where the material's own facts answer it
    default: str = ""
    free: bool = False  # the aid reads the words itself


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """An amount in the material's own dimension and one standard error of it."""

    amount: Quantity
    error: Quantity


@dataclass(frozen=True, slots=True, kw_only=True)
class AidAnswers:
    """The answers to an aid's questions, for one material; every number is exact and in base units."""

    numbers: Mapping[str, Fraction]
    texts: Mapping[str, str]
    material: Material

    def __getitem__(self, name: str) -> Fraction:
        return self.numbers[name]

    def above_zero(self, name: str, words: str) -> Fraction:
        """Give a number that would make nonsense at zero.

        Raises
        ------
        UsageError
            If it is zero.
        """
        if not self.numbers[name]:
            raise UsageError(
                phrase("The %(words)s can't be zero.", words=as_phrase(words)),
                fix=phrase("Measure the %(words)s again.", words=as_phrase(words)),
            )
        return self.numbers[name]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """What an aid works out: an exact amount and its standard error, base units of one dimension."""

    amount: Fraction
    error: float
    dimension: Dimension


@dataclass(frozen=True, slots=True, kw_only=True)
class Aid:
    """A way to count one kind of thing."""

    name: str
    title: str
    asks: tuple[AidQuestion, ...]
    work_out: Callable[[AidAnswers], Finding]
    error_rule: str  # how it states its error, in words

    def measure(self, answers: Answers, material: Material) -> Measured:
        """Turn answers into an amount of the material.

        Parameters
        ----------
        answers : mapping of str to str, int or Decimal
            By name of the ask; a bare number is in the ask's unit, '1.2 kg' in its own.
        material : Material
            Its facts (`extra`, `thickness`, `bridge`) answer what the bench needn't measure every time.

        Returns
        -------
        Measured
            In the material's dimension, to a billionth of its base unit.

        Raises
        ------
        UsageError
            If an answer is missing, unreadable, negative or impossible.
        UnitsError
            If an answer is in the wrong kind of unit, or the material can't be measured this way.
        """
        unknown = set(answers) - {ask.name for ask in self.asks}
        if unknown:
            raise UsageError(
                phrase("'%(aid)s' doesn't ask for '%(ask)s'.", aid=as_phrase(self.title), ask=min(unknown)),
                fix=phrase("It asks for: %(asks)s.", asks=", ".join(ask.name for ask in self.asks)),
            )
        return _carry(self.work_out(_read(self.asks, answers, material)), material)


def _read(asks: tuple[AidQuestion, ...], answers: Answers, material: Material) -> AidAnswers:
    texts = {ask.name: _text(ask, answers, material) for ask in asks}
    numbers = {ask.name: number(texts[ask.name], ask) for ask in asks if not ask.free}
    return AidAnswers(numbers=numbers, texts=texts, material=material)


def _text(ask: AidQuestion, answers: Answers, material: Material) -> str:
    given = answers.get(ask.name)
    text = str(given).strip() if given is not None else ""
    found = text or material.extra.get(ask.fact, "").strip() or ask.default
    if not found:
        asked = as_phrase(ask.prompt)
        if ask.fact:
            fix = phrase("Give %(prompt)s or state '%(fact)s' once on the material.", prompt=asked, fact=ask.fact)
        else:
            fix = phrase("Give %(prompt)s.", prompt=asked)
        raise UsageError(phrase("%(material)s: missing %(prompt)s.", material=material.code, prompt=asked), fix=fix)
    return found


def number(text: str, ask: AidQuestion) -> Fraction:
    """Read one answer exactly, in base units of the ask's dimension.

    Raises
    ------
    UsageError
        If it is no number, is below zero, or could be read in two ways.
    """
    if re.match(r"\d*[.,]\d*[.,]|[1-9]\d{0,2},\d{3}(?!\d)", text):
        raise UsageError(
            phrase("'%(text)s' for %(prompt)s can be read in two ways.", text=text, prompt=as_phrase(ask.prompt)),
            fix="Write it with a decimal point, or without a comma.",
        )
    plain = text.replace(",", ".")
    if re.fullmatch(r"\d{1,12}(\.\d{1,12})?", plain):
        return Fraction(plain) * (Fraction(ask.unit.nano, NANO) if ask.unit else 1)
    if re.match(r"\s*-", text):
        raise UsageError(
            phrase("'%(text)s' for %(prompt)s is below zero.", text=shorten(text), prompt=as_phrase(ask.prompt)),
            fix="Amounts on a shelf are never negative.",
        )
    if ask.unit is None:
        raise UsageError(
            phrase("'%(text)s' for %(prompt)s is not a number.", text=shorten(text), prompt=as_phrase(ask.prompt)),
            fix="Write a number such as 4 or 2.5.",
        )
    return _with_unit(plain, ask.unit.dimension, ask.prompt)


def _with_unit(text: str, wanted: Dimension, prompt: str) -> Fraction:
    found = quantity(text)  # refuses what is no amount at all
    if found.dimension is not wanted:
        raise UnitsError(
            phrase(
                "'%(text)s' for %(prompt)s is %(dimension)s, not %(wanted)s.",
                text=shorten(text),
                prompt=as_phrase(prompt),
                dimension=found.dimension,
                wanted=wanted,
            ),
            fix=phrase("Give it in a unit of %(wanted)s, such as %(unit)s.", wanted=wanted, unit=wanted.base.name),
        )
    return Fraction(found.nano, NANO)


def _carry(found: Finding, material: Material) -> Measured:
    if found.amount * NANO > LIMIT:
        raise UsageError(
            phrase("%(material)s: the amount is larger than the book can hold.", material=material.code),
            fix="Check the figures and their units.",
        )
    amount = Quantity(nano=round(found.amount * NANO), dimension=found.dimension)
    error = Quantity(nano=round(found.error * NANO), dimension=found.dimension)
    if found.dimension is material.dimension:
        return Measured(amount=amount, error=error)
    carried = material.to_base(amount)
    spread = combine(float(material.to_base(error).nano), BRIDGE_ERROR * carried.nano)
    return Measured(amount=carried, error=Quantity(nano=round(spread), dimension=material.dimension))


def doubt(measured: Measured, usual: Quantity) -> str:
    """Ask about an amount far beyond the usual; an empty text means it looks right."""
    if usual.nano > 0 and measured.amount.nano > ABSURD * usual.nano:
        times = measured.amount.nano // usual.nano
        return phrase(
            "%(amount)s is %(times)s times the usual %(usual)s. Is the unit right?",
            amount=measured.amount,
            times=times,
            usual=usual,
        )
    return ""


def within(half_width: float) -> float:
    """Give the standard error of a reading that may lie anywhere within plus or minus a half width.

    Notes
    -----
    Rectangular distribution: half width / sqrt(3) (JCGM 100:2008, 4.3.7; from memory).
    """
    return half_width / math.sqrt(3)


def by_eye(half_width: float) -> float:
    """Give the standard error of a judgement by eye, most likely right and never off by more than a half width.

    Notes
    -----
    Triangular distribution: half width / sqrt(6) (JCGM 100:2008, 4.3.9; from memory).
    """
    return half_width / math.sqrt(6)


def combine(*errors: float) -> float:
    """Add independent standard errors (root of the sum of squares; JCGM 100:2008, 5.1.2, from memory)."""
    return math.hypot(*errors)


def net(reading: AidAnswers) -> Fraction:
    """Weigh what is inside: gross less tare; a hair below empty counts as empty.

    Raises
    ------
    UsageError
        If the full weight is below the container's by more than the scale can be wrong.
    """
    inside = reading["gross"] - reading["tare"]
    if inside < -2 * reading["step"]:
        raise UsageError(
            phrase(
                "%(material)s: %(gross)s g with its container is less than the %(tare)s g the container weighs empty.",
                material=reading.material.code,
                gross=float(reading["gross"]),
                tare=float(reading["tare"]),
            ),
            fix="Weigh it again, or correct the weight of the empty container.",
        )
    return max(inside, Fraction(0))


def net_error(reading: AidAnswers) -> float:
    """Give the standard error of gross less tare: two weighings, each within one step of the scale."""
    step = float(reading["step"])
    return combine(within(step), within(step))


CONTAINER = AidQuestion(name="full", prompt="what a full container holds, such as '1 l'", fact="container", free=True)


def full_size(reading: AidAnswers) -> Finding:
    """Read what a full one holds; above zero.

    Raises
    ------
    UsageError
        If it is not above zero.
    """
    held = quantity(reading.texts["full"])
    if held.nano <= 0:
        raise UsageError("A full one can't hold nothing.", fix="State what a full one holds, such as '1 l'.")
    return Finding(amount=Fraction(held.nano, NANO), error=0.0, dimension=held.dimension)


def open_part(reading: AidAnswers, name: str, *, most: int) -> tuple[Fraction, Finding]:
    """Turn tenths into an amount; also give the full one.

    Raises
    ------
    UsageError
        If there are more tenths than fit.
    """
    size = full_size(reading)
    if reading[name] > most:
        raise UsageError(
            phrase("%(tenths)s tenths is more than %(most)s full.", tenths=float(reading[name]), most=most // 10),
            fix="Count full ones as sealed, and give tenths of what is open.",
        )
    return size.amount * reading[name] / 10, size


def whole(reading: AidAnswers, name: str, words: str) -> int:
    """Read a number that can only be whole.

    Raises
    ------
    UsageError
        If it is not whole.
    """
    if reading[name].denominator != 1:
        raise UsageError(
            phrase("The %(words)s must be a whole number.", words=as_phrase(words)),
            fix="Give the part as tenths instead.",
        )
    return int(reading[name])
