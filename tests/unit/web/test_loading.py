"""Files on the pages: looked through beside them, entered when the owner says so, whatever their names."""

from io import BytesIO

import pytest

from stockroom.web.background import Beside
from stockroom.web.site import Site
from tests.unit.web.conftest import Visitor
from tests.unit.web.test_tickets import there


@pytest.fixture
def worker() -> Beside:
    return Beside(threaded=False)


@pytest.mark.parametrize("name", ["../../../evil.csv", "/etc/cron.d/evil.csv", "..\\evil.csv", "evil.py", ".csv", ""])
def test_a_files_name_leads_nowhere(owner: Visitor, site: Site, name: str) -> None:
    owner.get("/load")
    owner.post("/load", files=(BytesIO(b"code,name\n"), name))
    task = site.beside.task("load")
    assert task is None or task.state == "failed"


def test_files_are_looked_through_then_entered(owner: Visitor, site: Site) -> None:
    text = b"code,name,family,unit\nNEW-1,A new thing,other,piece\n"
    owner.get("/load")
    page = owner.does("/load", files=(BytesIO(text), "materials.csv"))
    assert "Checked: nothing is entered yet" in page, page
    with pytest.raises(StopIteration):
        there(site, "NEW-1")
    assert "Entered" in owner.does("/load/enter")
    assert there(site, "NEW-1") == 0
    assert owner.post("/load/enter").status_code == 400


def test_every_fault_of_a_file_is_listed(owner: Visitor) -> None:
    owner.get("/load")
    page = owner.does("/load", files=(BytesIO(b"code,name,family,unit\n,,,\nX,Y,other,furlong\n"), "materials.csv"))
    assert "nothing was loaded" in page
    assert "furlong" in page
