"""Forecast accuracy at the pages: started by hand, shown in words, figures and a picture."""

from datetime import date

import pytest

from stockroom.demand.accuracy import MissCause, Trueness
from stockroom.flows.outlook import came_true
from stockroom.flows.outlook.came_true import ForecastReport, LookedBack, NamedTrueness, RunOutsCame, Worst
from stockroom.stock.lists import RunOutRow
from stockroom.web.background import Beside
from tests import build
from tests.unit.web.conftest import Visitor

FIGURES = Trueness(
    forecasts=26,
    bias=0.04,
    error=0.3,
    coverage=(0.5, 0.8, 0.88, 0.95, 1.0),
    loss=0.1,
    average=0.2,
    moving=0.4,
    doubt=0.01,
)
GLUE = build.material("GLUE")
OFF = LookedBack(
    on=date(2025, 10, 14),
    material=GLUE,
    mean=3.0,
    quantiles=(),
    average=(),
    moving=(),
    came=9.0,
    said=RunOutRow(
        material="GLUE", name="Glue", unit=GLUE.unit, free=0, weekly_use=1.0,
        runs_out=date(2025, 12, 16), earliest=date(2025, 12, 2),
    ),
    ran_out=date(2025, 11, 4),
    weeks_known=True,
    spoils=False,
)  # fmt: skip
REPORT = ForecastReport(
    as_of=date(2026, 1, 6),
    days=(date(2025, 10, 14), date(2025, 11, 11)),
    rows=(),
    whole=FIGURES,
    by_day=(FIGURES, FIGURES),
    families=(NamedTrueness(name="glue", code="glue", figures=FIGURES),),
    materials=(NamedTrueness(name="Glue", code="GLUE", figures=FIGURES),),
    worst=(Worst(material=build.material("GLUE"), figures=FIGURES, cause=MissCause(kind="lumps", share=0.4)),),
    run_outs=RunOutsCame(said=4, came=3, happened=5, missed=1, ranged=6, within=5, days_off=9, farthest=(OFF,)),
    by_average=("HEELS",),
)


@pytest.fixture
def worker() -> Beside:
    return Beside(threaded=False)


@pytest.fixture(autouse=True)
def looked(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    made: list[int] = []

    def report(*_: object, **__: object) -> ForecastReport:
        made.append(1)
        return REPORT

    monkeypatch.setattr(came_true, "forecast_report", report)
    return made


def test_opening_the_page_starts_nothing(owner: Visitor, looked: list[int]) -> None:
    assert "Forecast accuracy" in owner.reads("/forecast-report")
    assert looked == []
    assert owner.get("/forecast-report/state").json == {"running": False}


def test_it_is_shown_in_words_figures_and_a_picture(owner: Visitor) -> None:
    page = owner.does("/forecast-report").replace("&#39;", "'")
    assert "Looked back at 2 past days, 8 weeks ahead of each" in page
    assert "On average it said 4% more than came." in page
    assert "Its misses were 50% smaller than those of a year's average, 75% than of a two-month one." in page
    assert "Jobs it has served better are now forecast by the plain average: HEELS." in page
    assert "Comes in few large uses: one week held 40% of a year's" in page
    assert 'data-value="0.88">88%' in page
    assert "Half of the dates said were at most 9 days off, and 5 of 6 fell within their range" in page
    assert "<td>16 Dec 2025</td><td>2 Dec 2025 to later</td><td>4 Nov 2025</td>" in page
    assert page.count('<polyline class="way way-0"') == 2


def test_it_is_told_in_german(owner: Visitor) -> None:
    owner.does("/forecast-report")
    owner.does("/language", language="de", then="/")
    page = owner.reads("/forecast-report")
    assert "Im Durchschnitt wurde 4 % mehr vorausgesagt, als kam." in page.replace("\xa0", " ")
    assert 'aria-label="Abweichung, Durchschnitt = 100"' in page
