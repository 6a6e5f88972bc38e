"""The door: forged forms, strange names, wrong roles, guessing, and what is too large are refused and noted."""

import logging
import re
from datetime import timedelta
from io import BytesIO

import pytest
from flask import Flask

from stockroom.flows.bench.tickets import booked
from stockroom.flows.book.opening import STAY, end_session
from stockroom.store import catalogue
from stockroom.web import access
from stockroom.web.guard import FORM_BYTES
from stockroom.web.site import Site
from stockroom.web.throttle import FREE
from tests.unit.web.conftest import CODES, NOON, Visitor, refused, visitor

TAKE_IN = {"job": "HEELS"}


def test_every_address_says_who_it_is_for(app: Flask) -> None:
    silent = [name for name, view in app.view_functions.items() if name != "static" and not access.allowed(view)]
    assert silent == []


def test_only_signing_in_and_the_scripts_needs_are_open_to_strangers(app: Flask) -> None:
    opened = {name for name, view in app.view_functions.items() if "" in access.allowed(view)}
    assert opened == {
        "door.sign_in",
        "door.let_in",
        "door.sign_out",
        "door.choose_language",
        "queue.token",
        "queue.worker",
    }


def test_a_form_without_its_token_changes_nothing(owner: Visitor, site: Site) -> None:
    assert owner.client.post("/tickets/take-in", data={**TAKE_IN, "key": "k"}).status_code == 403
    assert booked(site.book) == []
    assert refused(site) == ["forged or outdated form"]


def test_a_forged_token_changes_nothing(owner: Visitor, site: Site) -> None:
    owner.get("/")
    assert owner.post("/tickets/take-in", csrf="x" * 32, **TAKE_IN).status_code == 403
    assert booked(site.book) == []
    assert refused(site) == ["forged or outdated form"]


def test_another_sessions_token_is_forged(app: Flask, site: Site) -> None:
    one, other = visitor(app), visitor(app)
    one.get("/")
    other.get("/")
    assert other.post("/tickets/take-in", csrf=one.token, **TAKE_IN).status_code == 403


@pytest.mark.parametrize("headers", [{"Origin": "http://elsewhere.example"}, {"Sec-Fetch-Site": "cross-site"}])
def test_a_form_sent_from_another_site_is_refused(owner: Visitor, site: Site, headers: dict[str, str]) -> None:
    owner.get("/")
    assert owner.post("/tickets/take-in", headers=headers, **TAKE_IN).status_code == 403
    assert booked(site.book) == []
    assert refused(site)[0].startswith("form from another")


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "127.0.0.1.elsewhere.example:8420", "localhost@elsewhere.example"]
)
def test_a_strange_host_name_is_refused(owner: Visitor, site: Site, host: str) -> None:
    assert owner.client.get("/", headers={"Host": host}).status_code == 400
    assert refused(site) == ["strange host name"]


@pytest.mark.parametrize("host", ["localhost", "127.0.0.1:8420", "[::1]:8420", "LOCALHOST"])
def test_its_own_names_are_answered(owner: Visitor, host: str) -> None:
    assert owner.client.get("/sign-in", headers={"Host": host}).status_code == 200


def test_a_stranger_is_led_to_the_door(guarded: Flask, site: Site) -> None:
    answer = visitor(guarded).get("/shelf?q=lace")
    assert answer.status_code == 302
    assert answer.headers["Location"] == "/sign-in?then=/shelf?q%3Dlace"


def test_a_strangers_form_is_refused(guarded: Flask, site: Site) -> None:
    assert visitor(guarded).post("/tickets/take-in", **TAKE_IN).status_code == 403
    assert booked(site.book) == []
    assert refused(site) == ["not signed in"]


@pytest.mark.parametrize(
    ("role", "address"),
    [
        ("bench", "/settings"),
        ("bench", "/orders/desk"),
        ("bench", "/usage"),
        ("bench", "/load"),
        ("accountant", "/tickets"),
        ("accountant", "/counter"),
        ("accountant", "/count"),
        ("accountant", "/settings"),
    ],
)
def test_a_role_stays_out_of_rooms_that_are_not_its_own(guarded: Flask, site: Site, role: str, address: str) -> None:
    assert visitor(guarded, role).get(address).status_code == 403
    assert refused(site)[0] == f"not for the role {role}"


