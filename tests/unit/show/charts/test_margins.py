"""Pictures of money say the same in words, and open."""

import re
from datetime import date
from decimal import Decimal
from io import BytesIO

import pytest
from defusedxml import ElementTree
from matplotlib.figure import Figure
from matplotlib.image import imread
from matplotlib.text import Text

from stockroom.margins.changes import ChangePart, MarginChange
from stockroom.margins.income import JobLine, grouped
from stockroom.margins.prices import PriceLine
from stockroom.margins.sole_layout import Plate, lay_out
from stockroom.show.charts import margins
from stockroom.show.charts.margins import (
    layout_chart,
    layout_words,
    margin_chart,
    margin_words,
    price_chart,
    price_words,
    waterfall_chart,
    waterfall_words,
)
from stockroom.show.formats import Formats
from tests.unit.margins.book import MATERIALS

IRISH = Formats()
DAY = date(2026, 1, 1)


def opens(content: bytes) -> bool:
    return bool(imread(BytesIO(content), format="png").shape[0] > 300)


def line(job: str, net: int, cost: int) -> JobLine:
    return JobLine(
        ticket=job, job=job, day=DAY, count=1, redo=False, size="", chosen="", net=net, tax=0,
        uses={"X": (1, cost * 1000)},
    )  # fmt: skip


GROUPS = grouped([line("Half $oles", 2000, 900), line("Patch", 500, 700)], "job", floor=Decimal(60))
STEPS = (
    ChangePart(name="number of jobs", effect=2_000_000, by_job={}),
    ChangePart(name="price paid for materials", effect=-3_000_000, by_job={}),
)


PRICES = [
    PriceLine(material=MATERIALS["BEND"], points=((DAY, 62_500), (date(2026, 6, 1), 70_000))),
    PriceLine(material=MATERIALS["GLUE"], points=((DAY, 0),)),
]


def test_margins_name_the_best_and_the_most_lost() -> None:
    assert margin_words(GROUPS, IRISH) == (
        "Half $oles left most: €11.00 from 1 job. Materials cost most beyond the minimum margin in Patch: €5.00."
    )
    assert margin_words([], IRISH) == "No paid job was finished in the period."
    assert opens(margin_chart(GROUPS, IRISH))


@pytest.mark.parametrize("before", [100_000_000, 500_000, -4_000_000])
def test_waterfall_goes_from_before_to_after(before: int) -> None:
    found = MarginChange(before=before, after=before - 1_000_000, parts=STEPS)
    assert waterfall_words(found, IRISH).endswith("Most of it: price paid for materials, -€30.00.")
    assert opens(waterfall_chart(found, IRISH))


def test_a_drawing_in_lines_carries_its_description_and_is_the_same_twice() -> None:
    found = MarginChange(before=100_000_000, after=99_000_000, parts=STEPS)
    drawn = waterfall_chart(found, IRISH, "svg")
    title = next(ElementTree.fromstring(drawn).iter("{http://purl.org/dc/elements/1.1/}title"))
    assert title.text == waterfall_words(found, IRISH)
    assert drawn == waterfall_chart(found, IRISH, "svg")


def test_waterfall_without_a_step_says_so() -> None:
    still = MarginChange(before=0, after=0, parts=(ChangePart(name="number of jobs", effect=0, by_job={}),))
    assert waterfall_words(still, IRISH) == "From €0.00 to €0.00."
    assert opens(waterfall_chart(still, IRISH))


def test_prices_tell_first_and_last() -> None:
    assert price_words(PRICES, IRISH) == "Leather bend: €0.6250 to €0.7000 a dm2."
    assert price_words(PRICES[1:], IRISH) == "No key material was delivered twice yet."
    assert opens(price_chart(PRICES, IRISH))


def test_layout_tells_pairs_and_what_becomes_soles() -> None:
    layout = lay_out([("EU 42", 280)], Plate(width=600, length=1000))
    assert layout_words(layout, IRISH) == "A sheet of 1000 by 600 mm gives 10 pairs; 61% of it becomes soles."
    assert opens(layout_chart(layout, IRISH))


def test_a_german_workbook_draws_in_german(monkeypatch: pytest.MonkeyPatch) -> None:
    """All that its three charts write, but for the shop's own names."""
    german, written = Formats(locale="de_DE"), list[str]()

    def read(figure: Figure, words: str, kind: str = "png") -> bytes:
        written.extend(each.get_text() for each in figure.findobj(Text))
        return (words + kind).encode()

    monkeypatch.setattr(margins, "picture", read)
    moved = MarginChange(before=10_000_000, after=9_000_000, parts=STEPS)
    described = [
        margin_chart(GROUPS, german, say=german.say),
        waterfall_chart(moved, german, say=german.say),
        price_chart(PRICES, german, say=german.say),
    ]
    said = " ".join([*written, *(each.decode() for each in described)])
    assert {"Deckungsbeitrag", "Materialpreis"} & set(re.findall(r"\w+", said))
    assert re.findall(r"\b(left|most|from|jobs?|materials|cost|the|of|price|margin|period)\b", said.lower()) == []
