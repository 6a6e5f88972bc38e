"""A material that stands in for another: what is known of the old one's sales, waste and use counts for the new one."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction

from stockroom.flows.book.snapshot import BookSnapshot
from stockroom.flows.learning.lessons import Learnt
from stockroom.stock.materials import Material
from stockroom.stock.quantities import Quantity

Sums = Sequence[tuple[str, str, int]]
Rates = Mapping[str, tuple[str, Fraction]]  # by the old one: the new one, and how much of it does for one of the old


def replacements(materials: Iterable[Material]) -> Rates:
    """Say what stands in for each material that is replaced, at the end of a chain its last."""
    by_code = {m.code: m for m in materials}
    direct = {m.replaces: m for m in by_code.values() if m.replaces in by_code and m.active}
    found = {}
    for code in direct:
        rate, at, met = Fraction(1), code, {code}
        while at in direct and direct[at].code not in met:
            new, old = direct[at], by_code[at]
            one = Quantity(nano=old.unit.nano, dimension=old.dimension)
            rate *= Fraction(new.in_place_of(old, one).nano, one.nano)
            at = new.code
            met.add(at)
        found[code] = (at, rate)
    return found


def carried_over(known: BookSnapshot) -> BookSnapshot:
    """Let sales and waste of what was replaced be those of what stands in for it, and its days on the shelf."""
    rates = replacements(known.materials)
    if not rates:
        return known
    stocked = dict(known.stocked)
    for old, (new, _) in rates.items():
        if old in stocked:
            stocked[new] = min(stocked[old], stocked.get(new, stocked[old]))
    return replace(known, sales=_carried(known.sales, rates), waste=_carried(known.waste, rates), stocked=stocked)


def _carried(sums: Sums, rates: Rates) -> Sums:
    return [
        (rates[code][0], day, round(nano * rates[code][1])) if code in rates else (code, day, nano)
        for code, day, nano in sums
    ]


def learnt_of_old(learnt: Learnt, rates: Rates) -> Learnt:
    """Let what counts teach of the old material hold for the new one, until they teach of that one itself."""
    if not rates:
        return learnt
    ratios = {(job, rates[code][0]): r for (job, code), r in learnt.ratios.items() if code in rates}
    waste = {rates[code][0]: w * float(rates[code][1]) for code, w in learnt.waste.items() if code in rates}
    doubt = {rates[code][0]: d for code, d in learnt.doubt.items() if code in rates}
    unsure = {rates[code][0]: d for code, d in learnt.waste_doubt.items() if code in rates}
    kept = {code: w for code, w in learnt.waste.items() if code not in rates}
    return replace(
        learnt,
        ratios=ratios | dict(learnt.ratios),
        waste=waste | kept,
        doubt=doubt | dict(learnt.doubt),
        waste_doubt=unsure | dict(learnt.waste_doubt),
    )
