"""A browser's pages, and those that tests of one file use one after the other.

A page in a browser context of its own starts a process and compiles all scripts anew, the curves'
library above all: two thirds of the work of most tests. A kept page goes on in the same process,
and what a test can leave in it is taken away first. What cannot be taken away, a test has in a page
of its own: scripts and bindings for every page, listeners, service workers, frozen clocks.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Browser, BrowserContext, Error, Page

_USUAL_SIZE = {"width": 1280, "height": 720}
_EMPTY = "/nothing-here-yet/"
# By the DevTools protocol's names.
_STORES = "indexeddb,local_storage,cache_storage"
_LISTEN = """
document.addEventListener("securitypolicyviolation", (event) =>
  console.error("policy: " + event.violatedDirective + " " + event.blockedURI));
"""


class Complaints(list[str]):
    """What the browser objected to: broken policy, script errors, failed loads."""


@dataclass
class OpenPage:
    """A page that listens to its browser, in a context of its own."""

    context: BrowserContext
    page: Page
    options: Mapping[str, Any]
    complaints: Complaints = field(default_factory=Complaints)

    def is_emptied(self) -> bool:
        """Leave nothing of one test to the next; return whether that could be done."""
        try:
            self._empty()
        except Error:  # closed by the test
            return False
        return True

    def _empty(self) -> None:
        for other in self.context.pages:
            if other is not self.page:
                other.close()
        self.context.set_offline(False)
        self.context.unroute_all(behavior="ignoreErrors")
        self.page.unroute_all(behavior="ignoreErrors")
        address = self.options["base_url"]
        # An address of the same server, so that the browser goes on in the same process.
        self.page.route(f"**{_EMPTY}", lambda route: route.fulfill(content_type="text/html"))
        self.page.goto(f"{address}{_EMPTY}")
        self.page.unroute_all()
        self.page.mouse.move(0, 0)
        self.page.evaluate("sessionStorage.clear()")
        self.context.clear_cookies()
        self.page.set_viewport_size(self.options.get("viewport", _USUAL_SIZE))
        scheme = self.options.get("color_scheme", "light")
        self.page.emulate_media(media="null", color_scheme=scheme)
        session = self.context.new_cdp_session(self.page)
        session.send("Storage.clearDataForOrigin", {"origin": address, "storageTypes": _STORES})
        session.send("Page.resetNavigationHistory")
        session.detach()
        self.complaints = Complaints()


def open_new(browser: Browser, options: Mapping[str, Any]) -> OpenPage:
    """Open a page in a context of its own."""
    context = browser.new_context(**options)
    context.add_init_script(_LISTEN)
    context.set_default_timeout(15_000)
    page = context.new_page()
    opened = OpenPage(context, page, options)
    page.on(
        "console",
        lambda said: opened.complaints.append(said.text) if said.type == "error" else None,
    )
    page.on("pageerror", lambda error: opened.complaints.append(str(error)))
    return opened


class KeptPages:
    """The pages of one file that nobody uses now, by the options they were opened with."""

    def __init__(self) -> None:
        self._free: list[OpenPage] = []

    def take(self, browser: Browser, options: Mapping[str, Any]) -> OpenPage:
        """Return a page as if nobody had used it."""
        for free in self._free:
            if json.dumps(free.options, sort_keys=True) == json.dumps(options, sort_keys=True):
                self._free.remove(free)
                return free
        return open_new(browser, options)

    def give_back(self, opened: OpenPage) -> None:
        """Keep a page for the next test."""
        if opened.is_emptied():
            self._free.append(opened)
        else:
            opened.context.close()

    def close(self) -> None:
        for free in self._free:
            free.context.close()
