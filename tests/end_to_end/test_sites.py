"""A second place of work: opened once, stocked by moving, looked at by itself."""

from datetime import datetime

import pytest

from stockroom.flows.outlook.by_site import InTurn, SiteTask, cluster, look_ahead_everywhere, processes
from tests.end_to_end.shop import Indoors

VIEWS = (("shelf",), ("run-outs",), ("jobs-possible",), ("reorder",), ("count-sheet",))


@pytest.mark.parametrize("words", [*VIEWS, ("sell", "polish", "1 piece"), ("take-in", "heel")])
def test_a_site_that_is_not_there_is_refused_with_those_that_are(desk: Indoors, words: tuple[str, ...]) -> None:
    desk.says("sites", "--add", "kiosk")
    refused = desk(*words, "--site", "kiosc")
    assert refused.code == 3, refused
    assert "There is no site 'kiosc'." in refused.err
    assert "Did you mean 'kiosk'?" in refused.err


def test_stock_moves_only_to_a_site_that_was_opened(desk: Indoors) -> None:
    assert desk("move", "polish", "2 piece", "kiosk").code == 3
    assert desk.facts("sites", "--add", "kiosk") == {"sites": ["main", "kiosk"]}
    desk.says("move", "polish", "2 piece", "kiosk")
    on_hand = {site: _on_hand(desk, "POLISH-BLK", site) for site in ("main", "kiosk")}
    assert on_hand == {"main": "6", "kiosk": "2"}
    assert _on_hand(desk, "POLISH-BLK", None) == "8"
    desk.says("sell", "polish", "1 piece", "--site", "kiosk")
    assert _on_hand(desk, "POLISH-BLK", "kiosk") == "1"
    assert desk("sell", "polish", "2 piece", "--site", "kiosk").code == 5, "though the other site has six"
    said = desk.says("sell", "polish", "2 piece", "--site", "kiosk", "--anyway")
    assert "-1 piece left" in said
    assert "below zero" in said, "though the other site has six"
    desk.says("undo")
    said = desk.says("move", "polish", "7 piece", "kiosk", "--anyway")
    assert "-1 piece left" in said
    assert "below zero" in said, "more than lies there was moved"
    desk.says("undo")
    assert desk("sites", "--add", "Kiosk").code == 2, "no two sites that differ by a capital"
    desk.figure()


def _on_hand(desk: Indoors, code: str, site: str | None) -> str:
    rows = desk.facts("shelf", *(("--site", site) if site else ()))["rows"]
    return str(next(row for row in rows if row["material"] == code)["on_hand"])


def test_each_site_looks_ahead_by_its_own_work(desk: Indoors) -> None:
    desk.says("sites", "--add", "kiosk")
    here, there = (desk.facts("run-outs", "--all", "--site", site)["rows"] for site in ("main", "kiosk"))
    assert {row["material"] for row in here} >= {"BEND", "TOP-PIN"}
    assert there == []


def test_sites_in_worker_processes_come_out_as_one_after_the_other(desk: Indoors) -> None:
    desk.says("sites", "--add", "kiosk")
    moment = datetime.fromisoformat(desk.now)
    asked = [SiteTask(place=str(desk.place), site=s, moment=moment, weeks=4, n_paths=50) for s in ("main", "kiosk")]
    in_turn = look_ahead_everywhere(asked, InTurn())
    assert [found.site for found in in_turn] == ["main", "kiosk"]
    with processes(2) as workers:
        assert look_ahead_everywhere(asked, workers) == in_turn


def test_every_site_is_looked_ahead_for_at_once(desk: Indoors) -> None:
    desk.says("sites", "--add", "kiosk")
    alone = desk.facts("run-outs", "--site", "main", "--weeks", "4")
    for hands in ("1", "2"):
        by_site = desk.facts("run-outs-by-site", "--weeks", "4", "--workers", hands)
        assert by_site == [{"site": "main"} | alone, {"site": "kiosk"} | alone | {"rows": []}]
    said = desk.says("run-outs-by-site", "--weeks", "4", "--workers", "1")
    assert said.index("main") < said.index("Sole bend") < said.index("kiosk") < said.index("no work to look ahead")


def test_a_cluster_that_is_not_there_is_said_plainly(desk: Indoors, monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("distributed")
    monkeypatch.setattr("stockroom.flows.outlook.by_site._PATIENCE", 0.3)
    refused = desk("run-outs-by-site", "--cluster", "tcp://127.0.0.1:1")
    assert (refused.code, "No cluster answers at tcp://127.0.0.1:1." in refused.err) == (6, True), refused.err


def test_sites_on_a_cluster_come_out_the_same(desk: Indoors) -> None:
    pytest.importorskip("distributed")
    asked = [SiteTask(place=str(desk.place), site="main", moment=datetime.fromisoformat(desk.now), weeks=4, n_paths=50)]
    with cluster(count=1) as workers:
        assert look_ahead_everywhere(asked, workers) == look_ahead_everywhere(asked, InTurn())


def test_a_count_sheet_of_the_kiosk_holds_what_lies_at_the_kiosk(desk: Indoors) -> None:
    """Fifteen minutes at the kiosk must not send its keeper looking for what lies in the workshop."""
    desk.says("sites", "--add", "kiosk")
    desk.says("move", "polish", "2 piece", "kiosk")
    assert [each["material"] for each in desk.facts("count-next", "--site", "kiosk")] == ["POLISH-BLK"]
    sheet = desk.says("count-sheet", "--site", "kiosk", "--next", "15")
    assert "POLISH-BLK" in sheet
    assert "BEND" not in sheet
    assert len(desk.facts("count-next", "--site", "main")) > 1
    assert "There is no site 'kiosc'." in desk("count-next", "--site", "kiosc").err
