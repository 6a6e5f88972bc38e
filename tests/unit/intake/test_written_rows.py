from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from stockroom.intake.cells import marks_of
from stockroom.intake.columns import KINDS
from stockroom.intake.known import BookFacts
from stockroom.intake.load import read_rows
from stockroom.intake.written_rows import RowWriter, writers
from stockroom.stock.agreements import StandingOrder, Substitute
from stockroom.stock.calendar import Closure, Event
from stockroom.stock.materials import Material
from stockroom.stock.quantities import UNITS, Bridge, Quantity, Unit
from stockroom.stock.recipes import Recipe
from stockroom.stock.suppliers import PriceBreak
from tests import build

LOCALES = ("en_IE", "de_DE", "fr_FR", "de_CH")
NOUNS: dict[str, Any] = {
    "materials": build.materials(), "jobs": build.jobs(), "recipes": build.recipes(),
    "suppliers": [replace(each, minimum_weight=build.amount("12.5 kg")) for each in build.suppliers()],
    "offers": [
        replace(
            each, multiple=3, pack_weight=build.amount("450 g"), return_weeks=8, return_until=build.START,
            return_cost=125, on_approval=True,
        )
        for each in build.offers()
    ],
    "closures": [Closure(first=build.START, last=build.START, who="TAN", yearly=True)],
    "substitutes": [
        Substitute(material="SOLE-S", other="SOLE-L"),
        Substitute(material="TIP", other="POLISH", does=Fraction(5, 2), one_way=True),
    ],
    "standing": [StandingOrder(supplier="NORTH", material="TIP", packs=4, weeks=6, first=build.START)],
    "events": [
        Event(name="fair", day=date(2026, 6, 20)),
        Event(name="order", day=date(2026, 6, 1), last=date(2026, 6, 9), job=build.jobs()[0].code, jobs=40),
        Event(name="rise", day=date(2026, 1, 1), usual="97.5"),
        Event(name="market", day=date(2026, 12, 12), material="POLISH", pieces=24),
    ],
}  # fmt: skip
# what else columns may say, on nouns of the tiny shop
NOUNS["materials"][-1] = replace(
    NOUNS["materials"][-1], alike=NOUNS["materials"][0].code, replaces=NOUNS["materials"][0].code,
    replaces_at=Bridge(left=NOUNS["materials"][-1].unit.of(Decimal("1.5")), right=NOUNS["materials"][0].unit.of(2)),
)  # fmt: skip
NOUNS["jobs"][0] = replace(NOUNS["jobs"][0], season="busy Oct-Dec", alike=NOUNS["jobs"][-1].code)


def _units(materials: list[Material]) -> dict[str, Unit]:
    return {m.code: m.unit for m in materials} | {m.group: m.unit for m in materials if m.group}


@pytest.mark.parametrize("locale", LOCALES)
def test_every_list_reads_back_as_it_was_written(locale: str) -> None:
    write = writers(RowWriter(marks_of(locale), 2, _units(NOUNS["materials"])))
    rows = {stem: _rows(write[stem], nouns) for stem, nouns in NOUNS.items()}
    back = read_rows(rows, BookFacts(), locale=locale, digits=2)
    for stem, nouns in NOUNS.items():
        assert list(getattr(back, stem)) == nouns, stem


def test_every_declared_column_is_written() -> None:
    write = writers(RowWriter(marks_of("en_IE"), 2, _units(NOUNS["materials"])))
    for stem, nouns in NOUNS.items():
        assert _rows(write[stem], nouns[:1])[0].keys() == {column.name for column in KINDS[stem].columns}


@given(nano=st.integers(1, 10**15), locale=st.sampled_from(LOCALES), name=st.sampled_from(sorted(UNITS)))
def test_an_amount_reads_back_exactly_whatever_it_is_shown_in(nano: int, locale: str, name: str) -> None:
    unit = UNITS[name]
    first = next(r for r in NOUNS["recipes"] if r.lines)
    material = build.material("M", name)
    line = replace(
        first.lines[0], material="M", amount=Quantity(nano=nano, dimension=unit.dimension), choice="", option=""
    )
    noun = Recipe(job="J", valid_from=build.START, lines=(line,), reference=first.reference)
    known = BookFacts(materials={"M": material}, jobs={"J": replace(build.jobs()[0], code="J", sized=True)})
    rows = RowWriter(marks_of(locale), 2, {"M": unit}).recipe(noun)
    assert read_rows({"recipes": rows}, known, locale=locale, digits=2).recipes == (noun,)


def test_prices_of_breaks_and_amounts_are_written_as_the_country_writes_them() -> None:
    offer = replace(NOUNS["offers"][0], price=123450, breaks=(PriceBreak(packs=5, price=110050),))
    row = RowWriter(marks_of("de_DE"), 2, _units(NOUNS["materials"])).offer(offer)
    assert (row["price"], row["breaks"]) == ("1234,50", "5=1100,50")


def test_less_than_a_tenth_of_a_unit_is_said_in_a_smaller_one() -> None:
    write = RowWriter(marks_of("en_IE"), 2, {"C": UNITS["l"]})
    line = replace(build.recipes()[0].lines[0], material="C", amount=build.amount("4.5 ml"))
    row = write.recipe(replace(build.recipes()[0], lines=(line,)))[0]
    assert (row["amount"], row["unit"]) == ("4.5", "ml")


def _rows(write: Callable[[Any], Any], nouns: Sequence[Any]) -> list[dict[str, str]]:
    found = []
    for noun in nouns:
        said = write(noun)
        found += list(said) if isinstance(said, tuple) else [said]
    return found
