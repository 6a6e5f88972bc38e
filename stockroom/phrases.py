"""Texts for people that remember how they were made: a pattern and the facts named in it.

A phrase is its English text, and is used like any other text. Only a door that speaks another language looks
further: it says the pattern in that language and puts the facts in anew. So nothing below the doors knows languages.
"""

from collections.abc import Iterable, Mapping
from decimal import Decimal
from enum import StrEnum
from typing import Any, Self


class Phrase(str):
    """A text and what it was made of.

    Parameters
    ----------
    pattern : str
        In English; facts stand in it as '%(name)s', and a per cent sign beside facts is doubled.
    facts : mapping of str to object
        By name; a fact may be a phrase itself. Without facts the pattern is said as it stands.
    many : str
        The pattern for any number but one; empty where nothing is counted.
    number : int
        What is counted.
    trim : str
        Marks left off its end, such as the stop of a sentence that goes on.
    """

    __slots__ = ("facts", "many", "number", "pattern", "trim")

    pattern: str
    facts: Mapping[str, object]
    many: str
    number: int
    trim: str

    def __new__(
        cls, pattern: str, facts: Mapping[str, object], many: str = "", number: int = 1, trim: str = ""
    ) -> Self:
        """Say it in English, and remember how."""
        made = super().__new__(cls, filled(many if many and number != 1 else pattern, facts).rstrip(trim))
        made.pattern, made.facts, made.many, made.number, made.trim = pattern, facts, many, number, trim
        return made

    def __reduce__(self) -> tuple[type["Phrase"], tuple[Any, ...]]:
        """Travel whole between processes."""
        return type(self), (self.pattern, self.facts, self.many, self.number, self.trim)


class Named(StrEnum):
    """A name that books and programs keep, and what people read for it where that differs."""

    label: str

    def __new__(cls, value: str, label: str = "") -> Self:
        """Take the name kept, and the words for people."""
        made = str.__new__(cls, value)
        made._value_ = value
        made.label = label or value
        return made


class Figure(str):
    """A figure, an amount or a day as one way of writing has it, which remembers what it was written from.

    Parameters
    ----------
    text : str
        How it is written.
    way : str
        The function of the formats that wrote it.
    facts : tuple
        What it was written from.
    """

    __slots__ = ("facts", "way")

    way: str
    facts: tuple[object, ...]

    def __new__(cls, text: str, way: str, facts: tuple[object, ...]) -> Self:
        """Take it as written, and remember how."""
        made = super().__new__(cls, text)
        made.way, made.facts = way, facts
        return made

    def __reduce__(self) -> tuple[type["Figure"], tuple[Any, ...]]:
        """Travel whole between processes."""
        return type(self), (str(self), self.way, self.facts)


class Number(int):
    """How many there are of something, written with the marks for thousands that the reader is used to."""


def phrase(pattern: str, /, **facts: object) -> Phrase:
    """Say something with its facts, such as phrase("Ticket %(number)s is done.", number=7)."""
    return Phrase(pattern, facts)


def plural(one: str, many: str, num: int, /, **facts: object) -> Phrase:
    """Say something of one or several; the number itself is '%(num)s'."""
    return Phrase(one, {"num": num} | facts, many, num)


def joined(parts: Iterable[str], between: str = " ") -> Phrase:
    """Put texts one after another, leaving out the empty ones."""
    facts = {f"part{n}": part for n, part in enumerate(part for part in parts if part)}
    return Phrase(between.replace("%", "%%").join(f"%({name})s" for name in facts), facts)


def as_phrase(text: str) -> Phrase:
    """Take a text that has no facts as its own pattern; a phrase stays what it is."""
    return text if isinstance(text, Phrase) else Phrase(text, {})


def trimmed(text: str) -> Phrase:
    """Leave full stops off the end of a text, in whatever language it is said."""
    whole = as_phrase(text)
    return Phrase(whole.pattern, whole.facts, whole.many, whole.number, ".")


def filled(pattern: str, facts: Mapping[str, object]) -> str:
    """Put facts into a pattern."""
    return pattern % {name: _shown(fact) for name, fact in facts.items()} if facts else pattern


def _shown(fact: object) -> object:
    if isinstance(fact, Number):
        return f"{fact:,}"
    if isinstance(fact, float):
        return f"{fact:g}"
    if isinstance(fact, Decimal):
        return f"{fact:f}"
    return fact.label if isinstance(fact, Named) else fact
