"""A page that goes on to the next test."""

import pytest
from playwright.sync_api import Browser

from tests.kept_pages import KeptPages

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]

LEAVE = """async () => {
  localStorage.left = sessionStorage.left = document.cookie = "left=here";
  await new Promise((done) => { indexedDB.open("left").onsuccess = done; });
  console.error("left");
}"""
FOUND = """async () => [localStorage.length, sessionStorage.length, document.cookie,
  (await indexedDB.databases()).length, innerWidth, matchMedia("print").matches,
  matchMedia("(prefers-color-scheme: dark)").matches]"""


def test_a_kept_page_takes_nothing_along(chromium: Browser, live_server) -> None:
    kept = KeptPages()
    options = {"base_url": live_server.url, "service_workers": "block"}
    used = kept.take(chromium, options)
    page = used.page
    usual = [0, 0, "", 0, 1280, False, False]
    page.goto("/healthz")
    assert page.evaluate(FOUND) == usual
    page.set_viewport_size({"width": 390, "height": 844})
    page.emulate_media(media="print", color_scheme="dark")
    page.evaluate(LEAVE)
    assert page.evaluate(FOUND) == [1, 1, "left=here", 1, 390, True, True]
    assert used.complaints == ["left"]
    page.context.new_page()
    page.route("**/*", lambda route: route.abort())
    page.context.set_offline(True)
    kept.give_back(used)

    again = kept.take(chromium, options)
    assert again.page is page
    assert again.complaints == []
    assert page.context.pages == [page]
    page.goto("/healthz")
    assert page.evaluate(FOUND) == usual
    kept.give_back(again)
    other = kept.take(chromium, options | {"has_touch": True})
    assert other.page is not page
    kept.give_back(other)
    kept.close()


def test_a_page_that_a_test_closed_is_opened_anew(chromium: Browser, live_server) -> None:
    kept = KeptPages()
    options = {"base_url": live_server.url}
    used = kept.take(chromium, options)
    used.page.close()
    kept.give_back(used)
    again = kept.take(chromium, options)
    assert again.page is not used.page
    again.context.close()
