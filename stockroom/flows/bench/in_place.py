"""What the bench may use in place of a material that is lacking, and how much; drawing it stays the owner's act."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from stockroom.flows.bench.shelf import set_aside
from stockroom.phrases import joined, phrase
from stockroom.show.formats import Formats
from stockroom.stock.agreements import DoesWork, who_does_it
from stockroom.stock.materials import Material
from stockroom.stock.recipes import Need, recipe_catalogue
from stockroom.store import agreements, catalogue, ledger
from stockroom.store.book import Book, Session


@dataclass(frozen=True, slots=True, kw_only=True)
class InPlace:
    """So much of another material does so much of the work of one that is lacking; in nano."""

    material: str
    lack: int
    other: str
    nano: int


def in_place(
    takes: Sequence[Need], free: Mapping[str, int], who: Mapping[str, Sequence[DoesWork]]
) -> tuple[tuple[InPlace, ...], dict[str, int]]:
    """Say what may be used in place of what a job lacks, and what is lacking still, by material.

    Parameters
    ----------
    takes : sequence of Need
        What the job takes.
    free : mapping of str to int
        What no ticket has a claim on, in nano by material.
    who : mapping
        What does whose work (`who_does_it`).

    Notes
    -----
    What the job itself needs of a substitute is left to it, and nothing is used twice.
    """
    wanted: dict[str, int] = {}
    for need in takes:
        wanted[need.material] = wanted.get(need.material, 0) + need.nano
    left = {code: max(free.get(code, 0), 0) - wanted.get(code, 0) for code in {*free, *wanted}}
    lacking = [code for code in wanted if left[code] < 0]
    found = []
    for code in lacking:
        for each in who.get(code, ()):
            there = left.get(each.other, 0)
            does = min(-left[code], int(there * each.does))
            if does <= 0:
                continue
            much = ceil(does / each.does)
            found.append(InPlace(material=code, lack=does, other=each.other, nano=much))
            left[each.other], left[code] = there - much, left[code] + does
    return tuple(found), {code: -left[code] for code in lacking if left[code] < 0}


def in_place_words(each: InPlace, materials: Mapping[str, Material], formats: Formats) -> str:
    """Say it in a sentence."""
    lacking, other = materials[each.material], materials[each.other]
    return phrase(
        "%(amount)s of %(material)s is lacking: %(much)s of %(other)s does that work. Say at finishing what was used.",
        amount=formats.amount(each.lack, lacking.unit),
        material=lacking.name,
        much=formats.amount(each.nano, other.unit),
        other=other.name,
    )


def in_place_for(session: Session, needs: Sequence[Need], on_hand: Mapping[str, int]) -> tuple[InPlace, ...]:
    """Say it of a ticket that has its own share of what lies there; of what does the work, what no ticket claims."""
    if all(on_hand.get(need.material, 0) >= need.nano for need in needs):
        return ()
    substitutes = agreements.read_substitutes(session)
    if not substitutes:
        return ()
    materials = catalogue.read_materials(session)
    aside = set_aside(session, recipe_catalogue(materials)).by_material
    own = {need.material for need in needs}
    free = {m.code: on_hand.get(m.code, 0) - (0 if m.code in own else aside.get(m.code, 0)) for m in materials}
    return in_place(needs, free, who_does_it(substitutes, {m.code: m for m in materials}))[0]


def if_used_instead(book: Book, below: Sequence[str]) -> str:
    """Say of materials that the book has less than nothing of what does their work, which may have been used."""
    with book.reading() as session:
        materials = {m.code: m for m in catalogue.read_materials(session)}
        on_hand = ledger.balances(session)
        who = who_does_it(agreements.read_substitutes(session), materials)
    said = [
        phrase(
            "%(other)s does the work of %(material)s: if it was used, undo this and say so at finishing.",
            other=materials[each.other].name,
            material=materials[code].name,
        )
        for code in below
        for each in who.get(code, ())[:1]
        if on_hand.get(each.other, 0) > 0
    ]
    return joined(said)
