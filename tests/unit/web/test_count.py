"""Counting on the pages: by place, with aids, doubts asked about, differences settled."""

import re

from flask import Flask

from stockroom.web.site import Site
from tests.unit.web.conftest import Visitor, visitor
from tests.unit.web.test_tickets import there

SHEET = "2026-01-06 B1"


def counted(text: str, **more: str) -> dict[str, str]:
    return {"material": "FILLER", "aid": "plain", "sheet": SHEET, "place": "B1", "answer:amount": text} | more


def test_places_are_walked_in_order(owner: Visitor) -> None:
    page = owner.reads("/count")
    assert re.findall(r"/count/place\?place=(\w+)", page)[:4] == ["A1", "A2", "A3", "B1"]


def test_the_books_figure_is_hidden_while_counting(owner: Visitor) -> None:
    page = owner.reads("/count/place?place=B1")
    assert "Cork filler" in page
    assert "2.4" not in page


def test_a_bin_is_counted_compared_and_settled(owner: Visitor, site: Site) -> None:
    owner.does("/count/bin", **counted("2.35"))
    page = owner.reads(f"/count/sheet?sheet={SHEET}")
    assert "counted" in page
    assert "2.35" in page
    done = owner.does("/count/settle", sheet=SHEET, accept="FILLER", **{"reason:FILLER": "spoilt"})
    assert "the count is posted" in done
    assert there(site, "FILLER") == 2350 * 10**9


def test_what_is_too_far_off_is_held_back_until_it_is_sure(owner: Visitor, site: Site) -> None:
    owner.does("/count/bin", **counted("1.2"))
    owner.get("/count")
    assert owner.post("/count/settle", sheet=SHEET).status_code == 400
    assert there(site, "FILLER") == 2400 * 10**9


def test_an_unlikely_amount_is_asked_about_first(owner: Visitor, site: Site) -> None:
    owner.get("/count")
    doubt = owner.post("/count/bin", **counted("2400"))
    assert doubt.status_code == 409
    assert "Is the unit right?" in doubt.text
    assert "is counted" in owner.does("/count/bin", **counted("2400", sure="yes"))


def test_a_tin_is_weighed(owner: Visitor) -> None:
    page = owner.reads("/count/place?place=steel+cupboard")
    assert 'name="aid" value="tin-weight"' in page
    assert 'name="answer:gross"' in page
    owner.does(
        "/count/bin", material="CEMENT", aid="tin-weight", sheet="s", place="steel cupboard", **{"answer:gross": "3320"}
    )
    assert "3.5" in owner.reads("/count/sheet?sheet=s")  # (3320 g - 310 g) at 860 g a litre


def test_what_is_counted_each_time_is_asked_and_what_is_known_is_put_aside(owner: Visitor) -> None:
    page = owner.reads("/count/place?place=A3")
    asked, _, known = page.partition("<details>")
    assert 'name="answer:pairs" required' in asked
    assert 'name="answer:odd" placeholder="0"' in asked
    assert "answer:" not in known.partition("</main>")[0]
    tin = owner.reads("/count/bin?code=CEMENT&aid=tin-weight")
    assert 'name="answer:tare"' in tin.partition("<details>")[2]  # stated once on the material


def test_any_bin_can_be_measured_another_way(owner: Visitor) -> None:
    page = owner.reads("/count/bin?code=BEND&aid=rectangles")
    assert 'name="answer:pieces"' in page
    owner.does(
        "/count/bin",
        material="BEND",
        aid="rectangles",
        sheet="s",
        place="rack",
        **{"answer:pieces": "100 x 90, 100 x 90"},
    )
    assert "180" in owner.reads("/count/sheet?sheet=s")


def test_a_bin_entered_wrongly_is_left_out(owner: Visitor, site: Site) -> None:
    owner.does("/count/bin", **counted("2.35"))
    owner.does("/count/drop", sheet=SHEET, material="FILLER")
    assert SHEET not in owner.reads("/count").split("Where to count")[0]


def test_the_bench_counts_and_the_owner_settles(guarded: Flask) -> None:
    bench = visitor(guarded, "bench")
    bench.does("/count/bin", **counted("2.35"))
    assert "The owner posts it." in bench.reads(f"/count/sheet?sheet={SHEET}")


def test_a_count_kept_on_a_phone_and_sent_twice_counts_once(owner: Visitor) -> None:
    for _ in range(2):
        answer = owner.post(
            "/count/bin", headers={"X-Stockroom-Queue": "later"}, happened="2026-01-06T09:15:00", **counted("2.35")
        )
        assert answer.status_code == 200
        assert answer.get_json()["said"] == ["FILLER is counted."]
    assert owner.reads(f"/count/sheet?sheet={SHEET}").count("Cork filler") <= 5
    assert "1 item" in owner.reads("/count")


def test_a_conflict_is_said_in_a_line(owner: Visitor) -> None:
    owner.get("/count")
    later = {"X-Stockroom-Queue": "later"}
    owner.post("/count/bin", headers=later, happened="2026-01-06T09:15:00", **counted("2.35"))
    answer = owner.post("/count/bin", headers=later, happened="2026-01-06T09:15:00", **counted("2.1"))
    assert answer.status_code == 400
    assert "<" not in answer.text
    assert "is on count sheet" in answer.text


def test_a_page_learns_the_token_and_the_shops_time(owner: Visitor, guarded: Flask) -> None:
    said = visitor(guarded, "bench").get("/queue/token").get_json()
    assert said["signed_in"]
    assert said["now"] == "2026-01-06T12:00:00"
    assert visitor(guarded).get("/queue/token").get_json() == {"signed_in": False}


def test_a_finish_sent_late_by_a_phone_draws_once(owner: Visitor, site: Site) -> None:
    owner.does("/tickets/take-in", job="HEELS")
    before = there(site, "TIP")
    for _ in range(2):
        sent = {"number": "1001", "key": "phone 1", "happened": "2026-01-06T09:15:00"}
        answer = owner.post("/tickets/finish", headers={"X-Stockroom-Queue": "later"}, **sent)
        assert answer.get_json()["to"] == "/tickets"
    assert before - there(site, "TIP") == 2 * 10**9
