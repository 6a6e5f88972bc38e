"""Two at the pages and one at the command line enter at the same time: nothing is lost, nothing is doubled."""

import re
import urllib.parse
import urllib.request
from concurrent.futures import ThreadPoolExecutor
from http.cookiejar import CookieJar

import pytest

from tests.conftest import KINDS
from tests.end_to_end.shop import Bench, Indoors
from tests.end_to_end.web.conftest import Served

EACH = 12
TWICE = 2  # every form is sent again, as a phone does that never heard the answer


class Visitor:
    """Somebody at the pages."""

    def __init__(self, base: str) -> None:
        self.base = base
        self.opened = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))
        found = re.search(r'name="token" content="([^"]+)"', self.opened.open(base + "/").read().decode())
        assert found is not None
        self.token = found[1]

    def finishes(self, key: str) -> int:
        """Finish a job at once, under a mark."""
        sent = urllib.parse.urlencode({"csrf": self.token, "key": key, "job": "HEEL-L"}).encode()
        return int(self.opened.open(self.base + "/tickets/finish-job", data=sent).status)


@pytest.mark.slow
@pytest.mark.parametrize("kind", KINDS)
def test_all_at_once(served: Served) -> None:
    desk = Indoors(served.place)
    before = float(desk.shelf("TOP-PIN")["on_hand"])
    one, other = Visitor(served.base), Visitor(served.base)
    shell = Bench(served.place)
    with ThreadPoolExecutor(9) as together:
        pages = [
            together.submit(who.finishes, f"{name} {n}")
            for n in range(EACH)
            for name, who in (("one", one), ("other", other))
            for _ in range(TWICE)
        ]
        typed = [together.submit(shell, "finish", "HEEL-L", "--once", f"shell {n // TWICE}") for n in range(2 * TWICE)]
        assert {each.result() for each in pages} == {200}
        assert {each.result().code for each in typed} == {0}
    drawn = before - float(desk.shelf("TOP-PIN")["on_hand"])
    assert drawn == 2 * EACH + 2
    numbers = [document["about"] for document in desk.facts("documents", "--count", "26")]
    assert len(set(numbers)) == 2 * EACH + 2
    desk.figure()