@pytest.mark.parametrize(
    ("role", "address"),
    [
        ("accountant", "/tickets/finish"),
        ("accountant", "/documents/undo"),
        ("accountant", "/orders/receive"),
        ("bench", "/orders/place"),
        ("bench", "/count/settle"),
        ("bench", "/settings"),
        ("bench", "/settings/passcode"),
        ("bench", "/load"),
    ],
)
def test_a_role_enters_nothing_beyond_its_own(guarded: Flask, site: Site, role: str, address: str) -> None:
    assert visitor(guarded, role).post(address, number="1").status_code == 403
    assert refused(site)[0] == f"not for the role {role}"


def test_the_menu_shows_each_role_its_own_rooms(guarded: Flask) -> None:
    def rooms(role: str) -> set[str]:
        menu = re.search(r"<nav.*?</nav>", visitor(guarded, role).reads("/"), re.DOTALL)
        assert menu is not None
        return set(re.findall(r">([^<]+)</a>", menu[0]))

    assert "Settings" in rooms("owner")
    assert {"Tickets", "Count"} <= rooms("bench")
    assert not {"Settings", "Counts taught"} & rooms("bench")
    assert not {"Tickets", "Count", "Settings"} & rooms("accountant")


def test_guessing_is_slowed_down_and_noted(guarded: Flask, site: Site) -> None:
    guesser = visitor(guarded)
    answers = [guesser.post("/sign-in", passcode=f"guess {n}").status_code for n in range(FREE + 2)]
    assert answers == [303] * FREE + [429] * 2
    assert guesser.post("/sign-in", passcode=CODES["owner"]).status_code == 429
    assert refused(site)[-FREE:] == ["wrong passcode"] * FREE
    assert refused(site)[0] == "too many wrong passcodes"


def test_whoever_knows_the_benchs_passcode_guesses_the_owners_no_faster(guarded: Flask, site: Site) -> None:
    guesser = visitor(guarded)
    for n in range(2 * (FREE - 1)):
        guesser.post("/sign-in", passcode=f"guess {n}")
        if n % (FREE - 1) == FREE - 2:
            guesser.signs_in("bench")
    assert site.throttle.wait("127.0.0.1", "owner") > 0
    assert guesser.post("/sign-in", passcode=CODES["owner"]).headers["Location"].startswith("/sign-in"), (
        "not even right"
    )
    assert guesser.post("/sign-in", passcode=CODES["bench"]).headers["Location"] == "/"


def test_a_session_signed_out_of_is_over_wherever_its_cookie_was_copied_to(guarded: Flask, site: Site) -> None:
    bench = visitor(guarded, "bench")
    copied = bench.client.get_cookie("stockroom")
    assert copied is not None
    other = visitor(guarded, "bench")
    assert bench.post("/sign-out").status_code == 303
    thief = visitor(guarded)
    thief.client.set_cookie("stockroom", copied.value)
    assert thief.get("/tickets").status_code == 302
    assert other.get("/tickets").status_code == 200, "another session of the role goes on"
    with site.book.reading() as session:
        kept = catalogue.read_notes(session, "signed out:")
    assert len(kept) == 1
    end_session(site.book, "another", NOON + STAY + timedelta(minutes=1))
    with site.book.reading() as session:
        assert len(catalogue.read_notes(session, "signed out:")) == 1, "what no cookie can show again is let go"


def test_what_was_typed_is_never_noted(guarded: Flask, caplog: pytest.LogCaptureFixture) -> None:
    with caplog.at_level(logging.INFO):
        visitor(guarded).post("/sign-in", passcode="hunter of secrets")
    assert "wrong passcode" in caplog.text
    assert "hunter" not in caplog.text


def test_a_line_of_the_log_can_not_be_forged(guarded: Flask, site: Site) -> None:
    visitor(guarded, "bench").get("/settings%0a2026-01-06 owner signed in")
    visitor(guarded, "bench").client.post("/settings/%0aforged", data={})
    assert all("\n" not in str(line) for line in site.log.newest())


def test_a_changed_passcode_ends_the_sessions_opened_with_the_old_one(guarded: Flask, site: Site) -> None:
    bench, owner = visitor(guarded, "bench"), visitor(guarded, "owner")
    assert bench.get("/tickets").status_code == 200
    owner.get("/settings")
    assert owner.post("/settings/passcode", role="bench", passcode="another passcode").status_code == 303
    assert bench.get("/tickets").status_code == 302
    assert owner.get("/settings").status_code == 200


