"""Hands at the tablet: what an owner taps and types, and what is watched meanwhile."""

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.request import Request, urlopen

import pytest
from selenium.common.exceptions import (
    JavascriptException,
    TimeoutException,
    WebDriverException,
)
from selenium.webdriver.common.by import By
from selenium.webdriver.support.wait import WebDriverWait

TABLET, PHONE = (1280, 800), (390, 844)
PATIENCE = 30.0  # seconds, on a busy machine
_LOST = "ERR_INTERNET_DISCONNECTED"
_TOKEN = "/queue/token"  # noqa: S105 -- an address


class Hands:
    """A browser in somebody's hands."""

    def __init__(self, driver: Any, base: str, axe: str, size: tuple[int, int]) -> None:
        self.driver, self.base, self.axe = driver, base, axe
        width, height = size
        facts = {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": size == PHONE}
        driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", facts)
        driver.execute_cdp_cmd("Network.clearBrowserCookies", {})
        self.width, self.taps, self.typed = width, 0, 0
        self.saved = Path()  # where downloads go
        self.lost(lost=False)  # whatever an earlier test left
        self._forget()

    def _forget(self) -> None:
        self.driver.get_log("browser")
        self.driver.get_log("performance")

    def open(self, address: str) -> None:
        self.driver.get(self.base + address)

    def wait(self, ready: Callable[[Any], Any], what: str = "") -> Any:
        """Wait until something is so; pages come and go meanwhile."""
        waiting = WebDriverWait(self.driver, PATIENCE, 0.1, [WebDriverException])
        try:
            return waiting.until(ready)
        except TimeoutException:
            pytest.fail(f"{what} on {self.driver.current_url}: {self.text}")

    def find(self, selector: str) -> Any:
        return self.wait(lambda d: d.find_element(By.CSS_SELECTOR, selector), f"{selector} is not")

    def finds(self, selector: str) -> list[Any]:
        found: list[Any] = self.driver.find_elements(By.CSS_SELECTOR, selector)
        return found

    def tap(self, selector: str) -> None:
        """Tap something."""
        self.wait(lambda d: self._tapped(d.find_element(By.CSS_SELECTOR, selector)), f"{selector} can't be tapped")
        self.taps += 1

    def tap_words(self, words: str, kind: str = "button, a, summary") -> None:
        """Tap the first thing that says these words."""

        def tapped(_: Any) -> bool:
            found = [each for each in self.finds(kind) if words in each.text]
            return bool(found) and self._tapped(found[0])

        self.wait(tapped, f"'{words}' can't be tapped")
        self.taps += 1

    def _tapped(self, found: Any) -> bool:
        self.driver.execute_script("arguments[0].scrollIntoView({block: 'center'})", found)
        found.click()
        return True

    def type(self, selector: str, text: str) -> None:
        found = self.find(selector)
        found.clear()
        found.send_keys(text)
        self.typed += 1

    def says(self, words: str) -> None:
        """Wait until the page says something."""
        self.wait(lambda _: words in self.text, f"'{words}' is not")

    @property
    def text(self) -> str:
        found: str = self.driver.execute_script("return document.body ? document.body.innerText : ''")
        return found

    def settled(self) -> None:
        """Wait until nothing on the page is still being worked out."""
        WebDriverWait(self.driver, 2 * PATIENCE).until(lambda _: not self.finds("[data-wait]"))

    def lost(self, *, lost: bool) -> None:
        """Lose the connection, or find it again."""
        facts = {"offline": lost, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}
        self.driver.execute_cdp_cmd("Network.enable", {})
        self.driver.execute_cdp_cmd("Network.emulateNetworkConditions", facts)

    def kept(self) -> list[dict[str, str]]:
        """Read what the device keeps."""
        found: list[dict[str, str]] = json.loads(
            self.driver.execute_script(
                "return '[' + Object.entries(localStorage).filter(e => e[0].startsWith('stockroom-kept:')).map(e => e[1]).join() + ']'"
            )
        )
        return found

    def sent(self) -> None:
        """Wait until the device keeps nothing."""
        WebDriverWait(self.driver, PATIENCE).until(lambda _: not self.kept())

    def _looked_over(self, rules: list[str], tries: int = 3) -> Any:
        """Let axe look at the page; one that has loaded itself anew meanwhile is looked at again."""
        run = f"{self.axe}\n;const done = arguments[1]; axe.run(document, {{runOnly: arguments[0]}}).then(done)"
        try:
            return self.driver.execute_async_script(run, rules)
        except JavascriptException:
            if tries == 1:
                raise
            return self._looked_over(rules, tries - 1)

    def is_sound(self) -> None:
        """Check the page under the eyes: open to everybody, within the screen, targets and letters large enough."""
        found = self._looked_over(["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"])
        grave = [
            (v["id"], v["impact"], v["nodes"][0]["html"])
            for v in found["violations"]
            if v["impact"] in ("serious", "critical")
        ]
        assert grave == [], self.driver.current_url
        assert self.driver.execute_script("return document.documentElement.scrollWidth") <= self.width, (
            self.driver.current_url
        )
        assert self.driver.execute_script(_SMALL) == [], self.driver.current_url
        assert self.driver.execute_script(_FAINT) == [], self.driver.current_url

    def weight(self) -> int:
        """Give what the page under the eyes weighs on its way, in bytes, with all that belongs to it."""
        named = self.driver.execute_script(
            "return performance.getEntries().filter(e => e.decodedBodySize && e.initiatorType !== 'fetch').map(e => e.name)"
        )
        asked = [Request(each, headers={"Accept-Encoding": "gzip"}) for each in set(named)]  # noqa: S310 -- our own server
        return sum(len(urlopen(each).read()) for each in asked)  # noqa: S310 -- as above; a worker's answers say nothing of it

    def kept_quiet(self) -> None:
        """Check that no request left the machine and nothing went wrong on any page since last asked."""
        asked = []
        for line in self.driver.get_log("performance"):
            message = json.loads(line["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                asked.append(message["params"]["request"]["url"])
        ours = (self.base, "data:", "blob:", "chrome:", "about:")
        assert [url for url in asked if not url.startswith(ours)] == []
        assert asked
        wrong = [e for e in self.driver.get_log("browser") if e["level"] == "SEVERE" and _LOST not in e["message"]]
        assert wrong == []

    def pause(self, seconds: float) -> None:
        time.sleep(seconds)


# Targets that are seen and tapped, but smaller than 44 px; links within sentences may be.
_SMALL = """
return Array.from(document.querySelectorAll('button, a.button, a.tile, nav a, summary, select, input:not([type=hidden])'))
  .filter(e => e.checkVisibility() && !e.closest('.pick') && !['radio', 'checkbox'].includes(e.type))
  .filter(e => { const r = e.getBoundingClientRect(); return r.width && (r.height < 44 || r.width < 44); })
  .map(e => e.outerHTML.slice(0, 120));
"""

# Letters of charts that are shown smaller than 11 px.
_FAINT = """
return Array.from(document.querySelectorAll('svg text'))
  .filter(e => e.checkVisibility())
  .filter(e => parseFloat(getComputedStyle(e).fontSize) * e.getScreenCTM().d < 11)
  .map(e => e.outerHTML.slice(0, 120));
"""
