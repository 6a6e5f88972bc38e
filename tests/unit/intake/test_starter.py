"""The starter shop: whole in both languages, served in every size it names, its figures held to what is published."""

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from fractions import Fraction
from functools import partial
from pathlib import Path

import pytest

from stockroom.flows.book.check import check
from stockroom.flows.book.opening import new_book
from stockroom.flows.book.snapshot import book_snapshot
from stockroom.flows.loading.starter import enter_starter
from stockroom.flows.outlook import said_weeks
from stockroom.intake import starter
from stockroom.intake.starter import starter_rows
from stockroom.stock.shop import Shop
from stockroom.stock.tickets import RecipeBox

DAY = date(2026, 1, 6)


def _texts() -> Iterator[str]:
    for stem, columns in starter._SAID.items():
        for row in starter._read(stem):
            yield from (row[name] for name in columns if row[name])


def test_every_text_has_its_german_and_none_is_left_over() -> None:
    german = {row["en"]: row["de"] for row in starter._read("de")}
    assert set(german) == set(_texts())
    assert all(german.values())
    words = {text for rows in starter_rows("de", DAY).values() for row in rows for text in row.values()}
    assert not {"Half soles", "sole cement", "tin of 1 l"} & words


def test_choices_and_lines_stay_apart_in_german() -> None:
    for language in ("en", "de"):
        seen = [(row["job"], row["line"]) for row in starter_rows(language, DAY)["recipes"]]
        assert len(seen) == len(set(seen))


@pytest.mark.parametrize(
    ("language", "country", "system"), [("de", "DE", "EU"), ("en", "GB", "UK"), ("en", "US", "US M")]
)
def test_it_fits_a_new_book_and_every_job_is_served(tmp_path: Path, language: str, country: str, system: str) -> None:
    now = datetime(2026, 1, 6, 12)
    fill = partial(enter_starter, now=now, language=language, country=country)
    book = new_book(str(tmp_path / "b.sqlite"), Shop(start=DAY, currency_digits=0), at=now, fill=fill)
    with book.reading() as session:
        known = book_snapshot(session, now)
    assert check(book).faults == ()
    box = RecipeBox(known.recipes, known.shelf)
    assert {size.system for m in known.materials if (size := m.size_from)} == {system}
    for job in known.jobs:
        kinds = said_weeks._kinds(job, box, known)
        assert kinds, job.code
        sizes = {str(ticket.size) for ticket, _ in kinds}
        assert len(sizes) > 5 if job.sized else sizes == {"None"}
    used = {line.material for versions in known.recipes.values() for recipe in versions for line in recipe.lines}
    for material in known.materials:
        assert material.code in used or material.group in used or material.purpose != "bench"
    assert {offer.material for offer in known.offers} == {m.code for m in known.materials}
    book.close()


def _recipe(job: str, line: str) -> dict[str, str]:
    return next(row for row in starter._read("recipes") if (row["job"], row["line"]) == (job, line))


@pytest.mark.parametrize(("job", "sole"), [("HALF", "half sole, leather"), ("FULL", "long sole")])
def test_cement_is_as_a_data_sheet_spreads_it(job: str, sole: str) -> None:
    """3M Neoprene High Performance Contact Adhesive 1357, technical data of February 2015: 308 sq ft a gallon and face.

    Both faces need a coat. A gallon is 3.785411784 l and a square foot 9.290304 dm2, by definition.
    """
    spread = Fraction("308") * Fraction("9.290304") / Fraction("3.785411784")  # dm2 a litre
    faces = 2 * Fraction(_recipe(job, sole)["amount"])
    millilitres = 1000 * faces / spread
    assert Fraction(_recipe(job, "sole cement")["amount"]) == pytest.approx(millilitres, rel=0.05)


def test_thread_is_as_a_lockstitch_takes_it() -> None:
    """Lockstitch 301: 2 + 2·T·S of thread a length of seam, T inches thick, S stitches an inch (textilecalculations.com).

    A sole seam of 6 mm with 5 stitches an inch, some 1.05 m a pair: the length is common practice, no source.
    """
    a_metre = 2 + 2 * Decimal(6) / Decimal("25.4") * 5
    assert float(_recipe("FULL", "sole stitching")["amount"]) == pytest.approx(
        float(a_metre) * Decimal("1.05").__float__(), rel=0.05
    )


def test_what_is_highly_flammable_is_marked_and_defers_to_the_data_sheet() -> None:
    """H225: highly flammable liquid and vapour (CLP, Annex I, table 2.6.2); H222 and H229 aerosols: from memory."""
    for row in starter._read("materials"):
        burns = any(mark in row["hazards"].split() for mark in ("H222", "H225"))
        assert (row["flammable"] == "yes") is burns
        assert not burns or "safety data sheet" in row["note"]


def test_a_sheet_of_contact_cement_weighs_what_the_data_sheet_says() -> None:
    """The same sheet: 6.6 to 7.0 lb a US gallon, 0.79 to 0.84 kg a litre."""
    row = next(row for row in starter._read("materials") if row["code"] == "CEMENT")
    assert row["bridge"] == "1 l = 840 g"
    assert 6.6 <= 0.840 * 3.785411784 / 0.45359237 <= 7.05