def test_signing_out_ends_the_session(guarded: Flask) -> None:
    bench = visitor(guarded, "bench")
    bench.get("/")
    assert bench.post("/sign-out").status_code == 303
    assert bench.get("/tickets").status_code == 302


@pytest.mark.parametrize(
    "then", ["//elsewhere.example/", "https://elsewhere.example", "/\\elsewhere.example", "javascript:alert(1)"]
)
def test_signing_in_leads_nowhere_else(guarded: Flask, then: str) -> None:
    stranger = visitor(guarded)
    answer = stranger.post("/sign-in", passcode=CODES["bench"], then=then)
    assert answer.headers["Location"] == "/"


def test_a_form_too_large_is_refused_and_noted(owner: Visitor, site: Site) -> None:
    owner.get("/")
    assert owner.post("/tickets/take-in", note="x" * FORM_BYTES, **TAKE_IN).status_code == 413
    assert refused(site) == ["too much sent"]


def test_a_file_too_large_is_refused_and_noted(owner: Visitor, site: Site, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("stockroom.web.guard.FILE_BYTES", 1000)
    owner.get("/load")
    assert owner.post("/load", files=(BytesIO(b"x" * 2000), "materials.csv")).status_code == 413
    assert refused(site) == ["too much sent"]


@pytest.mark.parametrize(
    "path",
    [
        "/static/../app.py",
        "/static/%2e%2e/app.py",
        "/static/..%2fapp.py",
        "/static//etc/passwd",
        "/%2e%2e/%2e%2e/etc/passwd",
    ],
)
def test_path_tricks_find_nothing(owner: Visitor, path: str) -> None:
    assert owner.get(path).status_code in (400, 404)


def test_answers_carry_their_armour(owner: Visitor) -> None:
    headers = owner.get("/").headers
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    assert headers["Cache-Control"] == "no-store"


def test_the_sessions_cookie_is_out_of_scripts_reach(owner: Visitor) -> None:
    said = owner.get("/").headers["Set-Cookie"]
    assert "HttpOnly" in said
    assert "SameSite=Strict" in said


def test_a_tampered_cookie_is_nobody(guarded: Flask) -> None:
    bench = visitor(guarded, "bench")
    kept = bench.client.get_cookie("stockroom")
    assert kept is not None
    bench.client.set_cookie("stockroom", kept.value[:-3] + "abc")
    assert bench.get("/tickets").status_code == 302


def test_no_page_carries_script_or_style_of_its_own(owner: Visitor) -> None:
    for address in (
        "/",
        "/tickets",
        "/shelf",
        "/count",
        "/settings",
        "/orders/desk",
        "/shelf/material?code=BEND",
        "/labels",
    ):
        page = owner.reads(address)
        assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son\w+=", page), address


def test_the_wait_grows_and_ends(site: Site) -> None:
    from stockroom.web.throttle import FIRST_WAIT, LONGEST_WAIT, Throttle

    at = [0.0]
    throttle = Throttle(clock=lambda: at[0])
    for _ in range(FREE):
        throttle.failed("a", ["owner"])
    assert throttle.wait("a", "owner") == FIRST_WAIT
    assert throttle.wait("b", "owner") == throttle.wait("a", "bench") == 0
    throttle.failed("a", ["owner"])
    assert throttle.wait("a", "owner") == 2 * FIRST_WAIT
    for _ in range(30):
        throttle.failed("a", ["owner"])
    assert throttle.wait("a", "owner") == LONGEST_WAIT
    at[0] += LONGEST_WAIT
    assert throttle.wait("a", "owner") == 0


def test_guessing_from_everywhere_slows_everybody(site: Site) -> None:
    from stockroom.web.throttle import ALL_FREE, Throttle

    throttle = Throttle(clock=lambda: 0.0)
    for n in range(ALL_FREE):
        throttle.failed(f"address {n}", ["owner", "bench"])
    assert throttle.wait("new", "owner") > 0
    throttle.passed("new", "bench")
    assert throttle.wait("other", "bench") == 0
    assert throttle.wait("other", "owner") > 0


@pytest.mark.parametrize(
    ("old", "new"), [("/lessons", "/usage"), ("/cautions", "/hazards"), ("/rehearsal", "/back-test")]
)
def test_an_address_of_old_leads_to_the_page(owner: Visitor, old: str, new: str) -> None:
    answer = owner.get(old)
    assert (answer.status_code, answer.headers["Location"]) == (301, new)
    owner.reads(new)
