from flask import Flask

from stockroom.flows.book.audit_log import newest
from stockroom.web.audit_log import DEEDS, LOOKING
from stockroom.web.site import Site
from tests.unit.web.conftest import Visitor


def journal(site: Site) -> list[str]:
    return [str(line) for line in newest(site.book, 100)]


def test_entries_on_the_pages_are_noted_without_what_was_typed(owner: Visitor, site: Site) -> None:
    owner.does("/counter/sell", material="POLISH", amount="1", price="5")
    owner.post("/counter/sell", material="NOT-ANYWHERE", amount="1", note="Nobody Atall")
    lines = [line for line in journal(site) if "Counter sale" in line]
    assert len(lines) == 2
    assert lines[0].endswith("pages, owner, 127.0.0.1, Counter sale, done")
    assert lines[1].endswith("pages, owner, 127.0.0.1, Counter sale, refused")
    assert not any(typed in line for line in journal(site) for typed in ("POLISH", "Atall", "NOT-ANYWHERE"))


def test_looking_at_pages_is_not_noted(owner: Visitor, site: Site) -> None:
    owner.reads("/shelf")
    assert journal(site) == []


def test_the_owner_reads_the_newest_lines_on_the_page_of_settings(owner: Visitor) -> None:
    assert "No entries yet." in owner.reads("/settings")
    owner.does("/counter/sell", material="POLISH", amount="1", price="5")
    said = owner.reads("/settings")
    assert "Counter sale, done" in said
    assert "pages, owner, 127.0.0.1" in said


def test_whatever_is_entered_has_a_name_in_the_journal(app: Flask) -> None:
    entered = {rule.endpoint for rule in app.url_map.iter_rules() if "POST" in (rule.methods or ())}
    assert entered - LOOKING == set(DEEDS)
